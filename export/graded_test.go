package export_test

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/fuse"
	"tracemap/grade"
	"tracemap/internal/lab/invented"
	"tracemap/result"
)

// graded is the invented day with classes asked for.
func graded(t *testing.T, name string) *result.Map {
	t.Helper()
	m := invented.Day(invented.Atlantic)
	s, err := grade.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	m.Scheme, m.Meta.Scheme = s, name
	return m
}

// field reads a number of a CSV row, NaN for a blank.
func field(t *testing.T, row map[string]string, name string) float64 {
	t.Helper()
	text, ok := row[name]
	if !ok {
		t.Fatalf("no column %s", name)
	}
	if text == "" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func same(a, b, tolerance float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= tolerance
}

// Each vertex is graded by its own width and depth as the file shows them, a part
// by its worst vertex, and the class stands beside its scheme everywhere.
func TestClasses(t *testing.T) {
	m := graded(t, "pas128")
	dir := write(t, m, format(t, "csv"), export.Options{})
	rank := map[string]int{"B2": 0, "B3": 1, "": 2}
	worst, seen := map[string]string{}, map[string]int{}
	_, vertices := table(t, dir, "vertices.csv")
	for _, r := range vertices {
		half, depth, bound := field(t, r, "half_width_m"), field(t, r, "depth_m"), field(t, r, "depth_95_m")
		want := ""
		switch passive := r["line_id"] == "ring"; {
		case half <= 0.25 && bound <= 0.4*depth && !passive:
			want = "B2"
		case half <= 0.5:
			want = "B3"
		}
		if r["class"] != want || r["scheme"] != "pas128" {
			t.Errorf("%s vertex %s, ±%v m, depth %v ± %v m: class %q (%s), want %q", r["line_id"], r["vertex"], half, depth, bound, r["class"], r["scheme"], want)
		}
		seen[want]++
		key := r["line_id"] + "/" + r["part"]
		if old, ok := worst[key]; !ok || rank[want] > rank[old] {
			worst[key] = want
		}
	}
	if len(seen) < 3 {
		t.Errorf("the day shows the classes %v only", seen)
	}
	_, lines := table(t, dir, "lines.csv")
	for _, r := range lines {
		if want := worst[r["line_id"]+"/"+r["part"]]; r["class"] != want || r["scheme"] != "pas128" {
			t.Errorf("%s: class %q (%s), want that of its worst vertex, %q", r["line_id"], r["class"], r["scheme"], want)
		}
	}
	_, rows := table(t, dir, "readings.csv")
	some := 0
	for _, r := range rows {
		if r["class"] != "" {
			some++
		}
		if r["class"] != "" && (r["placed"] != "true" || r["used"] != "true" || r["feature"] != "") {
			t.Errorf("row %s is suggested %s although it is a feature, was set aside or has no place", r["row"], r["class"])
		}
		if r["class"] == "B2" && (field(t, r, "radius_95_m") > 0.25 || r["depth_m"] == "") {
			t.Errorf("row %s, within %s m, depth %q: %s", r["row"], r["radius_95_m"], r["depth_m"], r["class"])
		}
	}
	if some < 20 {
		t.Errorf("%d readings are graded", some)
	}
}

// Cover is to the top, depth to the centre, and neither stands in for the other;
// heights above the ellipsoid and above the receiver's geoid differ by what the
// receiver said.
func TestCoverAndHeights(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	dir := write(t, m, format(t, "csv"), export.Options{})
	_, vertices := table(t, dir, "vertices.csv")
	covers := 0
	for _, r := range vertices {
		want := field(t, r, "depth_m") - field(t, r, "diameter_mm")/2000
		if got := field(t, r, "cover_m"); !same(got, want, 0.0011) {
			t.Errorf("%s vertex %s: cover %v m, want %v m", r["line_id"], r["vertex"], got, want)
		} else if !math.IsNaN(got) {
			covers++
		}
		geoid := field(t, r, "geoid_separation_m")
		if math.IsNaN(geoid) {
			t.Errorf("%s vertex %s has no separation", r["line_id"], r["vertex"])
		}
		for ellipsoidal, orthometric := range map[string]string{"ground_height_m": "ground_orthometric_m", "height_m": "height_orthometric_m"} {
			if got, want := field(t, r, orthometric), field(t, r, ellipsoidal)-geoid; !same(got, want, 0.0011) {
				t.Errorf("%s vertex %s: %s %v, want %v", r["line_id"], r["vertex"], orthometric, got, want)
			}
		}
	}
	if covers != 5 {
		t.Errorf("%d vertices have a cover, want the 5 of the pipe whose diameter is known", covers)
	}
	_, lines := table(t, dir, "lines.csv")
	if d, c := field(t, lines[0], "depth_min_m"), field(t, lines[0], "cover_min_m"); !same(d-c, 0.084, 0.0011) || lines[0]["diameter_mm"] != "168" {
		t.Errorf("smallest depth %v m, cover %v m, diameter %s mm", d, c, lines[0]["diameter_mm"])
	}
	// People read both on the phone too, each under its own name.
	for _, p := range placemarks(t, read(t, write(t, m, format(t, "kml"), export.Options{}), "map.kml")) {
		want := p.Folder == "Water (W)/Lines"
		if got := strings.Contains(p.Description, "Cover to the top: "+metres(t, lines[0], "cover_min_m")+" m to "); want && !got {
			t.Errorf("%s: %s", p.Name, p.Description)
		}
		if strings.Contains(p.Description, "Cover") && strings.HasPrefix(p.Folder, "Gas") {
			t.Errorf("%s has a cover without a diameter: %s", p.Name, p.Description)
		}
	}
	_, rows := table(t, dir, "readings.csv")
	without := 0
	for _, r := range rows {
		if r["placed"] == "true" && r["geoid_separation_m"] == "" {
			without++
			if r["ground_orthometric_m"] != "" || r["ground_height_m"] == "" {
				t.Errorf("row %s: heights %q and %q", r["row"], r["ground_height_m"], r["ground_orthometric_m"])
			}
		}
	}
	if without != 1 {
		t.Errorf("%d placed readings without separation, want 1", without)
	}
}

// The lengths by class add up to the part's, in the scheme's order.
func TestClassShares(t *testing.T) {
	m := graded(t, "pas128")
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			part := &m.Lines[i].Parts[j]
			sum, before := 0.0, -1
			for _, s := range result.ClassShares(m, &m.Lines[i], part) {
				sum += s.Length
				at := map[string]int{"B2": 0, "B3": 1, "": 2}[s.Class]
				if at <= before {
					t.Errorf("%s: %s stands behind a worse class", m.Lines[i].ID, s.Class)
				}
				before = at
			}
			if math.Abs(sum-part.Length()) > 1e-9 {
				t.Errorf("%s part %d: %v m by class of %v m", m.Lines[i].ID, part.Number, sum, part.Length())
			}
		}
	}
	if got := result.ClassShares(invented.Day(invented.Atlantic), &m.Lines[0], &m.Lines[0].Parts[0]); got != nil {
		t.Errorf("classes without a scheme: %v", got)
	}
}

// A class needs no more than the figures in the files: the best line of the day,
// by each scheme.
func TestClassesOfSchemes(t *testing.T) {
	for name, want := range map[string]string{"pas128": "B2", "as5488": "B", "fr2012": "B", "none": ""} {
		m := graded(t, name)
		part := &m.Lines[0].Parts[0]
		for k := range part.Vertices {
			part.Vertices[k].Sigma = 0.1 // half-width 0.196 m
		}
		if got := result.StatsOf(m, &m.Lines[0], part).Class; got != want {
			t.Errorf("%s: %q, want %q (%s)", name, got, want, fmt.Sprint([]fuse.Vertex(part.Vertices)[0]))
		}
	}
}
