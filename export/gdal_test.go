package export_test

import (
	"encoding/json"
	"math"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/peterstace/simplefeatures/geom"

	"tracemap/export"
	"tracemap/internal/lab/invented"
)

// ogr reads a layer of one of our files with GDAL and gives it as GeoJSON in
// the file's own coordinates.
func ogr(t *testing.T, file, layer string) collection {
	t.Helper()
	args := []string{"-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=12", "-lco", "RFC7946=NO", "/vsistdout/", file}
	if layer != "" {
		args = append(args, layer)
	}
	cmd := exec.Command(tool(t, "ogr2ogr"), args...)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %v\n%s", cmd.Args, err, stderr(err))
	}
	var c collection
	if err := json.Unmarshal(out, &c); err != nil {
		t.Fatalf("%v: %v", cmd.Args, err)
	}
	return c
}

func stderr(err error) []byte {
	if e, ok := err.(*exec.ExitError); ok {
		return e.Stderr
	}
	return nil
}

// sameShapes compares two lists of features position by position; tolerance in
// the unit of the coordinates, heights in metres.
func sameShapes(t *testing.T, got, want collection, tolerance float64) {
	t.Helper()
	if len(got.Features) != len(want.Features) {
		t.Fatalf("%d features, want %d", len(got.Features), len(want.Features))
	}
	for i := range got.Features {
		g, w := positions(t, got.Features[i].Geometry), positions(t, want.Features[i].Geometry)
		if len(g) != len(w) {
			t.Errorf("feature %d has %d positions, want %d", i, len(g), len(w))
			continue
		}
		for k := range g {
			if math.Abs(g[k].X-w[k].X) > tolerance || math.Abs(g[k].Y-w[k].Y) > tolerance || math.Abs(g[k].Z-w[k].Z) > 0.001 {
				t.Errorf("feature %d, position %d: %v, want %v", i, k, g[k], w[k])
			}
		}
	}
}

func positions(t *testing.T, raw json.RawMessage) []geom.Coordinates {
	t.Helper()
	if len(raw) == 0 || string(raw) == "null" {
		return nil
	}
	g, err := geom.UnmarshalGeoJSON(raw, geom.NoValidate{})
	if err != nil {
		t.Fatal(err)
	}
	seq := g.DumpCoordinates()
	out := make([]geom.Coordinates, seq.Length())
	for i := range out {
		out[i] = seq.Get(i)
	}
	return out
}

// GDAL reads what we wrote: the same features at the same places.
func TestGDALReadsGeoJSONAndCSV(t *testing.T) {
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			ours := collections(t, c.Map)
			dir := write(t, c.Map, format(t, "geojson"), export.Options{})
			for _, name := range []string{"lines", "corridors", "readings"} {
				sameShapes(t, ogr(t, filepath.Join(dir, name+".geojson"), ""), ours[name], 1e-9)
			}
			if len(ours["lines"].Features) > 0 {
				table := write(t, c.Map, format(t, "csv"), export.Options{})
				sameShapes(t, ogr(t, filepath.Join(table, "lines.csv"), ""), ours["lines"], 1e-9)
			}
		})
	}
}

// GDAL finds every placemark of the KML, and every waypoint of the GPX.
func TestGDALReadsKMLAndGPX(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	ours := collections(t, m)
	file := filepath.Join(write(t, m, format(t, "kml"), export.Options{}), "map.kml")
	out, err := exec.Command(tool(t, "ogrinfo"), "-ro", "-al", "-q", file).Output()
	if err != nil {
		t.Fatalf("%v %s", err, stderr(err))
	}
	got := countLines(out, "OGRFeature(")
	want := len(ours["lines"].Features) + len(ours["corridors"].Features) + len(ours["readings"].Features) + 1 // doubtful stretch
	if got != want {
		t.Errorf("GDAL finds %d placemarks, want %d", got, want)
	}
	zipped := filepath.Join(write(t, m, format(t, "kmz"), export.Options{}), "map.kmz")
	if out, err = exec.Command(tool(t, "ogrinfo"), "-ro", "-al", "-q", zipped).Output(); err != nil || countLines(out, "OGRFeature(") != want {
		t.Errorf("GDAL finds %d placemarks in the KMZ, want %d: %v %s", countLines(out, "OGRFeature("), want, err, stderr(err))
	}
	file = filepath.Join(write(t, m, format(t, "gpx"), export.Options{}), "revisit.gpx")
	if got := ogr(t, file, "waypoints"); len(got.Features) != len(m.Revisit) {
		t.Errorf("GDAL finds %d waypoints, want %d", len(got.Features), len(m.Revisit))
	}
}

func countLines(text []byte, start string) (n int) {
	for i := 0; i+len(start) <= len(text); i++ {
		if (i == 0 || text[i-1] == '\n') && string(text[i:i+len(start)]) == start {
			n++
		}
	}
	return n
}
