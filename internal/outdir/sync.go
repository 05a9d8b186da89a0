package outdir

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"syscall"

	"tracemap/internal/parallel"
)

// syncTree brings every file and folder under dir to the disk, files side by
// side because each waits for the disk on its own.
func syncTree(dir string) error {
	var mu sync.Mutex
	var errs []error
	wg := parallel.Group{Part: "bringing files to the disk"}
	walk := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if !e.IsDir() && !e.Type().IsRegular() {
			return nil
		}
		wg.Go(func() {
			var err error
			if e.IsDir() {
				err = syncDir(path)
			} else {
				err = syncFile(path)
			}
			mu.Lock()
			errs = append(errs, err)
			mu.Unlock()
		})
		return nil
	})
	wg.Wait()
	return errors.Join(append(errs, walk)...)
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}

// syncDir makes a rename in dir last. Systems and file systems that cannot
// sync a folder lose nothing but that.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(dir)
	if err != nil {
		return nil // a folder may be writable and not readable
	}
	defer f.Close()
	if err := f.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}
