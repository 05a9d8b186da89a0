package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// privateDir makes a folder that only its owner may enter. A folder that was
// there before, as a mount point is, is closed to others: it is about to hold
// passwords' hashes and customers' sites. It returns what it mended, "" for
// nothing.
func privateDir(dir string) (mended string, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", err
	}
	return private(dir, 0o700)
}

// private takes a file's or folder's permissions from everybody but its owner.
// Windows keeps permissions otherwise: there a folder's are those of its parent.
func private(name string, mode os.FileMode) (mended string, err error) {
	if runtime.GOOS == "windows" {
		return "", nil
	}
	info, err := os.Stat(name)
	if err != nil {
		return "", err
	}
	if info.Mode().Perm()&0o077 == 0 {
		return "", nil
	}
	if err := os.Chmod(name, mode); err != nil {
		return "", fmt.Errorf("other users of this machine can read %s, and that could not be changed: %w", name, err)
	}
	return fmt.Sprintf("other users of this machine could read %s (mode %#o): it is now its owner's alone (%#o)", name, info.Mode().Perm(), mode), nil
}

// privateFile makes an empty file that only its owner can read, or closes the
// one that is there: SQLite by itself makes files that everybody can read.
func privateFile(name string) (mended string, err error) {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_RDONLY, 0o600)
	if err != nil {
		return "", err
	}
	if err := f.Close(); err != nil {
		return "", err
	}
	return private(name, 0o600)
}

// privateAll makes the folders of a data folder and closes them, and the files in
// them that hold secrets, to other users. It returns what it mended.
func privateAll(dir string) (mended []string, err error) {
	add := func(m string, e error) {
		if m != "" {
			mended = append(mended, m)
		}
		err = errors.Join(err, e)
	}
	for _, d := range []string{dir, filepath.Join(dir, "originals"), filepath.Join(dir, "results"), filepath.Join(dir, "incoming")} {
		add(privateDir(d))
	}
	if err != nil {
		return mended, err
	}
	add(privateFile(filepath.Join(dir, "in-use.sqlite")))
	if m, e := private(filepath.Join(dir, "tracemap.sqlite"), 0o600); !errors.Is(e, fs.ErrNotExist) {
		add(m, e)
	}
	return mended, errors.Join(err, privateBeside(dir))
}

// privateBeside closes the files that SQLite keeps beside its databases while they
// are open. They are made in a folder that nobody else can enter.
func privateBeside(dir string) (err error) {
	for _, name := range []string{"tracemap.sqlite-wal", "tracemap.sqlite-shm", "in-use.sqlite-journal"} {
		if _, e := private(filepath.Join(dir, name), 0o600); !errors.Is(e, fs.ErrNotExist) {
			err = errors.Join(err, e)
		}
	}
	return err
}
