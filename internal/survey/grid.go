package survey

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"tracemap/geodesy"
)

// maxGridFile bounds what is read of a correction grid, bytes; the largest that is
// published has 130 MB.
const maxGridFile = 512 << 20

// ReadGrid reads a correction grid of the format NTv2 from a file; nil for no
// name.
func ReadGrid(path string) (*geodesy.ShiftGrid, error) {
	if path == "" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("correction grid: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxGridFile+1))
	if err != nil {
		return nil, fmt.Errorf("correction grid %s: %w", path, err)
	}
	if len(data) > maxGridFile {
		return nil, fmt.Errorf("correction grid %s: is larger than %d MB", path, maxGridFile>>20)
	}
	return geodesy.ReadShiftGrid(filepath.Base(path), data)
}
