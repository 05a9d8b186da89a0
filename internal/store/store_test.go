package store_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"tracemap/internal/store"
)

var start = time.Date(2031, 5, 6, 7, 0, 0, 0, time.UTC)

func open(t *testing.T, dir string) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), dir, func() time.Time { return start })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func look(open func() (io.ReadCloser, error), size int64) (store.Look, error) {
	return store.Look{Kind: "nmea", Rows: int(size)}, nil
}

func put(t *testing.T, s *store.Store, text string) store.Original {
	t.Helper()
	o, _, err := s.Put(t.Context(), strings.NewReader(text), "a.nmea", "ann", look)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func TestSameBytesAreKeptOnce(t *testing.T) {
	s := open(t, t.TempDir())
	o, known, err := s.Put(t.Context(), strings.NewReader("log"), "a.nmea", "ann", look)
	sum := sha256.Sum256([]byte("log"))
	if err != nil || known || o.SHA256 != hex.EncodeToString(sum[:]) || o.Size != 3 {
		t.Fatalf("Put = %+v, %v, %v", o, known, err)
	}
	again, known, err := s.Put(t.Context(), strings.NewReader("log"), "other name.txt", "bob", look)
	if err != nil || !known || again != o {
		t.Errorf("same bytes: %+v, %v, %v; want the first, known", again, known, err)
	}
	f, _, err := s.OpenOriginal(t.Context(), o.SHA256)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got, err := io.ReadAll(f); err != nil || string(got) != "log" {
		t.Errorf("bytes = %q, %v", got, err)
	}
}

// Many senders of the same bytes at once: one original, no error.
func TestSameBytesAtOnce(t *testing.T) {
	s := open(t, t.TempDir())
	var wait sync.WaitGroup
	fresh := make(chan bool, 20)
	for range 20 {
		wait.Go(func() {
			_, known, err := s.Put(context.Background(), strings.NewReader("log"), "a", "ann", look)
			if err != nil {
				t.Error(err)
			}
			fresh <- !known
		})
	}
	wait.Wait()
	close(fresh)
	n := 0
	for f := range fresh {
		if f {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d were told that their bytes are new, want 1", n)
	}
}

type cut struct{ r io.Reader }

func (c cut) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return n, err
}

func TestCutOffUploadLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	if _, _, err := s.Put(t.Context(), cut{strings.NewReader("half")}, "a", "ann", look); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("error %v", err)
	}
	left, err := filepath.Glob(filepath.Join(dir, "*", "*", "*"))
	more, err2 := filepath.Glob(filepath.Join(dir, "incoming", "*"))
	if err != nil || err2 != nil || len(left)+len(more) != 0 {
		t.Errorf("left behind: %v %v", left, more)
	}
}

func TestRevisionsAreNeverOverwritten(t *testing.T) {
	s := open(t, t.TempDir())
	o := put(t, s, "log")
	d, err := s.NewDay(t.Context(), "Mill Lane", "ann", []store.File{{Original: o, Name: "day.nmea"}}, json.RawMessage(`{"a":1}`))
	if err != nil || d.Latest.Number != 1 || d.Latest.State != store.Waiting || len(d.Files) != 1 || d.Files[0].Name != "day.nmea" {
		t.Fatalf("NewDay = %+v, %v", d, err)
	}
	if id, err := s.SameFiles(t.Context(), []string{o.SHA256}); id != d.ID || err != nil {
		t.Errorf("SameFiles = %d, %v", id, err)
	}
	if _, err := s.NewRevision(t.Context(), d.ID, 1, json.RawMessage(`{"a":2}`), "antenna", "ann"); err != nil {
		t.Fatal(err)
	}
	// Another person still looks at revision 1.
	if _, err := s.NewRevision(t.Context(), d.ID, 1, json.RawMessage(`{"a":3}`), "scheme", "bob"); !errors.Is(err, store.ErrStale) {
		t.Errorf("second change from revision 1: %v, want ErrStale", err)
	}
	all, err := s.Revisions(t.Context(), d.ID)
	if err != nil || len(all) != 2 || string(all[1].Settings) != `{"a":1}` || string(all[0].Settings) != `{"a":2}` {
		t.Errorf("Revisions = %+v, %v", all, err)
	}
}

