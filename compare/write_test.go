package compare_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tracemap/compare"
)

// tool gives an outside program. Without it the test is skipped, and fails
// where nothing may be skipped.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is needed: %v", name, err)
		}
		t.Skipf("%s is not here: %v", name, err)
	}
	return path
}

// written compares and writes all files.
func written(t *testing.T, located, asBuilt string, change func(*compare.Options)) (string, *compare.Result) {
	t.Helper()
	r := run(t, located, asBuilt, func(o *compare.Options) {
		o.Tool = "tracemap test"
		if change != nil {
			change(o)
		}
	})
	dir := t.TempDir()
	if err := compare.Write(context.Background(), dir, r); err != nil {
		t.Fatal(err)
	}
	return dir, r
}

func readFile(t *testing.T, dir, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// hostile is a scene whose names hold what markup, spreadsheets and terminals
// run.
func hostile(t *testing.T) (string, string) {
	w := steel(`<b>&"W1`, pt(0, 0.4), pt(60, 0.4))
	w.depth, w.depth95 = 1.4, 0.1
	return located(t, sea, w, steel("=cmd()", pt(0, 9), pt(30, 9)), steel("lost", pt(0, 50), pt(30, 50))),
		record(t, sea, "", nil,
			line(`=1+1</script><script>alert(1)</script>`, "water", pt(0, 0), pt(60, 0)).with("depth_to_centre_m", 1.2),
			line("\x1b[2J ü", "water", pt(0, 9), pt(60, 9)),
			line("ghost & co", "gas", pt(0, 20), pt(40, 22)))
}

// The columns are a promise to scripts, and the figures are those of the result.
func TestDeviations(t *testing.T) {
	lines, path := hostile(t)
	dir, r := written(t, lines, path, func(o *compare.Options) { o.Accuracy, o.Tolerance = 0.1, 0.2 })
	text := readFile(t, dir, "deviations.csv")
	if !strings.HasPrefix(text, "as_built_id,line_id,part,station_m,lon,lat,lateral_m,lateral_95_m,depth_located_m,depth_as_built_m,depth_diff_m,depth_95_m,verdict\r\n") {
		t.Errorf("header %q", strings.SplitN(text, "\n", 2)[0])
	}
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, p := range r.Pairs {
		n += len(p.Stations)
	}
	if len(rows) != n+1 {
		t.Errorf("%d rows, want %d", len(rows), n+1)
	}
	row := rows[11]
	if row[0] != "'=1+1</script><script>alert(1)</script>" || row[3] != "10" || row[6] != "0.4" || row[10] != "0.2" || row[12] != "differs" {
		t.Errorf("row %q", row)
	}
	if lat, _ := strconv.ParseFloat(row[5], 64); math.Abs(lat-sea.Lat) > 1e-8 {
		t.Errorf("the place is that of the record: latitude %v, want %v", lat, sea.Lat)
	}
	if last := rows[len(rows)-1]; !strings.HasPrefix(last[1], "'=") || last[8] != "" || last[10] != "" {
		t.Errorf("row without depths %q", last)
	}
}

// The keys are a promise to scripts.
func TestJSONKeys(t *testing.T) {
	lines, path := hostile(t)
	dir, _ := written(t, lines, path, nil)
	var top map[string]json.RawMessage
	must(t, json.Unmarshal([]byte(readFile(t, dir, "comparison.json")), &top))
	list := func(raw json.RawMessage) []map[string]json.RawMessage {
		var out []map[string]json.RawMessage
		must(t, json.Unmarshal(raw, &out))
		return out
	}
	object := func(raw json.RawMessage) map[string]json.RawMessage {
		var out map[string]json.RawMessage
		must(t, json.Unmarshal(raw, &out))
		return out
	}
	has := func(what string, o map[string]json.RawMessage, keys ...string) {
		for _, k := range keys {
			if _, ok := o[k]; !ok {
				t.Errorf("%s lacks %s", what, k)
			}
		}
	}
	has("the whole", top, "pairs", "as_built_not_located", "located_not_in_record", "accuracy", "shift")
	for _, p := range list(top["pairs"]) {
		has("a pair", p, "as_built_id", "line_ids", "as_built_length_m", "matched_length_m", "coverage_pct", "lateral", "depth")
		for _, k := range []string{"lateral", "depth"} {
			has(k, object(p[k]), "n", "mean_m", "rmse_m", "p95_m", "max_m", "max_station_m")
		}
	}
	has("accuracy", object(top["accuracy"]), "horizontal_95_m", "vertical_95_m", "standard")
	has("shift", object(top["shift"]), "east_m", "north_m", "sigma_m", "significant")
	if n := list(top["as_built_not_located"]); len(n) != 1 || string(n[0]["as_built_id"]) != `"ghost & co"` {
		t.Errorf("not located %s", top["as_built_not_located"])
	}
	if n := list(top["located_not_in_record"]); len(n) != 1 || string(n[0]["line_id"]) != `"lost"` {
		t.Errorf("in no record %s", top["located_not_in_record"])
	}
	if string(object(list(top["pairs"])[1]["depth"])["mean_m"]) != "null" {
		t.Error("a depth that is not known is not null")
	}
}

// A record of a whole town gives a street's sheets nothing: lines that the day did not
// come near are counted on the page, and listed in comparison.json alone.
func TestRecordOfATown(t *testing.T) {
	lines := located(t, sea, steel("W1", pt(0, 0.4), pt(60, 0.4)))
	street := []built{line("W1", "water", pt(0, 0), pt(60, 0)), line("G1", "gas", pt(0, 20), pt(60, 20))}
	town := slices.Clone(street)
	for i := range 300 {
		at := pt(float64(100+10*(i%20)), float64(10*(i/20)-70))
		town = append(town, line(fmt.Sprintf("T%d", i), "water", at, pt(at.E+9, at.N+3)))
	}
	of := func(record string) map[string]string {
		dir, _ := written(t, lines, record, nil)
		files := map[string]string{}
		for _, name := range []string{"comparison.html", "comparison.kml", "comparison.json", "deviations.csv", "deviations.geojson"} {
			files[name] = readFile(t, dir, name)
		}
		return files
	}
	want, got := of(record(t, sea, "", nil, street...)), of(record(t, sea, "", nil, town...))
	for _, name := range []string{"comparison.kml", "deviations.csv", "deviations.geojson"} {
		if got[name] != want[name] {
			t.Errorf("%s: %d bytes with the town, %d without", name, len(got[name]), len(want[name]))
		}
	}
	const counted = "300 more lines of the record lie farther than 25 m"
	if grown := len(got["comparison.html"]) - len(want["comparison.html"]); !strings.Contains(got["comparison.html"], counted) || grown > 1000 {
		t.Errorf("the page grows by %d bytes, and says that there are more: %v", grown, strings.Contains(got["comparison.html"], counted))
	}
	var listed struct {
		All []struct {
			Near bool `json:"near_the_day"`
		} `json:"as_built_not_located"`
	}
	must(t, json.Unmarshal([]byte(got["comparison.json"]), &listed))
	if len(listed.All) != 301 || !listed.All[0].Near || listed.All[300].Near {
		t.Errorf("%d lines listed as not located", len(listed.All))
	}
}

// The page needs nothing else, and no name runs in it.
func TestPage(t *testing.T) {
	lines, path := hostile(t)
	dir, _ := written(t, lines, path, nil)
	page := readFile(t, dir, "comparison.html")
	for _, bad := range []string{"<script", "http://", "https://", "<link", "@import", "url(h", "<img", `<b>&"W1`} {
		at := strings.Index(strings.ReplaceAll(page, `xmlns="http://www.w3.org/2000/svg"`, ""), bad)
		if at >= 0 {
			t.Errorf("the page holds %q", bad)
		}
	}
	for _, good := range []string{"Estimate from electromagnetic locating; not a clearance to dig.", "=1+1&lt;/script&gt;", "ghost &amp; co", `class="word"`} {
		if !strings.Contains(page, good) {
			t.Errorf("the page lacks %q", good)
		}
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(page, -1) {
		if ids[m[1]] {
			t.Errorf("id %q stands twice", m[1])
		}
		ids[m[1]] = true
	}
	for _, m := range regexp.MustCompile(`(?:href="#|url\(#)([^")]+)`).FindAllStringSubmatch(page, -1) {
		if !ids[m[1]] {
			t.Errorf("nothing has the id %q", m[1])
		}
	}
	if at := strings.IndexAny(page, "\x1b\x00"); at >= 0 {
		t.Errorf("the page holds a control character: %q", page[max(0, at-40):at+10])
	}
	if at := strings.Index(page, "NaN"); at >= 0 {
		t.Errorf("the page holds NaN: %q", page[max(0, at-40):at+10])
	}
}

// Feet are for people; files keep metres.
func TestImperial(t *testing.T) {
	lines, path := hostile(t)
	a, _ := written(t, lines, path, nil)
	b, _ := written(t, lines, path, func(o *compare.Options) { o.Imperial = true })
	for _, name := range []string{"deviations.csv"} {
		if readFile(t, a, name) != readFile(t, b, name) {
			t.Errorf("%s changes with the units", name)
		}
	}
	page := readFile(t, b, "comparison.html")
	if !strings.Contains(page, "1.31 ft") || regexp.MustCompile(`\d m[ .,<]`).MatchString(page) {
		t.Errorf("the page is not in feet: %q", regexp.MustCompile(`.{30}\d m[ .,<]`).FindAllString(page, 5))
	}
}

// The same input gives the same bytes.
func TestSameBytes(t *testing.T) {
	lines, path := hostile(t)
	a, _ := written(t, lines, path, nil)
	b, _ := written(t, lines, path, nil)
	entries, err := os.ReadDir(a)
	must(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
		if !compare.Ours(e.Name()) {
			t.Errorf("%s is not ours", e.Name())
		}
		if readFile(t, a, e.Name()) != readFile(t, b, e.Name()) {
			t.Errorf("%s differs from run to run", e.Name())
		}
	}
	if want := []string{"comparison.html", "comparison.json", "comparison.kml", "deviations.csv", "deviations.geojson"}; !slices.Equal(names, want) {
		t.Errorf("files %v, want %v", names, want)
	}
}

// Other programs read what is written. Checks against: GDAL and libxml2.
func TestOthersRead(t *testing.T) {
	lines, path := hostile(t)
	dir, r := written(t, lines, path, nil)
	n := 0
	for _, p := range r.Pairs {
		n += len(p.Stations)
	}
	out, err := exec.Command(tool(t, "ogrinfo"), "-ro", "-so", "-al", filepath.Join(dir, "deviations.geojson")).CombinedOutput()
	if err != nil || !bytes.Contains(out, []byte("Feature Count: "+strconv.Itoa(2*n))) {
		t.Errorf("%v\n%s", err, out)
	}
	if out, err := exec.Command(tool(t, "xmllint"), "--noout", filepath.Join(dir, "comparison.kml")).CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	out, err = exec.Command(tool(t, "ogrinfo"), "-ro", "-al", filepath.Join(dir, "comparison.kml")).CombinedOutput()
	if err != nil || !bytes.Contains(out, []byte("ghost & co")) || !bytes.Contains(out, []byte("in no record")) {
		t.Errorf("%v\n%s", err, out)
	}
}

// Located lines out of the folder, out of its GeoPackage and out of lines.geojson
// alone: the first two are the same, the third knows one width a part.
func TestSourcesOfLocatedLines(t *testing.T) {
	d := demo(t)
	folder := locateAs(t, d, "geojson,csv,gpkg")
	path := asBuiltOf(t, d)
	a := run(t, folder, path, nil)
	b := run(t, filepath.Join(folder, "map.gpkg"), path, nil)
	if len(a.Pairs) == 0 || len(a.Pairs) != len(b.Pairs) || len(a.NotLocated) != len(b.NotLocated) {
		t.Fatalf("%d pairs and %d not located from the folder, %d and %d from the GeoPackage", len(a.Pairs), len(a.NotLocated), len(b.Pairs), len(b.NotLocated))
	}
	for i := range a.Pairs {
		p, q := &a.Pairs[i], &b.Pairs[i]
		near(t, p.AsBuiltID+" lateral", q.Lateral.RMSE, p.Lateral.RMSE, 1e-3) // m: tables are rounded to millimetres
		near(t, p.AsBuiltID+" uncertainty", q.Lateral.Mean95, p.Lateral.Mean95, 2e-3)
		if p.Depth.N > 0 {
			near(t, p.AsBuiltID+" depth", q.Depth.Mean, p.Depth.Mean, 1e-3)
		}
	}
	alone := filepath.Join(t.TempDir(), "lines.geojson")
	must(t, os.WriteFile(alone, []byte(readFile(t, folder, "lines.geojson")), 0o666))
	c := run(t, alone, path, nil)
	hasWarning(t, c, "without vertices.csv")
	for i := range c.Pairs {
		p := &c.Pairs[i]
		if p.Points > 0 {
			continue
		}
		near(t, p.AsBuiltID+" lateral", p.Lateral.RMSE, pairOf(t, a, p.AsBuiltID).Lateral.RMSE, 5e-3)
		if wide, own := p.Lateral.Mean95, pairOf(t, a, p.AsBuiltID).Lateral.Mean95; wide < own-0.02 {
			t.Errorf("%s: uncertainty %v from one width a part, %v from the vertices", p.AsBuiltID, wide, own)
		}
	}
}

// FuzzRecord compares with whatever a stranger may hand in.
func FuzzRecord(f *testing.F) {
	f.Add([]byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"id":"A","utility":"water","depth_m":-1,"dn":"x"},"geometry":{"type":"LineString","coordinates":[[3,55.5],[3.0005,55.5]]}}]}`))
	f.Add([]byte("id,utility,cover_ft,wkt\nA,W,3.5,\"LINESTRING (3 55.5, 3.0005 55.5, 3 55.5)\"\nA,W,3.5,\"MULTILINESTRING ((3 55.5, 3 55.5), (55.5 3, 55.5 3.0005))\"\n"))
	f.Add([]byte("<kml><Folder><name>Water</name><Placemark><name>W1</name><LineString><coordinates>3,55.5,-1 3.0005,55.5,-1</coordinates></LineString></Placemark></Folder></kml>"))
	dir := f.TempDir()
	lines := located(f, sea, steel("A", pt(0, 0), pt(30, 0), pt(30, 30)), steel("b", pt(10, 1)))
	path := filepath.Join(dir, "record")
	f.Fuzz(func(t *testing.T, data []byte) {
		if err := os.WriteFile(path, data, 0o666); err != nil {
			t.Fatal(err)
		}
		r, err := compare.Run(context.Background(), lines, path, compare.DefaultOptions())
		if err != nil {
			return
		}
		if len(r.Pairs)+len(r.NotLocated)+len(r.Elsewhere) != r.Records {
			t.Errorf("%d pairs, %d not located and %d elsewhere of %d records", len(r.Pairs), len(r.NotLocated), len(r.Elsewhere), r.Records)
		}
		for _, p := range r.Pairs {
			for _, s := range p.Stations {
				if math.IsNaN(s.Lateral) || math.IsNaN(s.Lateral95) || s.Station < 0 || s.Station > p.Length+1e-6 {
					t.Errorf("station %+v of %v m", s, p.Length)
				}
			}
		}
		out := filepath.Join(dir, "out")
		os.RemoveAll(out)
		must(t, os.Mkdir(out, 0o777))
		must(t, compare.Write(context.Background(), out, r))
	})
}
