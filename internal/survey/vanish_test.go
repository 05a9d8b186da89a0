package survey_test

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"strings"
	"syscall"
	"testing"
	"testing/iotest"

	"tracemap/internal/survey"
)

// An input that is gone, cannot be read on, or has shrunk after it was looked at:
// the first two are one error that names it, for half a log must not pass for a
// whole one; a shorter one is what it is now.
func TestInputThatChangesBelowTheReader(t *testing.T) {
	log, rows := demo(t)
	head := func(s string) string { return s[:len(s)/2] }
	for name, second := range map[string]func() (io.ReadCloser, error){
		"vanished": func() (io.ReadCloser, error) { return nil, &fs.PathError{Op: "open", Path: "n", Err: fs.ErrNotExist} },
		"broken off by the device": func() (io.ReadCloser, error) {
			return io.NopCloser(io.MultiReader(strings.NewReader(head(log)), iotest.ErrReader(syscall.EIO))), nil
		},
		"shrunk":  func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(head(log))), nil },
		"emptied": func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(nil)), nil },
	} {
		t.Run(name, func(t *testing.T) {
			opened := 0
			changing := survey.Source{Name: "n", Open: func() (io.ReadCloser, error) {
				if opened++; opened == 1 {
					return io.NopCloser(strings.NewReader(log)), nil
				}
				return second()
			}}
			in, err := survey.Open(t.Context(), []survey.Source{changing, source("r", rows)})
			if err != nil {
				t.Fatal(err)
			}
			day, err := survey.Run(t.Context(), in, survey.DefaultOptions())
			switch name {
			case "shrunk":
				if err != nil || day.Map().Summary.Readings.Placed == 0 {
					t.Errorf("half a log is a shorter log: %v", err)
				}
			case "emptied":
				if !errors.Is(err, survey.ErrNoMap) {
					t.Errorf("an emptied log: %v", err)
				}
			default:
				if err == nil || errors.Is(err, survey.ErrNoMap) || !strings.Contains(err.Error(), "n: ") && !strings.Contains(err.Error(), "n ") || strings.Contains(err.Error(), "\n") {
					t.Errorf("error %q, want one line that names the input", err)
				}
			}
		})
	}
}
