package export_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/result"
)

// A writer that panics is an error of that format: the caller takes the folder
// away, and the others are not cut off within a file.
func TestWriterThatPanics(t *testing.T) {
	broken := func(context.Context, string, *result.Map, export.Options) error { panic("index out of range") }
	failing := func(context.Context, string, *result.Map, export.Options) error { return errors.New("disk full") }
	err := export.Write(t.Context(), t.TempDir(), &result.Map{}, []export.Format{{Name: "one", Write: broken}, {Name: "two", Write: failing}}, export.Options{})
	if err == nil || !strings.Contains(err.Error(), "writing one failed by a defect of tracemap: index out of range") || !strings.Contains(err.Error(), "write two: disk full") {
		t.Errorf("%v", err)
	}
}
