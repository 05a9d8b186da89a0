package store_test

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"tracemap/internal/store"
)

// A comparison is there whole or not at all, its record is no loose file any more,
// and a backup holds it.
func TestComparisons(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	sum := put(t, s, "record").SHA256
	day, err := s.NewDay(t.Context(), "x", "kim", []store.File{{Original: put(t, s, "log"), Name: "day.nmea"}}, json.RawMessage(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	c := store.Comparison{Day: day.ID, Revision: 1, Record: sum, Name: "record.csv", Settings: json.RawMessage(`{}`), CreatedBy: "kim"}
	broken := errors.New("broken")
	if _, err := s.NewComparison(t.Context(), c, func(string) (json.RawMessage, error) { return nil, broken }); !errors.Is(err, broken) {
		t.Errorf("a comparison that fails: %v", err)
	}
	made, err := s.NewComparison(t.Context(), c, func(to string) (json.RawMessage, error) {
		return json.RawMessage(`{"verdict":"agrees"}`), os.WriteFile(filepath.Join(to, "comparison.json"), []byte("{}"), 0o600)
	})
	if err != nil {
		t.Fatal(err)
	}
	list, err := s.Comparisons(t.Context(), day.ID)
	if err != nil || len(list) != 1 || list[0].ID != made.ID || string(list[0].Outcome) != `{"verdict":"agrees"}` || list[0].CreatedBy != "kim" {
		t.Errorf("comparisons %+v, %v", list, err)
	}
	f, err := s.OpenComparison(made.ID, "comparison.json")
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	for _, name := range []string{"../1-1", "nothing"} {
		if _, err := s.OpenComparison(made.ID, name); err == nil {
			t.Errorf("%s was opened", name)
		}
	}
	if loose, err := s.Loose(t.Context()); err != nil || len(loose) != 0 {
		t.Errorf("loose %+v, %v: the record belongs to a comparison", loose, err)
	}
	left, _ := filepath.Glob(filepath.Join(dir, "results", "*.part"))
	if len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
	to := filepath.Join(t.TempDir(), "backup")
	if _, err := s.Backup(t.Context(), to); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(to, "results", "comparison-1", "comparison.json")); err != nil {
		t.Errorf("the backup lacks the comparison: %v", err)
	}
}
