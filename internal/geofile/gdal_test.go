package geofile_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/internal/geofile"
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

func ogr2ogr(t *testing.T, args ...string) {
	t.Helper()
	cmd := exec.Command(tool(t, "ogr2ogr"), args...)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %v\n%s", cmd.Args, err, out)
	}
}

// asBuilt is a record with everything that a record may have: heights, many
// parts, letters beyond ASCII, missing values, numbers as texts. The place is
// open sea.
const asBuilt = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"id":"W1","utility":"water","depth_m":1.06,"diam_mm":160,"note":"Kühlung, \"alt\""},"geometry":{"type":"LineString","coordinates":[[3.00000001,55.5,-1.5],[3.001,55.501,-1.6],[3.002,55.5,-1.7]]}},
{"type":"Feature","properties":{"id":"G1","utility":"gas","depth_m":null,"diam_mm":null,"note":null},"geometry":{"type":"MultiLineString","coordinates":[[[3.003,55.5,0],[3.004,55.501,0]],[[3.005,55.5,0],[3.006,55.501,1]]]}},
{"type":"Feature","properties":{"id":"E 1","utility":"electric","depth_m":-0.5,"diam_mm":32,"note":"x"},"geometry":{"type":"LineString","coordinates":[[3.0,55.5,1],[3.0,55.5,1]]}}]}`

// Files that GDAL wrote are read as GDAL's own GeoJSON of them says. Checks
// against: ogr2ogr (its version is in the log), all in one projected system.
func TestAgainstGDAL(t *testing.T) {
	version, err := exec.Command(tool(t, "ogr2ogr"), "--version").Output()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s", version)
	dir := t.TempDir()
	in := filepath.Join(dir, "in.geojson")
	if err := os.WriteFile(in, []byte(asBuilt), 0o666); err != nil {
		t.Fatal(err)
	}
	reference := filepath.Join(dir, "reference.geojson")
	ogr2ogr(t, "-f", "GeoJSON", "-t_srs", "EPSG:25831", "-lco", "RFC7946=NO", "-lco", "COORDINATE_PRECISION=9", reference, in)
	want, err := geofile.Open(context.Background(), reference)
	if err != nil {
		t.Fatal(err)
	}
	if len(want.Layers[0].Features) != 3 || len(want.Aside) > 0 {
		t.Fatalf("reference: %+v", want)
	}
	for _, c := range []struct {
		name      string
		args      []string
		tolerance float64 // in the unit of coordinates: half the last decimal that the format keeps
		attrs     bool
	}{
		{"a.gpkg", []string{"-f", "GPKG"}, 1e-6, true},
		{"a.shp", []string{"-f", "ESRI Shapefile", "-lco", "ENCODING=UTF-8"}, 1e-6, true},
		{"latin.shp", []string{"-f", "ESRI Shapefile", "-lco", "ENCODING=ISO-8859-1"}, 1e-6, true},
		{"zm.shp", []string{"-f", "ESRI Shapefile", "-lco", "SHPT=ARCZM"}, 1e-6, true},
		{"a.csv", []string{"-f", "CSV", "-lco", "GEOMETRY=AS_WKT"}, 1e-6, true},
		{"semicolon.csv", []string{"-f", "CSV", "-lco", "GEOMETRY=AS_WKT", "-lco", "SEPARATOR=SEMICOLON"}, 1e-6, true},
		{"a.dxf", []string{"-f", "DXF", "-sql", `SELECT utility AS Layer FROM "in"`}, 1e-6, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			out := filepath.Join(dir, c.name)
			ogr2ogr(t, append(c.args, "-t_srs", "EPSG:25831", out, in)...)
			got, err := geofile.Open(context.Background(), out)
			if err != nil {
				t.Fatal(err)
			}
			if strings.HasSuffix(c.name, ".gpkg") || strings.HasSuffix(c.name, ".shp") {
				if crs := got.Layers[0].CRS; crs == nil || crs.Code() != 25831 {
					t.Errorf("system %v: %v", crs, got.Layers[0].CRSError)
				}
			}
			compareFeatures(t, got, want, c.tolerance, c.attrs)
		})
	}
}

// compareFeatures demands the same lines in the same order, and the same
// attributes as numbers or texts.
func compareFeatures(t *testing.T, got, want *geofile.File, tolerance float64, attrs bool) {
	t.Helper()
	var a, b [][]geofile.Vertex
	for _, f := range got.Layers[0].Features {
		a = append(a, f.Lines...)
	}
	for _, f := range want.Layers[0].Features {
		b = append(b, f.Lines...)
	}
	if len(a) != len(b) {
		t.Fatalf("%d lines, want %d; set aside %v", len(a), len(b), got.Aside)
	}
	for i := range a {
		var w []float64
		for _, v := range b[i] {
			w = append(w, v.X, v.Y, v.Z)
		}
		wantLine(t, a[i], tolerance, w...)
	}
	if !attrs {
		return
	}
	for i, f := range want.Layers[0].Features {
		for _, attr := range f.Attrs {
			have, _ := got.Layers[0].Features[i].Attr(attr.Name)
			var x, y float64
			_, err1 := fmt.Sscan(have, &x)
			_, err2 := fmt.Sscan(attr.Value, &y)
			if have != attr.Value && (err1 != nil || err2 != nil || math.Abs(x-y) > 1e-9) {
				t.Errorf("feature %d: %s is %q, want %q", i, attr.Name, have, attr.Value)
			}
		}
		extra := 0
		if _, ok := got.Layers[0].Features[i].Attr("fid"); ok {
			extra = 1 // GeoPackage's own key
		}
		if got := len(got.Layers[0].Features[i].Attrs); got != len(f.Attrs)+extra {
			t.Errorf("feature %d has %d attributes, want %d", i, got, len(f.Attrs))
		}
	}
}

// KML knows longitude and latitude only.
func TestKMLOfGDAL(t *testing.T) {
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.geojson"), filepath.Join(dir, "a.kml")
	if err := os.WriteFile(in, []byte(asBuilt), 0o666); err != nil {
		t.Fatal(err)
	}
	want, err := geofile.Open(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	ogr2ogr(t, "-f", "KML", "-dsco", "NameField=id", out, in)
	got, err := geofile.Open(context.Background(), out)
	if err != nil {
		t.Fatal(err)
	}
	compareFeatures(t, got, want, 1e-9, false)
	wantAttr(t, &got.Layers[0].Features[0], "utility", "water")
	wantAttr(t, &got.Layers[0].Features[0], "name", "W1")
}

// The .prj files that GDAL writes in both dialects name the system that they
// were made for. Checks against: ogr2ogr.
func TestSystemsOfGDAL(t *testing.T) {
	dir := t.TempDir()
	in := filepath.Join(dir, "in.geojson")
	if err := os.WriteFile(in, []byte(asBuilt), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, code := range []int{4326, 25832, 32632, 6318, 4258, 2056, 2154, 28992, 3006, 7856, 28356, 6430, 6428, 2949, 5514, 31370} {
		t.Run(fmt.Sprint(code), func(t *testing.T) {
			out := filepath.Join(dir, fmt.Sprintf("s%d.shp", code))
			ogr2ogr(t, "-a_srs", fmt.Sprintf("EPSG:%d", code), out, in)
			f, err := geofile.Open(context.Background(), out)
			if err != nil {
				t.Fatal(err)
			}
			l := f.Layers[0]
			if builtIn := l.CRS != nil; builtIn && l.CRS.Code() != code || !builtIn && l.CRSError == nil {
				t.Errorf("system %v: %v", l.CRS, l.CRSError)
			}
			t.Logf("%v %v", l.CRS, l.CRSError)
		})
	}
}
