package newfile_test

import (
	"bufio"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/internal/newfile"
)

// What is written is there whole, more than a buffer of it too, and a second writer
// of the name is refused without a byte changed.
func TestWrite(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a")
	text := strings.Repeat("0123456789", 20_000)
	err := newfile.Write(name, func(w *bufio.Writer) error {
		_, err := w.WriteString(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	err = newfile.Write(name, func(w *bufio.Writer) error { return w.WriteByte('x') })
	if !errors.Is(err, fs.ErrExist) {
		t.Errorf("second writer: %v", err)
	}
	if got, err := os.ReadFile(name); err != nil || string(got) != text {
		t.Errorf("%d bytes, %v; want the first writer's %d", len(got), err, len(text))
	}
}

// What goes wrong while filling is told.
func TestWriteTellsTheFirstError(t *testing.T) {
	wrong := errors.New("no such shape")
	if err := newfile.Write(filepath.Join(t.TempDir(), "a"), func(*bufio.Writer) error { return wrong }); !errors.Is(err, wrong) {
		t.Errorf("%v, want %v", err, wrong)
	}
}
