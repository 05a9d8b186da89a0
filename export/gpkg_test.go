package export_test

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/ext/rtree"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/lab/invented"
	"tracemap/internal/python"
	"tracemap/present"
	"tracemap/result"
)

// validate runs a script that has GDAL's samples.
func validate(t *testing.T, args ...string) ([]byte, error) {
	t.Helper()
	return exec.Command(python.With(t, "osgeo_utils.samples.validate_gpkg", "python3-gdal"), args...).CombinedOutput()
}

// GDAL's validator of GeoPackages finds nothing wrong with any map.
func TestGPKGIsValid(t *testing.T) {
	script := []string{"-c", "import sys\nfrom osgeo_utils.samples import validate_gpkg\nbad = False\nfor f in sys.argv[1:]:\n" +
		"  errors = validate_gpkg.check(f, abort_at_first_error=False, extra_checks=True, warning_as_error=True)\n  print(f, errors)\n  bad |= bool(errors)\nsys.exit(bad)"}
	for _, c := range invented.Cases() {
		script = append(script, filepath.Join(write(t, c.Map, format(t, "gpkg"), export.Options{}), "map.gpkg"))
	}
	if out, err := validate(t, script...); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// GDAL opens the file without a warning and finds in it what GeoJSON holds; the
// one line that is a single reading has no line geometry.
func TestGDALReadsGPKG(t *testing.T) {
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			file := filepath.Join(write(t, c.Map, format(t, "gpkg"), export.Options{}), "map.gpkg")
			cmd := exec.Command(tool(t, "ogrinfo"), "-ro", "-so", "-al", file)
			var complaints strings.Builder
			cmd.Stderr = &complaints
			if err := cmd.Run(); err != nil || complaints.Len() > 0 {
				t.Errorf("%v %s", err, complaints.String())
			}
			ours := collections(t, c.Map)
			for _, layer := range []string{"lines", "corridors", "readings"} {
				want := ours[layer]
				for i, f := range want.Features {
					if layer == "lines" && strings.HasPrefix(string(f.Geometry), `{"type":"Point"`) {
						want.Features[i].Geometry = nil
					}
				}
				sameShapes(t, ogr(t, file, layer), want, 1e-12)
			}
			parts := 0
			for _, l := range c.Map.Lines {
				for _, p := range l.Parts {
					parts += len(p.Vertices)
				}
			}
			if got := len(ogr(t, file, "vertices").Features); got != parts {
				t.Errorf("%d vertices, want %d", got, parts)
			}
		})
	}
}

// In a projected system positions are where PROJ, through GDAL, puts them. The
// map is in ITRF2020, which is taken for WGS 84, so the projection is alone.
func TestGPKGProjected(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	crs, err := geodesy.LookupCRS(32626)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(write(t, m, format(t, "gpkg"), export.Options{CRS: crs}), "map.gpkg")
	plain := filepath.Join(write(t, m, format(t, "geojson"), export.Options{}), "corridors.geojson")
	out, err := exec.Command(tool(t, "ogr2ogr"), "-f", "GeoJSON", "-t_srs", "EPSG:32626", "-lco", "RFC7946=NO", "-lco", "COORDINATE_PRECISION=5", "/vsistdout/", plain).Output()
	if err != nil {
		t.Fatalf("%v %s", err, stderr(err))
	}
	var want collection
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}
	sameShapes(t, ogr(t, file, "corridors"), want, 0.0003) // both sides are rounded to 0.1 mm
	if got := query(t, file, "SELECT srs_id FROM gpkg_contents WHERE table_name='lines'"); got != "32626" {
		t.Errorf("srs_id %s", got)
	}
}

// query gives the first column of the first row.
func query(t *testing.T, file, sql string) string {
	t.Helper()
	db, err := sqlite3.OpenFlags(file, sqlite3.OPEN_READONLY)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := rtree.Register(db); err != nil {
		t.Fatal(err)
	}
	s, _, err := db.Prepare(sql)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if !s.Step() {
		t.Fatalf("%s: no row, %v", sql, s.Err())
	}
	return s.ColumnText(0)
}

