package export_test

import (
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/internal/lab/invented"
	"tracemap/internal/python"
)

// dictionary gives, for each layer of the data dictionary, its fields' names in
// Shapefiles by their names elsewhere.
func dictionary(t *testing.T) map[string]map[string]string {
	t.Helper()
	out := map[string]map[string]string{}
	layer := ""
	row := regexp.MustCompile("^\\| `([a-z0-9_]+)` \\| `([a-z0-9_]+)` \\|")
	for _, line := range strings.Split(string(read(t, "../docs", "data-dictionary.md")), "\n") {
		if name, ok := strings.CutPrefix(line, "## Layer "); ok {
			layer = name
			out[layer] = map[string]string{}
		}
		if m := row.FindStringSubmatch(line); m != nil && layer != "" {
			out[layer][m[1]] = m[2]
		}
	}
	return out
}

// Each field that GDAL finds in any file is in the data dictionary, and each field
// of the dictionary is in the files.
func TestDictionaryHasEveryField(t *testing.T) {
	m := graded(t, "pas128")
	fields := dictionary(t)
	opt := export.Options{CRS: lookup(t, 32626)}
	gpkg := filepath.Join(write(t, m, format(t, "gpkg"), opt), "map.gpkg")
	shp := write(t, m, format(t, "shp"), opt)
	for layer, names := range fields {
		var want, wantShort []string
		for name, short := range names {
			want, wantShort = append(want, name), append(wantShort, short)
		}
		sameNames(t, "gpkg "+layer, ogr(t, gpkg, layer), want)
		if layer == "lines" || layer == "vertices" || layer == "readings" {
			wantShort = append(wantShort, "z_known")
		}
		sameNames(t, "shp "+layer, ogr(t, filepath.Join(shp, layer+".shp"), ""), wantShort)
	}
	for layer, extra := range map[string][]string{"lines": {"wkt", "crs"}, "vertices": {"x", "y", "z", "crs"}, "readings": {"x", "y", "z", "crs"}} {
		head, _ := table(t, write(t, m, format(t, "csv"), opt), layer+".csv")
		for name := range fields[layer] {
			extra = append(extra, name)
		}
		slices.Sort(head)
		slices.Sort(extra)
		if !slices.Equal(head, extra) {
			t.Errorf("%s.csv has %v, want %v", layer, head, extra)
		}
	}
}

func sameNames(t *testing.T, what string, c collection, want []string) {
	t.Helper()
	if len(c.Features) == 0 {
		t.Fatalf("%s: no feature", what)
	}
	var got []string
	for name := range c.Features[0].Properties {
		got = append(got, name)
	}
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("%s has the fields %v, the dictionary %v", what, got, want)
	}
}

// GDAL reads the same attributes from every format: those of the CSV, cell by cell.
func TestGDALReadsEveryAttribute(t *testing.T) {
	m := graded(t, "as5488")
	m.Meta.Frame = "WGS84" // GeoJSON is in the frame of the map, the others in that of the system
	opt := export.Options{CRS: lookup(t, 32626)}
	tables := write(t, m, format(t, "csv"), opt)
	fields := dictionary(t)
	gpkg := filepath.Join(write(t, m, format(t, "gpkg"), opt), "map.gpkg")
	shp, geojson := write(t, m, format(t, "shp"), opt), write(t, m, format(t, "geojson"), opt)
	for _, layer := range []string{"lines", "vertices", "readings"} {
		_, rows := table(t, tables, layer+".csv")
		if layer == "readings" {
			rows = slices.DeleteFunc(rows, func(r map[string]string) bool { return r["placed"] != "true" })
		}
		same := func(what string, c collection, name func(string) string) {
			if len(c.Features) != len(rows) {
				t.Errorf("%s %s: %d features, want %d", what, layer, len(c.Features), len(rows))
				return
			}
			for i, f := range c.Features {
				for field := range fields[layer] {
					got, there := f.Properties[name(field)]
					want := rows[i][field]
					if what == "shp" {
						want = strings.ReplaceAll(want, "\n", " ") // a field is one line there
					}
					if !there || !sameCell(got, want) {
						t.Errorf("%s %s, row %d: %s is %v, want %q", what, layer, i+1, field, got, want)
					}
				}
			}
		}
		plain := func(name string) string { return name }
		same("gpkg", ogr(t, gpkg, layer), plain)
		same("shp", ogr(t, filepath.Join(shp, layer+".shp"), ""), func(name string) string { return fields[layer][name] })
		if layer != "vertices" {
			same("geojson", ogr(t, filepath.Join(geojson, layer+".geojson"), ""), plain)
		}
	}
}

