package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// resultName is the folder of a revision's files.
func (s *Store) resultName(day int64, number int) string {
	return filepath.Join(s.dir, "results", fmt.Sprintf("%d-%d", day, number))
}

// Result writes a revision's files: fill gets an empty folder, which appears
// under its final name whole, on the disk, or not at all.
func (s *Store) Result(day int64, number int, fill func(dir string) error) (err error) {
	final := s.resultName(day, number)
	part := final + ".part"
	if err := os.RemoveAll(part); err != nil {
		return err
	}
	if err := os.Mkdir(part, 0o700); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(part))
		}
	}()
	if err := fill(part); err != nil {
		return err
	}
	if err := syncTree(part); err != nil {
		return err
	}
	if err := os.RemoveAll(final); err != nil { // of a run that was killed before its state was written
		return err
	}
	if err := os.Rename(part, final); err != nil {
		return err
	}
	return syncDir(filepath.Dir(final))
}

// ResultDir is the folder of a revision's result, for what opens files by path.
func (s *Store) ResultDir(day int64, number int) (string, error) {
	name := s.resultName(day, number)
	_, err := os.Stat(name)
	return name, missing(err)
}

// OpenResult opens a file of a revision's result. The name is one that the
// caller knows, never one that a stranger gave.
func (s *Store) OpenResult(day int64, number int, name string) (*os.File, error) {
	root, err := os.OpenRoot(s.resultName(day, number))
	if err != nil {
		return nil, missing(err)
	}
	defer root.Close()
	f, err := root.Open(name)
	return f, missing(err)
}

// ResultFiles lists the files of a revision's result with their sizes.
func (s *Store) ResultFiles(day int64, number int) ([]os.FileInfo, error) {
	entries, err := os.ReadDir(s.resultName(day, number))
	if err != nil {
		return nil, missing(err)
	}
	var out []os.FileInfo
	for _, e := range entries {
		info, err := e.Info()
		if err != nil {
			return nil, err
		}
		out = append(out, info)
	}
	return out, nil
}

func missing(err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return ErrNotFound
	}
	return err
}

// syncTree brings the files of a flat folder, and the folder, to the disk.
func syncTree(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if err := syncFile(filepath.Join(dir, e.Name())); err != nil {
			return err
		}
	}
	return syncDir(dir)
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Scratch makes a folder for what is sent and not kept; its caller removes it,
// and the next Open what a killed process left.
func (s *Store) Scratch() (string, error) {
	return os.MkdirTemp(filepath.Join(s.dir, "incoming"), "scratch-*")
}
