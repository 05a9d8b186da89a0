package compare_test

import (
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/compare"
)

// The same record in every format and in three systems gives the same comparison.
// Checks against: ogr2ogr, which makes the files.
func TestRecordFormats(t *testing.T) {
	d := demo(t)
	folder, path := locate(t, d), asBuiltOf(t, d)
	want := run(t, folder, path, nil)
	dir := t.TempDir()
	for _, c := range []struct {
		name string
		args []string
		crs  string // that must be said
		id   bool   // names survive
	}{
		{"a.gpkg", []string{"-f", "GPKG"}, "", true},
		{"utm.gpkg", []string{"-f", "GPKG", "-t_srs", "EPSG:32628"}, "", true},
		{"a.shp", []string{"-f", "ESRI Shapefile", "-t_srs", "EPSG:32628"}, "", true},
		{"a.shz", []string{"-f", "ESRI Shapefile"}, "", true},
		{"a.kml", []string{"-f", "KML", "-dsco", "NameField=id"}, "", true},
		{"a.csv", []string{"-f", "CSV", "-lco", "GEOMETRY=AS_WKT", "-t_srs", "EPSG:32628"}, "EPSG:32628", true},
		{"degrees.csv", []string{"-f", "CSV", "-lco", "GEOMETRY=AS_WKT"}, "", true},
		{"a.geojson", []string{"-f", "GeoJSON", "-t_srs", "EPSG:32628", "-lco", "RFC7946=NO", "-lco", "COORDINATE_PRECISION=6"}, "", true},
		{"a.geojsonl", []string{"-f", "GeoJSONSeq", "-lco", "COORDINATE_PRECISION=10"}, "", true},
		{"a.dxf", []string{"-f", "DXF", "-t_srs", "EPSG:32628", "-dialect", "SQLite", "-sql", "SELECT utility AS Layer, geometry FROM \"as-built\""}, "EPSG:32628", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			out := filepath.Join(dir, c.name)
			cmd := exec.Command(tool(t, "ogr2ogr"), append(c.args, out, path)...)
			if text, err := cmd.CombinedOutput(); err != nil {
				t.Fatalf("%v: %v\n%s", cmd.Args, err, text)
			}
			got := run(t, folder, out, func(o *compare.Options) {
				if strings.HasPrefix(filepath.Ext(c.name), ".sh") {
					// The name was diameter_mm; the format cuts it at ten bytes.
					o.DiameterField = "diameter_m=mm"
				}
				if c.crs != "" {
					must(t, o.SetCRS(c.crs, nil))
				}
			})
			if got.Records != want.Records {
				t.Errorf("%d records, want %d; warnings %q", got.Records, want.Records, got.Warnings)
			}
			if !c.id {
				// Without names the partners are found by place alone.
				near(t, "lateral", got.Lateral.RMSE, want.Lateral.RMSE, 0.03)
				return
			}
			for i := range want.Pairs {
				w := &want.Pairs[i]
				g := pairOf(t, got, w.AsBuiltID)
				near(t, w.AsBuiltID+" lateral", g.Lateral.Mean, w.Lateral.Mean, 2e-4) // m: digits of the files
				near(t, w.AsBuiltID+" length", g.Length, w.Length, 2e-3)
				if w.Depth.N > 0 {
					near(t, w.AsBuiltID+" depth", g.Depth.Mean, w.Depth.Mean, 2e-4)
					near(t, w.AsBuiltID+" depth's uncertainty", g.Depth.Mean95, w.Depth.Mean95, 2e-4)
				}
			}
		})
	}
}

// A name that a Shapefile cut has lost its unit: 160 mm must not become 160 m, nor
// 96 mm 96 m.
func TestCutNames(t *testing.T) {
	d := demo(t)
	folder, path := locate(t, d), asBuiltOf(t, d)
	out := filepath.Join(t.TempDir(), "a.shp")
	if text, err := exec.Command(tool(t, "ogr2ogr"), "-f", "ESRI Shapefile", out, path).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	r := run(t, folder, out, nil)
	hasWarning(t, r, "--diameter-field diameter_m=mm")
	for i := range r.Pairs {
		if p := &r.Pairs[i]; p.Depth.N > 0 && p.Depth.Mean95 > 1.5 {
			t.Errorf("%s: a depth is uncertain by %v m", p.AsBuiltID, p.Depth.Mean95)
		}
	}
}
