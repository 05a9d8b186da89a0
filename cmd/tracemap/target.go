package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"tracemap/internal/outdir"
)

// A target is where a result is to be written.
type target struct {
	path string
	opt  outdir.Options
}

// checkTarget refuses an output folder that cannot be written.
func checkTarget(c *console, dir target) error {
	for _, old := range outdir.Leftovers(dir.path) {
		c.warn(fmt.Sprintf("%s is no result: a run that was stopped left it behind, or one is at work; it may be removed when none is", old))
	}
	return hintTarget(outdir.Check(dir.path, dir.opt))
}

// hintTarget adds what to type instead.
func hintTarget(err error) error {
	switch {
	case errors.Is(err, outdir.ErrOnInput):
		return &hinted{err, "choose another folder"}
	case errors.Is(err, outdir.ErrExists):
		return &hinted{err, "add --overwrite to replace it, or choose another folder"}
	}
	return err
}

// hinted is an error with what to do about it.
type hinted struct {
	error
	hint string
}

func (h *hinted) Unwrap() error { return h.error }

// Hint is what to do about it.
func (h *hinted) Hint() string { return h.hint }

// write has a folder filled, and shows it whole or not at all.
func write(ctx context.Context, c *console, dir target, fill func(dir string) error) error {
	d, err := outdir.Create(dir.path, dir.opt)
	if err != nil {
		return hintTarget(err)
	}
	defer d.Discard()
	if err := fill(d.Path()); err != nil {
		return unwritten(err, d.Path(), dir.path)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	kept, err := d.Commit()
	if errors.Is(err, outdir.ErrExists) {
		return hintTarget(err)
	}
	if err != nil {
		return unwritten(err, d.Path(), dir.path)
	}
	if kept != "" {
		c.warn(fmt.Sprintf("the old %s held files that tracemap did not write: it is kept as %s", dir.path, kept))
	}
	return nil
}

// unwritten says that nothing was written. People know nothing of the hidden
// folder: its name is taken out. Only where the folder or its disk is at fault does
// another folder help.
func unwritten(err error, hidden, path string) error {
	text := strings.ReplaceAll(err.Error(), hidden+string(os.PathSeparator), "")
	text = strings.ReplaceAll(text, "\n", "; ")
	worded := &reworded{fmt.Sprintf("%s was not written: %s", path, text), err}
	var file *fs.PathError
	var rename *os.LinkError
	if errors.As(err, &file) || errors.As(err, &rename) {
		return &hinted{worded, "nothing was left behind; make room, or choose a folder elsewhere"}
	}
	return worded
}

// reworded is an error in other words.
type reworded struct {
	text string
	err  error
}

func (r *reworded) Error() string { return r.text }
func (r *reworded) Unwrap() error { return r.err }
