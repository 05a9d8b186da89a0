package record

import (
	"io"
	"os"
)

// A disk is where logs are written; tests have others that fill up or lose
// power.
type disk interface {
	// create makes a file that must not exist, and makes its name last.
	create(path string) (file, error)
	// free is the room on the disk that holds dir, in bytes.
	free(dir string) (int64, error)
}

type file interface {
	io.WriterAt
	Truncate(size int64) error
	Sync() error
	Close() error
}

// osDisk is the machine's.
type osDisk struct{}

func (osDisk) create(path string) (file, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, err
	}
	syncParent(path)
	return f, nil
}

func (osDisk) free(dir string) (int64, error) { return freeBytes(dir) }
