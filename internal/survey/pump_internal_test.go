package survey

import (
	"errors"
	"io"
	"strings"
	"testing"

	"tracemap/internal/parallel"
)

// A defect while a source is read in the background is the error of its reader.
func TestFaultOfAPump(t *testing.T) {
	defer parallel.Break("reading a source")()
	p := newPump(t.Context(), func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader("$GNGGA")), nil })
	_, err := io.ReadAll(p)
	var f *parallel.Fault
	if !errors.As(err, &f) || f.Part != "reading a source" {
		t.Errorf("error %v", err)
	}
}