// The R-tree holds a box for each geometry, which finds it; GDAL's own edits go
// through our triggers and keep it so.
func TestGPKGIndex(t *testing.T) {
	file := filepath.Join(write(t, invented.Day(invented.Atlantic), format(t, "gpkg"), export.Options{}), "map.gpkg")
	if got := query(t, file, `SELECT group_concat(id) FROM rtree_lines_geom`); got != "1,2,4,5" { // 3 is a single reading
		t.Errorf("indexed lines %s", got)
	}
	west, south := -27.49905, 45.25 // only the ring lies there
	sql := fmt.Sprintf(`SELECT line_id FROM lines JOIN rtree_lines_geom r ON fid=r.id WHERE maxx>%f AND maxy>%f`, west, south)
	if got := query(t, file, sql); got != "ring" {
		t.Errorf("found %s", got)
	}
	if out, err := exec.Command(tool(t, "ogrinfo"), file, "-sql", "DELETE FROM lines WHERE fid=1").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	if out, err := exec.Command(tool(t, "ogrinfo"), file, "-sql", "UPDATE lines SET geom=(SELECT geom FROM lines WHERE fid=4) WHERE fid=3").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	if got := query(t, file, `SELECT group_concat(id) FROM (SELECT id FROM rtree_lines_geom ORDER BY id)`); got != "2,3,4,5" {
		t.Errorf("after GDAL's edits the index holds %s", got)
	}
}

// Each layer has a default style that is well-formed and names every utility.
func TestGPKGStyles(t *testing.T) {
	file := filepath.Join(write(t, invented.Day(invented.Atlantic), format(t, "gpkg"), export.Options{}), "map.gpkg")
	for _, layer := range []string{"lines", "corridors", "readings", "vertices", "doubtful"} {
		qml := query(t, file, "SELECT styleQML FROM layer_styles WHERE useAsDefault=1 AND f_table_name='"+layer+"'")
		for d := xml.NewDecoder(strings.NewReader(qml)); ; {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", layer, err)
			}
		}
		for _, look := range present.Looks {
			if !strings.Contains(qml, look.Name+" ("+look.Letters+")") {
				t.Errorf("%s: %s is not in the style", layer, look.Name)
			}
		}
	}
	if got := query(t, file, "SELECT group_concat(flags) FROM doubtful WHERE utility='electric'"); got != "distorted" {
		t.Errorf("doubtful stretches of the electric line: %s", got)
	}
}

// What the file carries about its origin can be read back.
func TestGPKGMetadata(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	file := filepath.Join(write(t, m, format(t, "gpkg"), export.Options{}), "map.gpkg")
	var doc struct {
		About  map[string]string
		Inputs []result.Input
		Clock  map[string]any
		Frame  map[string]any
	}
	if err := json.Unmarshal([]byte(query(t, file, "SELECT metadata FROM gpkg_metadata WHERE mime_type='application/json'")), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.About["job"] != m.Meta.Job || doc.About["caution"] != present.Caution || doc.About["frame"] != "ITRF2020" || doc.About["tool"] != m.Meta.Tool {
		t.Errorf("about %v", doc.About)
	}
	if !slices.Equal(doc.Inputs, m.Summary.Inputs) || doc.Clock["offset_s"] != 37.0 || doc.Frame["from"] != "NAD83(2011)" || doc.Frame["east_m"] != 1.0402 {
		t.Errorf("inputs %v, clock %v, frame %v", doc.Inputs, doc.Clock, doc.Frame)
	}
	for pragma, want := range map[string]string{"application_id": "1196444487", "user_version": "10300", "integrity_check": "ok"} {
		if got := query(t, file, "PRAGMA "+pragma); got != want {
			t.Errorf("%s = %s, want %s", pragma, got, want)
		}
	}
	if _, err := os.Stat(file + "-journal"); !errors.Is(err, os.ErrNotExist) {
		t.Error("a journal is left")
	}
}

// CSV in another system has its geometry there and says so.
func TestCSVProjected(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	crs, err := geodesy.LookupCRS(32626)
	if err != nil {
		t.Fatal(err)
	}
	dir := write(t, m, format(t, "csv"), export.Options{CRS: crs})
	v := m.Lines[0].Parts[0].Vertices[1]
	x, y, _, err := crs.Forward(v.Ground, geodesy.FrameITRF2020, 2031.3)
	if err != nil {
		t.Fatal(err)
	}
	_, rows := table(t, dir, "vertices.csv")
	near(t, rows[1]["x"], x, 0.0001)
	near(t, rows[1]["y"], y, 0.0001)
	near(t, rows[1]["z"], v.Ground.H-v.Depth, 0.001)
	near(t, rows[1]["lon"], v.Ground.Lon, 1e-9)
	_, lines := table(t, dir, "lines.csv")
	if want := fmt.Sprintf("%.4f", x); lines[0]["crs"] != "EPSG:32626" || !strings.Contains(lines[0]["wkt"], want) {
		t.Errorf("crs %s, wkt %s, want %s in it", lines[0]["crs"], lines[0]["wkt"], want)
	}
	_, readings := table(t, dir, "readings.csv")
	for _, r := range readings {
		if (r["x"] == "") != (r["lon"] == "") {
			t.Errorf("row %s: x %q, lon %q", r["row"], r["x"], r["lon"])
		}
	}
}
