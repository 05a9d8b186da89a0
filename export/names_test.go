package export_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/peterstace/simplefeatures/geom"
	"pgregory.net/rapid"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/formula"
	"tracemap/internal/lab/invented"
	"tracemap/result"
)

// Whatever a log calls a line or notes beside a reading: every format writes it,
// what should parse does, and the name comes back from GeoJSON, and from CSV as
// it is guarded against formulas.
func TestAnyName(t *testing.T) {
	formats := []export.Format{format(t, "geojson"), format(t, "kml"), format(t, "csv"), format(t, "gpkg"), format(t, "shp"), format(t, "dxf"), format(t, "gpx"), format(t, "summary")}
	crs := lookup(t, 32626)
	rapid.Check(t, func(rt *rapid.T) {
		m := invented.Straight(invented.Atlantic, 20)
		name := rapid.String().Draw(rt, "name")
		m.Lines[0].ID, m.Meta.Title, m.Meta.Job = name, name, rapid.String().Draw(rt, "job")
		m.Revisit = []result.Revisit{{LineID: name, Reason: name, Advice: name}}
		dir, err := os.MkdirTemp(t.TempDir(), "")
		if err != nil {
			rt.Fatal(err)
		}
		if err := export.Write(context.Background(), dir, m, formats, export.Options{CRS: crs}); err != nil {
			rt.Fatal(err)
		}
		var fc collection
		if err := json.Unmarshal(read(t, dir, "lines.geojson"), &fc); err != nil {
			rt.Fatal(err)
		}
		if got := fc.Features[0].Properties["line_id"]; name != "" && got != name {
			rt.Errorf("GeoJSON gives %q back for %q", got, name)
		}
		records, err := csv.NewReader(bytes.NewReader(read(t, dir, "lines.csv"))).ReadAll()
		if err != nil {
			rt.Fatal(err)
		}
		// With the marks that keep a spreadsheet from running it; the reader takes CRLF inside quotes for a line feed.
		if got, want := records[1][0], formula.Guard(name); got != want && name != "" && !strings.Contains(name, "\r") {
			rt.Errorf("CSV gives %q back for %q, not %q", got, name, want)
		}
		for _, file := range []string{"map.kml", "revisit.gpx"} {
			d := xml.NewDecoder(bytes.NewReader(read(t, dir, file)))
			for {
				if _, err := d.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					rt.Fatalf("%s: %v", file, err)
				}
			}
		}
		if query(t, filepath.Join(dir, "map.gpkg"), "PRAGMA integrity_check") != "ok" {
			rt.Error("the GeoPackage is broken")
		}
	})
}

// Wherever on earth a day lies, its corridors are valid, lie on the map and keep
// their area: a degree of longitude shrinks with the cosine of latitude.
func TestAnywhereOnEarth(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		origin := geodesy.Geo{Lat: rapid.Float64Range(-89.99, 89.99).Draw(rt, "lat"), Lon: rapid.Float64Range(-180, 180).Draw(rt, "lon"), H: 10}
		if rapid.Bool().Draw(rt, "at the antimeridian") {
			origin.Lon = 180 - rapid.Float64Range(-0.001, 0.001).Draw(rt, "off")
		}
		m := invented.Day(origin)
		corridors := collections(t, m)["corridors"]
		// The ring has 24 corners on a radius of 9 m.
		ring := corridors.Features[len(corridors.Features)-1]
		g, err := geom.UnmarshalGeoJSON(ring.Geometry)
		if err != nil {
			rt.Fatal(err)
		}
		metres := 6378137.0 * math.Pi / 180
		got := g.Area() * metres * metres * math.Cos(origin.Lat*math.Pi/180)
		want := 24 * 2 * 9 * math.Sin(math.Pi/24) * 2 * 1.96 * 0.09 // 24 straights and the width, mitred
		if math.Abs(got/want-1) > 0.03 && math.Abs(origin.Lat) < 89 {
			rt.Errorf("area %.3f m², want %.3f m²", got, want)
		}
	})
}
