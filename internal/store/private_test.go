package store_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"tracemap/internal/store"
)

// othersCan lists what below a folder other users of the machine could read or
// enter, the folder included.
func othersCan(t *testing.T, dir string) (names []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			names = append(names, name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

// A folder made beforehand, as a mount point is, and files of an older version
// that everybody can read are closed to other users, and that is said.
func TestFolderIsItsOwnersAlone(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows keeps permissions otherwise")
	}
	dir, backup := filepath.Join(t.TempDir(), "data"), filepath.Join(t.TempDir(), "backup")
	for _, d := range []string{dir, backup} {
		if err := os.Mkdir(d, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(d, 0o755); err != nil { // whatever the mask
			t.Fatal(err)
		}
	}
	s := open(t, dir)
	put(t, s, "log")
	if len(s.Mended) != 1 || !strings.Contains(s.Mended[0], dir) {
		t.Errorf("Mended = %q, want the folder", s.Mended)
	}
	if got := othersCan(t, dir); len(got) > 0 {
		t.Errorf("others can read %q", got)
	}
	rep, err := s.Backup(t.Context(), backup)
	if err != nil || len(rep.Mended) != 1 {
		t.Errorf("Backup: mended %q, %v; want the folder", rep.Mended, err)
	}
	if got := othersCan(t, backup); len(got) > 0 {
		t.Errorf("others can read %q of the backup", got)
	}
	s.Close()
	if err := os.Chmod(filepath.Join(dir, "tracemap.sqlite"), 0o644); err != nil {
		t.Fatal(err)
	}
	if s = open(t, dir); len(s.Mended) != 1 || !strings.Contains(s.Mended[0], "tracemap.sqlite") {
		t.Errorf("Mended = %q, want the database", s.Mended)
	}
	if got := othersCan(t, dir); len(got) > 0 {
		t.Errorf("others can read %q", got)
	}
}

// A folder whose name holds the signs of a pattern is cleaned at the start, and no
// other folder is.
func TestCleaningStaysInItsFolder(t *testing.T) {
	parent := t.TempDir()
	other := open(t, filepath.Join(parent, "site1"))
	theirs := filepath.Join(parent, "site1", "incoming", "log-under-way")
	if err := os.WriteFile(theirs, []byte("bytes"), 0o600); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(parent, "site[1]")
	open(t, dir).Close()
	for _, name := range []string{"incoming/log-1", "results/7-1.part"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("bytes"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	open(t, dir)
	for _, name := range []string{"incoming/log-1", "results/7-1.part"} {
		if _, err := os.Stat(filepath.Join(dir, name)); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s is still there: %v", name, err)
		}
	}
	if _, err := os.Stat(theirs); err != nil {
		t.Errorf("the other folder lost a file: %v", err)
	}
	other.Close()
}

// A process killed between an upload's file and its row leaves a claim; the next
// start removes the file that no row names, and none that one names.
func TestKilledUploadLeavesNoFile(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	kept := put(t, s, "kept")
	s.Close()
	sum := strings.Repeat("ab", 32)
	orphan := filepath.Join(dir, "originals", sum[:2], sum)
	if err := os.MkdirAll(filepath.Dir(orphan), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{orphan: "never acknowledged", filepath.Join(dir, "incoming", sum+".claim-1"): "", filepath.Join(dir, "incoming", kept.SHA256+".claim-2"): ""} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s = open(t, dir)
	if _, err := os.Stat(orphan); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the file without a row is still there: %v", err)
	}
	f, _, err := s.OpenOriginal(t.Context(), kept.SHA256)
	if err != nil {
		t.Fatalf("the acknowledged file: %v", err)
	}
	f.Close()
	if left, err := os.ReadDir(filepath.Join(dir, "incoming")); err != nil || len(left) > 0 {
		t.Errorf("left in incoming: %v, %v", left, err)
	}
}

// The audit log's entry of an upload comes with its row or not at all.
func TestUploadAndItsEntryAreOne(t *testing.T) {
	s := open(t, t.TempDir())
	refuse := errors.New("no longer allowed")
	ctx := store.WithRight(t.Context(), func(*store.Present) error { return refuse })
	if _, _, err := s.Put(ctx, strings.NewReader("log"), "a.nmea", "ann", look); !errors.Is(err, refuse) {
		t.Errorf("Put = %v, want %v", err, refuse)
	}
	if list, err := s.Loose(t.Context()); err != nil || len(list) > 0 {
		t.Errorf("kept although refused: %v, %v", list, err)
	}
	o := put(t, s, "log")
	list, err := s.Audit(t.Context(), 1<<62, 10)
	if err != nil || len(list) != 1 || list[0].Did != "uploaded" || list[0].About != o.SHA256 {
		t.Errorf("audit log: %+v, %v; want the one upload", list, err)
	}
}

// A password longer than any is refused after as much work as any other: the time
// of an answer says nothing. The work is counted, not timed.
func TestEachTryCostsTheSame(t *testing.T) {
	s := open(t, t.TempDir())
	if err := s.NewAccount(t.Context(), "ann", "bob", store.Engineer, "correct horse battery"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ what, name, password string }{
		{"right", "bob", "correct horse battery"}, {"wrong", "bob", "wrong horse battery"}, {"nobody", "eve", "wrong horse battery"}, {"endless", "bob", strings.Repeat("x", 1<<20)},
	} {
		before := store.Hashed()
		_, err := s.CheckEntry(t.Context(), c.name, c.password)
		if (err == nil) != (c.what == "right") {
			t.Errorf("%s: %v", c.what, err)
		}
		if n := store.Hashed() - before; n != 1 {
			t.Errorf("%s: %d passwords hashed, want 1", c.what, n)
		}
	}
}
