//go:build linux || darwin || freebsd

package store

import (
	"errors"
	"os"
	"syscall"
)

// syncDir brings the names in a folder to the disk.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// Free is the room left for the data folder, bytes.
func (s *Store) Free() (int64, error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(s.dir, &st); err != nil {
		return 0, err
	}
	return int64(st.Bavail) * int64(st.Bsize), nil
}