func TestLockedRevisionStays(t *testing.T) {
	s := open(t, t.TempDir())
	d, err := s.NewDay(t.Context(), "Mill Lane", "ann", []store.File{{Original: put(t, s, "log")}}, json.RawMessage(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Lock(t.Context(), d.ID, 1, "ann", json.RawMessage(`{}`)); err == nil {
		t.Error("a revision that is not computed was locked")
	}
	r, err := s.Take(t.Context())
	if err != nil || r.State != store.Computing {
		t.Fatalf("Take = %+v, %v", r, err)
	}
	if err := s.Finish(t.Context(), r, store.Done, "", json.RawMessage(`{}`)); err != nil {
		t.Fatal(err)
	}
	if err := s.Lock(t.Context(), d.ID, 1, "ann", json.RawMessage(`{"notes":"x"}`)); err != nil {
		t.Fatal(err)
	}
	if err := s.Lock(t.Context(), d.ID, 1, "bob", json.RawMessage(`{}`)); !errors.Is(err, store.ErrLocked) {
		t.Errorf("second hand-over: %v, want ErrLocked", err)
	}
	if _, err := s.NewRevision(t.Context(), d.ID, 1, json.RawMessage(`{}`), "reopened", "bob"); err != nil {
		t.Errorf("reopening as a new revision: %v", err)
	}
	if r, err = s.Revision(t.Context(), d.ID, 1); err != nil || string(r.Locked) != `{"notes":"x"}` {
		t.Errorf("revision 1 = %+v, %v", r, err)
	}
}

func TestKilledWorkWaitsAgain(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	d, err := s.NewDay(t.Context(), "Mill Lane", "ann", []store.File{{Original: put(t, s, "log")}}, json.RawMessage(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Take(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "incoming", "log-1"), []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(t.Context(), dir, time.Now); !errors.Is(err, store.ErrInUse) {
		t.Errorf("second process: %v, want ErrInUse", err)
	}
	s.Close()
	s = open(t, dir)
	if r, err := s.Take(t.Context()); err != nil || r.Day != d.ID {
		t.Errorf("Take after the kill = %+v, %v", r, err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "incoming", "*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// What kills the server each time it is computed is tried twice and not again, and
// does not keep what waits behind it from being computed. A server that ends in order
// gives its work back: that is no try.
func TestWorkThatKillsIsNotTriedForEver(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	var days []int64
	for range 2 {
		d, err := s.NewDay(t.Context(), "Mill Lane", "ann", []store.File{{Original: put(t, s, "log")}}, json.RawMessage(`{}`))
		if err != nil {
			t.Fatal(err)
		}
		days = append(days, d.ID)
	}
	for range 3 {
		r, err := s.Take(t.Context())
		if err != nil || r.Day != days[0] {
			t.Fatalf("Take = %+v, %v", r, err)
		}
		if err := s.GiveBack(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
	for range 2 {
		if r, err := s.Take(t.Context()); err != nil || r.Day != days[0] {
			t.Fatalf("Take = %+v, %v", r, err)
		}
		s.Close() // as a process that dies
		s = open(t, dir)
	}
	if r, err := s.Revision(t.Context(), days[0], 1); err != nil || r.State != store.Failed || !strings.Contains(r.Message, "broke off 2 times") {
		t.Errorf("revision %+v, %v", r, err)
	}
	if r, err := s.Take(t.Context()); err != nil || r.Day != days[1] {
		t.Errorf("Take = %+v, %v; want the day behind it", r, err)
	}
}

func TestNewerFolderIsRefused(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	if err := s.SetForm(99); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if _, err := store.Open(t.Context(), dir, time.Now); err == nil || !strings.Contains(err.Error(), "newer tracemap") {
		t.Errorf("error %v", err)
	}
}

func TestResultAppearsWholeOrNotAtAll(t *testing.T) {
	s := open(t, t.TempDir())
	boom := errors.New("boom")
	err := s.Result(1, 1, func(dir string) error {
		return errors.Join(os.WriteFile(filepath.Join(dir, "map.kml"), []byte("x"), 0o600), boom)
	})
	if !errors.Is(err, boom) {
		t.Errorf("error %v", err)
	}
	if _, err := s.OpenResult(1, 1, "map.kml"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("after a failure: %v, want ErrNotFound", err)
	}
	if err := s.Result(1, 1, func(dir string) error { return os.WriteFile(filepath.Join(dir, "map.kml"), []byte("x"), 0o600) }); err != nil {
		t.Fatal(err)
	}
	f, err := s.OpenResult(1, 1, "map.kml")
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	if _, err := s.OpenResult(1, 1, "../../tracemap.sqlite"); err == nil {
		t.Error("a name led out of the folder")
	}
}

// Results made before their sizes were counted are measured when the folder is
// opened.
func TestOldResultsAreMeasured(t *testing.T) {
	dir := t.TempDir()
	if err := store.OldFolder(dir); err != nil {
		t.Fatal(err)
	}
	result := filepath.Join(dir, "results", "1-1")
	if err := errors.Join(os.MkdirAll(result, 0o700), os.WriteFile(filepath.Join(result, "map.kml"), make([]byte, 1234), 0o600)); err != nil {
		t.Fatal(err)
	}
	if u, err := open(t, dir).Used(t.Context(), "ann"); err != nil || u != (store.Usage{All: 1237, Own: 1237, Count: 1}) {
		t.Errorf("%+v, %v; want the log's 3 bytes and the result's 1234", u, err)
	}
}
