package outdir

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// The ways for systems without a single call must do the same as the call.
func TestRenameByBothWays(t *testing.T) {
	for _, c := range []struct {
		name      string
		renameNew func(from, to string) error
		exchange  func(a, b string) error
	}{
		{"system", renameNew, exchange},
		{"steps", renameNewInSteps, exchangeInSteps},
	} {
		t.Run(c.name, func(t *testing.T) {
			root := t.TempDir()
			a, b := filepath.Join(root, "a"), filepath.Join(root, "b")
			for _, dir := range []string{a, b} {
				if err := os.Mkdir(dir, 0o777); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.WriteFile(filepath.Join(a, "from-a"), nil, 0o666); err != nil {
				t.Fatal(err)
			}
			if err := c.renameNew(a, b); !errors.Is(err, fs.ErrExist) {
				t.Errorf("renameNew onto an empty folder = %v, want ErrExist", err)
			}
			if err := c.exchange(a, b); err != nil {
				t.Fatalf("exchange: %v", err)
			}
			if _, err := os.Stat(filepath.Join(b, "from-a")); err != nil {
				t.Errorf("after exchange: %v", err)
			}
			if err := c.renameNew(b, filepath.Join(root, "c")); err != nil {
				t.Errorf("renameNew to a free name: %v", err)
			}
			if err := c.exchange(filepath.Join(root, "gone"), a); err == nil {
				t.Error("exchange with a missing folder: no error")
			}
			if _, err := os.Stat(a); err != nil {
				t.Errorf("a failed exchange lost the old folder: %v", err)
			}
			if entries, _ := os.ReadDir(root); len(entries) != 2 {
				t.Errorf("left over: %v", entries)
			}
		})
	}
}
