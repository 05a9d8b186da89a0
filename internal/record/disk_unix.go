//go:build unix

package record

import (
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"
)

// freeBytes is what an ordinary user may still write.
func freeBytes(dir string) (int64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, err
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}

// syncParent makes a new file's name last. File systems that cannot do it lose
// nothing but that.
func syncParent(path string) {
	f, err := os.Open(filepath.Dir(path))
	if err != nil {
		return
	}
	defer f.Close()
	f.Sync()
}
