package store_test

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"tracemap/internal/store"
)

// tree gives the files below a folder with their bytes.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(rel)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// madeDay puts a log in, makes a day of it and computes it.
func madeDay(t *testing.T, s *store.Store, text string) store.Day {
	t.Helper()
	d, err := s.NewDay(t.Context(), text, "ann", []store.File{{Original: put(t, s, text), Name: "a.nmea"}}, json.RawMessage(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.Take(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	err = s.Result(r.Day, r.Number, func(dir string) error {
		return os.WriteFile(filepath.Join(dir, "map.kml"), []byte("map of "+text), 0o600)
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Finish(t.Context(), r, store.Done, "", json.RawMessage(`{"level":"good"}`)); err != nil {
		t.Fatal(err)
	}
	return d
}

// asJSON tells days and their revisions, to compare two folders.
func asJSON(t *testing.T, s *store.Store) string {
	t.Helper()
	days, err := s.Days(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(days)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// A folder is backed up while it is written to; what is restored is the same
// days, and their files byte for byte.
func TestBackupWhileServing(t *testing.T) {
	dir, to := t.TempDir(), filepath.Join(t.TempDir(), "copy")
	s := open(t, dir)
	madeDay(t, s, "first")
	before := asJSON(t, s)
	beside, err := store.OpenBeside(t.Context(), dir, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer beside.Close()
	stop := make(chan struct{})
	var wait sync.WaitGroup
	wait.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
				put(t, s, fmt.Sprint("meanwhile ", i))
			}
		}
	})
	rep, err := beside.Backup(t.Context(), to)
	close(stop)
	wait.Wait()
	if err != nil || rep.Originals < 1 || rep.Results != 1 || rep.Copied != rep.Originals+1 || len(rep.Damaged) > 0 {
		t.Fatalf("Backup = %+v, %v", rep, err)
	}
	restored := open(t, to)
	if got := asJSON(t, restored); got != before {
		t.Errorf("restored days\n%s\nwant\n%s", got, before)
	}
	want := tree(t, dir)
	for name, b := range tree(t, to) {
		if strings.HasPrefix(name, "originals/") || strings.HasPrefix(name, "results/") {
			if b != want[name] {
				t.Errorf("%s differs", name)
			}
		}
	}
	if f, err := restored.OpenResult(1, 1, "map.kml"); err != nil {
		t.Error(err)
	} else {
		f.Close()
	}
}

func TestSecondBackupCopiesWhatIsNew(t *testing.T) {
	dir, to := t.TempDir(), t.TempDir()
	s := open(t, dir)
	madeDay(t, s, "first")
	if _, err := s.NewSession(t.Context(), "nobody", "", ""); err == nil {
		t.Error("a session of no account")
	}
	if _, err := s.Backup(t.Context(), to); err != nil {
		t.Fatal(err)
	}
	d := madeDay(t, s, "second")
	_, err := s.NewComparison(t.Context(), store.Comparison{Day: d.ID, Revision: 1, Record: d.Files[0].SHA256, Settings: json.RawMessage(`{}`)}, func(dir string) (json.RawMessage, error) {
		return json.RawMessage(`{}`), os.WriteFile(filepath.Join(dir, "report.html"), []byte("compared"), 0o600)
	})
	if err != nil {
		t.Fatal(err)
	}
	rep, err := s.Backup(t.Context(), to)
	if err != nil || rep.Originals != 2 || rep.Results != 3 || rep.Copied != 3 {
		t.Errorf("second backup = %+v, %v; want 3 copied of 5", rep, err)
	}
	if b := tree(t, to)["results/comparison-1/report.html"]; b != "compared" {
		t.Errorf("the comparison is restored as %q", b)
	}
	other, later := open(t, t.TempDir()), start.Add(time.Hour)
	if err := other.Note(t.Context(), "una", "looked", later.String(), ""); err != nil {
		t.Fatal(err)
	}
	if _, err := other.Backup(t.Context(), to); err == nil || !strings.Contains(err.Error(), "another folder") {
		t.Errorf("another folder into the same backup: %v", err)
	}
	restored := open(t, to)
	if got, want := asJSON(t, restored), asJSON(t, s); got != want {
		t.Errorf("restored days\n%s\nwant\n%s", got, want)
	}
	if _, err := s.Backup(t.Context(), to); err == nil || !strings.Contains(err.Error(), "in use") {
		t.Errorf("into a folder that is served: %v", err)
	}
}

func TestBackupTellsDamage(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	madeDay(t, s, "first")
	o := put(t, s, "second")
	path := filepath.Join(dir, "originals", o.SHA256[:2], o.SHA256)
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("rotten"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(dir, "results", "1-1")); err != nil {
		t.Fatal(err)
	}
	rep, err := s.Backup(t.Context(), filepath.Join(t.TempDir(), "copy"))
	if err != nil || len(rep.Damaged) != 2 || !strings.Contains(rep.Damaged[0], o.SHA256) || rep.Damaged[1] != "results/1-1" {
		t.Errorf("Backup = %+v, %v; want the damaged original and the lost result told", rep, err)
	}
}

func TestBackupRefusesFolders(t *testing.T) {
	dir, other := t.TempDir(), t.TempDir()
	s := open(t, dir)
	if err := os.WriteFile(filepath.Join(other, "letter.txt"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for to, want := range map[string]string{dir: "lies in the data folder", filepath.Join(dir, "copy"): "lies in the data folder", other: "holds other files"} {
		if _, err := s.Backup(t.Context(), to); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("into %s: %v, want %q", to, err, want)
		}
	}
	if _, err := store.OpenBeside(t.Context(), other, time.Now); err == nil || !strings.Contains(err.Error(), "no data folder") {
		t.Errorf("OpenBeside of any folder: %v", err)
	}
}
