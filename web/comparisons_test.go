package web_test

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"tracemap/compare"
	"tracemap/internal/store"
)

// compared sends a record and holds revision 1 of day 1 against it.
func (o *office) compared(name string, record []byte, settings object) (int, []byte) {
	o.t.Helper()
	var u uploaded
	if code := o.ask("POST", "/api/v1/records?name="+name, record, &u); code != 200 && code != 201 {
		o.t.Fatalf("record: status %d", code)
	}
	var b []byte
	code := o.ask("POST", "/api/v1/days/1/revisions/1/comparisons", object{"record": u.Original.SHA256, "name": name, "settings": settings}, &b)
	return code, b
}

// The page's comparison is the command's: the same file from the same lines and
// record, but for the names of both.
func TestComparison(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	code, b := o.compared("as-built.geojson", demo(t, "as-built.geojson"), object{"tolerance_m": 0.3, "as_built_accuracy_m": 0.1})
	if code != 201 {
		t.Fatalf("status %d: %s", code, b)
	}
	var made struct {
		ID      int64
		Name    string
		Outcome struct {
			Verdict         string
			Differs, Agrees int
			NotLocated      int     `json:"not_located"`
			Largest         float64 `json:"largest_m"`
			NotInRecord     int     `json:"not_in_record"`
			Inconclusive    int
			Shifted         bool
		}
	}
	if err := json.Unmarshal(b, &made); err != nil {
		t.Fatal(err)
	}
	// The same by the package, from the files that the page gives.
	dir := t.TempDir()
	for _, name := range []string{"lines.geojson", "corridors.geojson", "readings.geojson", "lines.csv", "vertices.csv", "readings.csv", "map.gpkg", "summary.json"} {
		var file []byte
		o.ask("GET", "/api/v1/days/1/revisions/1/files/"+name, nil, &file)
		if err := os.WriteFile(filepath.Join(dir, name), file, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	record := filepath.Join(t.TempDir(), "as-built.geojson")
	if err := os.WriteFile(record, demo(t, "as-built.geojson"), 0o600); err != nil {
		t.Fatal(err)
	}
	opt := compare.DefaultOptions()
	opt.Tolerance, opt.Accuracy = 0.3, 0.1
	want, err := compare.Run(t.Context(), dir, record, opt)
	if err != nil {
		t.Fatal(err)
	}
	if made.Outcome.Verdict != want.Verdict.String() || made.Outcome.Differs != want.Counts[compare.Differs] || made.Outcome.Agrees != want.Counts[compare.Agrees] || made.Outcome.NotLocated != len(want.NotLocated) || made.Name != "as-built.geojson" {
		t.Errorf("outcome %+v, the package says %v %v", made.Outcome, want.Verdict, want.Counts)
	}
	var got struct {
		Result struct {
			Pairs []struct {
				AsBuiltID string `json:"as_built_id"`
				Lateral   struct {
					Max float64 `json:"max_m"`
				}
			}
			AsBuilt struct{ File string } `json:"as_built"`
		}
	}
	o.ask("GET", "/api/v1/comparisons/1", nil, &got)
	if len(got.Result.Pairs) != len(want.Pairs) || len(want.Pairs) == 0 || got.Result.AsBuilt.File != "as-built.geojson" {
		t.Fatalf("%d pairs of %q, want %d", len(got.Result.Pairs), got.Result.AsBuilt.File, len(want.Pairs))
	}
	for i, p := range got.Result.Pairs {
		if d := p.Lateral.Max - want.Pairs[i].Lateral.Max; p.AsBuiltID != want.Pairs[i].AsBuiltID || d > 0.001 || d < -0.001 {
			t.Errorf("pair %d: %+v, want %s %.3f", i, p, want.Pairs[i].AsBuiltID, want.Pairs[i].Lateral.Max)
		}
	}
	for _, name := range []string{"comparison.html", "comparison.json", "deviations.csv", "deviations.geojson", "comparison.kml"} {
		var file []byte
		if code := o.ask("GET", "/api/v1/comparisons/1/files/"+name, nil, &file); code != 200 || len(file) < 100 {
			t.Errorf("%s: status %d, %d bytes", name, code, len(file))
		}
	}
	for _, path := range []string{"/api/v1/comparisons/1/files/..%2ftoken", "/api/v1/comparisons/1/files/view.json", "/api/v1/comparisons/2", "/api/v1/days/9/comparisons"} {
		if code := o.ask("GET", path, nil, nil); code != 404 {
			t.Errorf("%s: status %d", path, code)
		}
	}
	var list struct{ Comparisons []any }
	if o.ask("GET", "/api/v1/days/1/comparisons", nil, &list); len(list.Comparisons) != 1 {
		t.Errorf("%d comparisons", len(list.Comparisons))
	}
}

// A record that cannot be read, or settings that make no sense, are refused in
// words of the page: no flag, no path, no hash.
func TestComparisonRefuses(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	for _, c := range []struct {
		name     string
		record   []byte
		settings object
		want     string
	}{
		{"photo.jpg", []byte("\xff\xd8\xff\xe0\x00\x10JFIF"), nil, "photo.jpg"},
		{"far.csv", []byte("id,wkt\n1,\"LINESTRING(500000 5000000, 500100 5000100)\"\n"), nil, "coordinate system"},
		{"as-built.geojson", demo(t, "as-built.geojson"), object{"tolerance_m": -1}, "the tolerance"},
		{"as-built.geojson", demo(t, "as-built.geojson"), object{"as_built_crs": "EPSG:1"}, "EPSG:1"},
		{"as-built.geojson", demo(t, "as-built.geojson"), object{"depth_to": "lid"}, "no point of a pipe"},
		{"as-built.geojson", demo(t, "as-built.geojson"), object{"id_field": "nonsense"}, "nonsense"},
	} {
		code, b := o.compared(c.name, c.record, c.settings)
		text := string(b)
		if code != 422 || !strings.Contains(text, c.want) || strings.Contains(text, "--") || strings.Contains(text, o.dir) || strings.Contains(text, "originals/") {
			t.Errorf("%s %v: status %d: %s", c.name, c.settings, code, text)
		}
	}
	if code := o.ask("POST", "/api/v1/days/1/revisions/1/comparisons", object{"record": strings.Repeat("0", 64), "settings": object{}}, nil); code != 422 {
		t.Errorf("a record that was never sent: status %d", code)
	}
	if left, _ := filepath.Glob(filepath.Join(o.dir, "results", "comparison*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// Who saves a file of a comparison is written down, as for a day's files; who looks
// at its page is not.
func TestComparisonTaken(t *testing.T) {
	m := newTeam(t, nil)
	ctx := t.Context()
	o, _, err := m.store.Put(ctx, strings.NewReader("record"), "a", "engineer", func(func() (io.ReadCloser, error), int64) (store.Look, error) { return store.Look{}, nil })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.store.NewDay(ctx, "day", "locator", []store.File{{Original: o, Name: "a"}}, json.RawMessage(`{}`)); err != nil {
		t.Fatal(err)
	}
	files := []string{"comparison.html", "deviations.csv"}
	_, err = m.store.NewComparison(ctx, store.Comparison{Day: 1, Revision: 1, Record: o.SHA256, Settings: json.RawMessage(`{}`), CreatedBy: "engineer"}, func(dir string) (json.RawMessage, error) {
		for _, name := range files {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(name), 0o600); err != nil {
				return nil, err
			}
		}
		return json.RawMessage(`{}`), nil
	})
	if err != nil {
		t.Fatal(err)
	}
	b := m.as(store.Engineer)
	var want []string
	for _, c := range []struct{ name, query, saved string }{
		{"comparison.html", "", ""}, {"comparison.html", "?save=1", "comparison.html"}, {"deviations.csv", "", "deviations.csv"},
	} {
		if code, text := b.ask("GET", "/api/v1/comparisons/1/files/"+c.name+c.query, nil); code != 200 || text != c.name {
			t.Errorf("%s%s: %d %s", c.name, c.query, code, text)
		}
		if c.saved != "" {
			want = append(want, "engineer took away comparison 1: "+c.saved)
		}
	}
	list, err := m.store.Audit(ctx, 1<<60, 100)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range slices.Backward(list) {
		if e.Did == "took away" {
			got = append(got, fmt.Sprintf("%s %s %s: %s", e.Who, e.Did, e.About, e.Detail))
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("the audit log has %q, want %q", got, want)
	}
}