// sameCell compares what GDAL read to a cell of the CSV: numbers as numbers, times
// as instants, yes and no in any of the formats' ways.
func sameCell(got any, want string) bool {
	want = strings.TrimPrefix(want, "'") // the guard against formulas
	text := strings.TrimPrefix(fmt.Sprint(got), "'")
	if got == nil {
		return want == ""
	}
	if n, err := strconv.ParseFloat(want, 64); err == nil {
		v, err := strconv.ParseFloat(text, 64)
		return err == nil && math.Abs(v-n) <= 1e-9*max(1, math.Abs(n))
	}
	switch want {
	case "true", "false":
		return strings.HasPrefix(strings.ToLower(text), want[:1]) || text == map[string]string{"true": "1", "false": "0"}[want]
	}
	return text == want || instantOf(text) == instantOf(want) && instantOf(want) != ""
}

// instantOf is a time without its punctuation and trailing zeros; "" for no time.
func instantOf(text string) string {
	if !regexp.MustCompile(`^\d{4}[-/]\d\d[-/]\d\d[T ]`).MatchString(text) {
		return ""
	}
	text = strings.NewReplacer("/", "-", "T", " ", "Z", "", "+00", "", ":00:00", ":00:00").Replace(text)
	if i := strings.IndexByte(text, '.'); i > 0 {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// GDAL reads the placemarks' data from KML: those of the CSV, as texts.
func TestGDALReadsKMLData(t *testing.T) {
	m := graded(t, "pas128")
	_, lines := table(t, write(t, m, format(t, "csv"), export.Options{}), "lines.csv")
	file := filepath.Join(write(t, m, format(t, "kml"), export.Options{}), "map.kml")
	byName := map[string]map[string]string{}
	for _, r := range lines {
		byName[strings.TrimPrefix(r["line_id"], "'")+"/"+r["part"]] = r
	}
	seen := 0
	for _, layer := range strings.Split(strings.TrimSpace(string(must(t, exec.Command(python.With(t, "osgeo.ogr", "python3-gdal"), "-c",
		"import sys; from osgeo import ogr; d = ogr.Open(sys.argv[1]); print('\\n'.join(d.GetLayer(i).GetName() for i in range(d.GetLayerCount())))", file)))), "\n") {
		if !strings.HasPrefix(layer, "Lines") {
			continue
		}
		for _, f := range ogr(t, file, layer).Features {
			r := byName[fmt.Sprint(f.Properties["line_id"], "/", f.Properties["part"])]
			if r == nil {
				t.Fatalf("%s: no such line: %v", layer, f.Properties)
			}
			for name := range dictionary(t)["lines"] {
				if got := f.Properties[name]; !sameCell(got, r[name]) {
					t.Errorf("%s, %s is %v, want %q", r["line_id"], name, got, r[name])
				}
			}
			seen++
		}
	}
	if seen != len(lines) {
		t.Errorf("GDAL finds %d lines, want %d", seen, len(lines))
	}
}

func must(t *testing.T, cmd *exec.Cmd) []byte {
	t.Helper()
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %v %s", cmd.Args, err, stderr(err))
	}
	return out
}

// Shapely, on GEOS, finds every corridor valid as each file holds it, in degrees and
// in a grid, on every map.
func TestCorridorsAreValid(t *testing.T) {
	const check = `
import sys
from osgeo import ogr
import shapely, shapely.wkb
from shapely.validation import explain_validity
bad = count = 0
for file in sys.argv[1:]:
    source = ogr.Open(file)
    for i in range(source.GetLayerCount()):
        layer = source.GetLayer(i)
        for f in layer:
            g = f.GetGeometryRef()
            if g is None or not any(k in g.GetGeometryName() for k in ("POLYGON", "COLLECTION")):
                continue
            count += 1
            shape = shapely.wkb.loads(bytes(g.ExportToWkb()))
            if not shape.is_valid or shape.is_empty or shape.area <= 0:
                bad += 1
                print(file, layer.GetName(), f.GetFID(), explain_validity(shape))
print(count)
sys.exit(bad)
`
	interpreter := python.With(t, "shapely, osgeo.ogr", "python3-shapely python3-gdal")
	args := []string{"-c", check}
	want := 0
	for _, c := range invented.Cases() {
		var names []string
		for name, file := range map[string]string{"gpkg": "map.gpkg", "shp": "corridors.shp", "geojson": "corridors.geojson", "kml": "map.kml"} {
			args = append(args, filepath.Join(write(t, c.Map, format(t, name), export.Options{}), file))
			names = append(names, name)
		}
		if c.Name == "day" {
			for _, name := range []string{"gpkg", "shp"} {
				args = append(args, filepath.Join(write(t, c.Map, format(t, name), export.Options{CRS: lookup(t, 32626)}), map[string]string{"gpkg": "map.gpkg", "shp": "corridors.shp"}[name]))
				names = append(names, name)
			}
		}
		want += len(names) * len(collections(t, c.Map)["corridors"].Features)
	}
	out, err := exec.Command(interpreter, args...).Output()
	if err != nil {
		t.Errorf("%v\n%s%s", err, out, stderr(err))
	}
	lines := strings.Fields(strings.TrimSpace(string(out)))
	if got, _ := strconv.Atoi(lines[len(lines)-1]); got != want || want < 50 {
		t.Errorf("%d corridors looked at, want %d", got, want)
	}
}

// In a grid every format puts every reading, vertex and line where the others do,
// within a millimetre, through GDAL.
func TestFormatsAgreeInAGrid(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	opt := export.Options{CRS: lookup(t, 32626)}
	gpkg := filepath.Join(write(t, m, format(t, "gpkg"), opt), "map.gpkg")
	shp, tables := write(t, m, format(t, "shp"), opt), write(t, m, format(t, "csv"), opt)
	for _, layer := range []string{"readings", "vertices"} {
		_, rows := table(t, tables, layer+".csv")
		rows = slices.DeleteFunc(rows, func(r map[string]string) bool { return r["x"] == "" })
		for name, c := range map[string]collection{"gpkg": ogr(t, gpkg, layer), "shp": ogr(t, filepath.Join(shp, layer+".shp"), "")} {
			if len(c.Features) != len(rows) {
				t.Fatalf("%s has %d %s, CSV %d", name, len(c.Features), layer, len(rows))
			}
			for i, f := range c.Features {
				p := positions(t, f.Geometry)[0]
				z := field(t, rows[i], "z")
				if math.IsNaN(z) {
					z = map[string]float64{"gpkg": 0, "shp": -99999}[name] // none, and what stands for none
				}
				if math.Abs(p.X-field(t, rows[i], "x")) > 0.001 || math.Abs(p.Y-field(t, rows[i], "y")) > 0.001 || math.Abs(p.Z-z) > 0.0011 {
					t.Errorf("%s, %s %d: %v, CSV %s %s %s", name, layer, i+1, p, rows[i]["x"], rows[i]["y"], rows[i]["z"])
				}
			}
		}
	}
	lines := ogr(t, filepath.Join(shp, "lines.shp"), "")
	for i, f := range ogr(t, gpkg, "lines").Features {
		a, b := positions(t, f.Geometry), positions(t, lines.Features[i].Geometry)
		if len(a) != len(b) {
			t.Errorf("line %d: %d positions in the GeoPackage, %d in the Shapefile", i, len(a), len(b))
		}
		for k := range min(len(a), len(b)) {
			if math.Hypot(a[k].X-b[k].X, a[k].Y-b[k].Y) > 0.001 {
				t.Errorf("line %d: %v and %v", i, a[k], b[k])
			}
		}
	}
	// The drawing has each reading and feature once, in the same places.
	_, rows := table(t, tables, "readings.csv")
	left := map[string]int{}
	key := func(x, y, z float64) string { return fmt.Sprintf("%.3f %.3f %.3f", x, y, z) }
	want := 0
	for _, r := range rows {
		if r["x"] != "" {
			left[key(field(t, r, "x"), field(t, r, "y"), field(t, r, "z"))]++
			want++
		}
	}
	got := 0
	for layer, shapes := range byLayer(ogr(t, filepath.Join(write(t, m, format(t, "dxf"), opt), "map.dxf"), "entities")) {
		if !strings.HasSuffix(layer, "_READING") && !strings.HasSuffix(layer, "_POINT") {
			continue
		}
		for _, g := range shapes {
			got++
			p := positions(t, g)[0]
			if k := key(p.X, p.Y, p.Z); left[k] == 0 {
				t.Errorf("%s: a point at %s that no other file has", layer, k)
			} else {
				left[k]--
			}
		}
	}
	if got != want {
		t.Errorf("%d points in the drawing, want %d", got, want)
	}
}
