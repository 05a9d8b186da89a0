package export_test

import (
	"archive/zip"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/lab/invented"
)

func fieldOf(t *testing.T, row map[string]string, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[name], 64)
	if err != nil {
		t.Fatalf("%s is %q", name, row[name])
	}
	return v
}

// In a system of feet all three ordinates are feet, in every format alike; lon,
// lat and heights in fields are in the frame of the geometry, which the field frame
// names. The check: the fields of a row, brought into the system by themselves,
// give its x, y and z.
func TestOneFrameAndOneUnitAFile(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	for _, c := range []struct {
		code  int
		frame string
	}{{6529, "NAD83(2011)"}, {25826 + 4, "ETRS89"}, {32626, "WGS84"}, {2056, "ETRS89"}, {4258, "ETRS89"}} {
		crs := lookup(t, c.code)
		dir := write(t, m, format(t, "csv"), export.Options{CRS: crs})
		_, rows := table(t, dir, "vertices.csv")
		unit := 1.0
		if crs.IsProjected() {
			unit = crs.Unit().Metres
		}
		heights := 0
		for _, row := range rows {
			if row["frame"] != c.frame {
				t.Fatalf("EPSG:%d: frame is %q", c.code, row["frame"])
			}
			if row["z"] == "" {
				continue
			}
			heights++
			g := geodesy.Geo{Lat: fieldOf(t, row, "lat"), Lon: fieldOf(t, row, "lon"), H: fieldOf(t, row, "height_m")}
			x, y, h, err := crs.Forward(g, crs.Frame(), math.NaN())
			scale := unit
			if !crs.IsProjected() {
				scale = 111_000
			}
			d := math.Hypot(x-fieldOf(t, row, "x"), y-fieldOf(t, row, "y")) * scale
			if err != nil || d > 0.5e-3 || math.Abs(h-fieldOf(t, row, "z")*unit) > 1.1e-3 {
				t.Errorf("EPSG:%d: fields lead to %.4f %.4f %.4f m (%v), the row has %s %s %s", c.code, x, y, h, err, row["x"], row["y"], row["z"])
			}
		}
		if heights == 0 {
			t.Fatalf("EPSG:%d: no row with a height", c.code)
		}
		_, lines := table(t, dir, "lines.csv")
		if lines[0]["frame"] != c.frame {
			t.Errorf("EPSG:%d: lines.csv is in %q", c.code, lines[0]["frame"])
		}
		gpkg := filepath.Join(write(t, m, format(t, "gpkg"), export.Options{CRS: crs}), "map.gpkg")
		if got := query(t, gpkg, "SELECT group_concat(DISTINCT frame) FROM (SELECT frame FROM lines UNION SELECT frame FROM vertices UNION SELECT frame FROM readings UNION SELECT frame FROM corridors)"); got != c.frame {
			t.Errorf("EPSG:%d: the GeoPackage is in %q", c.code, got)
		}
	}
}

// A shape without heights lies where those with heights do: in the Swiss grid,
// whose datum leans against the frame, the plan depends on the height by 27 mm a
// kilometre. Five hundred metres of ground moved a line without depth by 12 mm.
func TestShapesWithoutHeightLieOnTheGround(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			for k := range m.Lines[i].Parts[j].Vertices {
				m.Lines[i].Parts[j].Vertices[k].Ground.H += 1000
			}
		}
	}
	_, with := table(t, write(t, m, format(t, "csv"), export.Options{CRS: lookup(t, 2056)}), "vertices.csv")
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			for k := range m.Lines[i].Parts[j].Vertices {
				m.Lines[i].Parts[j].Vertices[k].Depth = math.NaN()
			}
		}
	}
	_, without := table(t, write(t, m, format(t, "csv"), export.Options{CRS: lookup(t, 2056)}), "vertices.csv")
	for i := range with {
		if without[i]["z"] != "" {
			t.Fatalf("row %d has a height", i)
		}
		if d := math.Hypot(fieldOf(t, with[i], "x")-fieldOf(t, without[i], "x"), fieldOf(t, with[i], "y")-fieldOf(t, without[i], "y")); d > 1e-3 {
			t.Errorf("row %d: %.1f mm apart", i, d*1000)
		}
	}
}

// No file holds the folder that an input was typed with, and a KMZ's files are
// dated by the survey.
func TestNoFolderLeaks(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	const folder = "/home/somebody/Clients"
	for i := range m.Readings {
		r := *m.Readings[i].Reading
		r.File = folder + "/readings.csv"
		m.Readings[i].Reading = &r
	}
	if m.Summary != nil {
		for i := range m.Summary.Inputs {
			m.Summary.Inputs[i].File = folder + "/day.nmea"
		}
	}
	for _, name := range []string{"csv", "geojson", "kml"} {
		dir := write(t, m, format(t, name), export.Options{})
		for _, f := range format(t, name).Files {
			if strings.Contains(string(read(t, dir, f)), "Clients") {
				t.Errorf("%s holds the folder", f)
			}
		}
	}
	gpkg := filepath.Join(write(t, m, format(t, "gpkg"), export.Options{}), "map.gpkg")
	if got := query(t, gpkg, "SELECT count(*) FROM gpkg_metadata WHERE metadata LIKE '%Clients%'") + query(t, gpkg, "SELECT count(*) FROM readings WHERE file LIKE '%Clients%'"); got != "00" {
		t.Errorf("map.gpkg holds the folder: %s", got)
	}
	z, err := zip.OpenReader(filepath.Join(write(t, m, format(t, "kmz"), export.Options{}), "map.kmz"))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	for _, f := range z.File {
		if d := f.Modified.Sub(m.Meta.To).Seconds(); math.Abs(d) > 2 {
			t.Errorf("%s is of %v, the survey of %v", f.Name, f.Modified, m.Meta.To)
		}
	}
}
