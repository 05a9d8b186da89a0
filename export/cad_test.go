package export_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/lab/invented"
)

func lookup(t *testing.T, code int) *geodesy.CRS {
	t.Helper()
	crs, err := geodesy.LookupCRS(code)
	if err != nil {
		t.Fatal(err)
	}
	return crs
}

// byLayer sorts what GDAL reads from a DXF by its layers.
func byLayer(c collection) map[string][]json.RawMessage {
	out := map[string][]json.RawMessage{}
	for _, f := range c.Features {
		name, _ := f.Properties["Layer"].(string)
		out[name] = append(out[name], f.Geometry)
	}
	return out
}

// GDAL reads the drawing: each kind of content on its utility's layer, lines in
// space where the GeoPackage in the same system has them.
func TestGDALReadsDXF(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	opt := export.Options{CRS: lookup(t, 32626)}
	layers := byLayer(ogr(t, filepath.Join(write(t, m, format(t, "dxf"), opt), "map.dxf"), "entities"))
	for layer, want := range map[string]int{
		"WATER_LINE": 1, "WATER_CORRIDOR": 1, "WATER_TEXT": 7, "WATER_POINT": 3, "GAS_LINE": 0, "GAS_LINE_NO_HEIGHT": 1, "GAS_CORRIDOR": 2,
		"ELECTRIC_LINE": 1, "ELECTRIC_DOUBTFUL": 1, "COMMUNICATIONS_LINE": 1, "COMMUNICATIONS_CORRIDOR": 2, "CAUTION": 1,
	} {
		if got := len(layers[layer]); got != want {
			t.Errorf("%s holds %d, want %d", layer, got, want)
		}
	}
	file := filepath.Join(write(t, m, format(t, "gpkg"), opt), "map.gpkg")
	lines := ogr(t, file, "lines")
	for layer, i := range map[string]int{"WATER_LINE": 0, "ELECTRIC_LINE": 3, "COMMUNICATIONS_LINE": 4} {
		got := positions(t, layers[layer][0])
		want := positions(t, lines.Features[i].Geometry)
		if len(got) != len(want) {
			t.Errorf("%s: %d positions, want %d", layer, len(got), len(want))
			continue
		}
		for k := range got {
			if math.Hypot(got[k].X-want[k].X, got[k].Y-want[k].Y) > 2e-4 || math.Abs(got[k].Z-want[k].Z) > 0.0011 {
				t.Errorf("%s: position %v, want %v", layer, got[k], want[k])
			}
		}
	}
}

// In a system of feet all three coordinates are feet.
func TestDXFInFeet(t *testing.T) {
	m := invented.Day(geodesy.Geo{Lat: 40.8, Lon: -73.6, H: 30})
	crs := lookup(t, 6539) // NAD83(2011) / New York Long Island (ftUS)
	layers := byLayer(ogr(t, filepath.Join(write(t, m, format(t, "dxf"), export.Options{CRS: crs}), "map.dxf"), "entities"))
	v := m.Lines[0].Parts[0].Vertices
	got := positions(t, layers["WATER_LINE"][0])
	x, y, h, err := crs.Forward(geodesy.Geo{Lat: v[1].Ground.Lat, Lon: v[1].Ground.Lon, H: v[1].Ground.H - v[1].Depth}, geodesy.FrameITRF2020, 2031.34)
	if err != nil {
		t.Fatal(err)
	}
	const foot = 1200.0 / 3937
	if math.Abs(got[1].X-x) > 0.001 || math.Abs(got[1].Y-y) > 0.001 || math.Abs(got[1].Z-h/foot) > 0.005 { // heights are kept to the millimetre
		t.Errorf("position %v, want %v %v %v", got[1], x, y, h/foot)
	}
	if length := math.Hypot(got[1].X-got[0].X, got[1].Y-got[0].Y) * foot; math.Abs(length-v[1].Station) > 0.01 { // grid scale
		t.Errorf("first straight is %.3f m long, want %.3f", length, v[1].Station)
	}
}

// A drawing in degrees is refused with a system that would do.
func TestDXFNeedsProjection(t *testing.T) {
	for _, opt := range []export.Options{{}, {CRS: lookup(t, 4258)}} {
		err := export.Write(context.Background(), t.TempDir(), invented.Day(invented.Atlantic), []export.Format{format(t, "dxf")}, opt)
		if !errors.Is(err, export.ErrNotProjected) || !strings.Contains(err.Error(), "EPSG:32626") {
			t.Errorf("error %v", err)
		}
	}
}

// R12 allows only some characters and 31 of them in a layer's name, and only
// ASCII elsewhere; pairs of lines alternate to the end.
func TestDXFIsR12(t *testing.T) {
	for _, c := range invented.Cases() {
		f := format(t, "dxf")
		b := read(t, write(t, c.Map, f, options(t, f, c.Map)), "map.dxf")
		lines := strings.Split(strings.TrimSuffix(string(b), "\r\n"), "\r\n")
		if len(lines)%2 != 0 || lines[len(lines)-1] != "EOF" {
			t.Fatalf("%s: %d lines, the last is %q", c.Name, len(lines), lines[len(lines)-1])
		}
		for i := 0; i < len(lines); i += 2 {
			var code int
			if _, err := fmt.Sscanf(lines[i], "%d", &code); err != nil {
				t.Fatalf("%s: line %d is %q, no group code", c.Name, i+1, lines[i])
			}
			if code == 8 && (len(lines[i+1]) > 31 || strings.Trim(lines[i+1], "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_") != "") {
				t.Errorf("%s: layer %q", c.Name, lines[i+1])
			}
		}
		for _, r := range string(b) {
			if r > 0x7E {
				t.Fatalf("%s: %q is not ASCII", c.Name, r)
			}
		}
	}
}

// GDAL reads the shapefiles: same places as GeoJSON, names whole in UTF-8, depths
// not read as null, and heights not known marked as such.
func TestGDALReadsShapefiles(t *testing.T) {
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			dir := write(t, c.Map, format(t, "shp"), export.Options{})
			wanted := collections(t, c.Map)
			for _, layer := range []string{"lines", "corridors", "readings"} {
				got := ogr(t, filepath.Join(dir, layer+".shp"), "")
				if len(got.Features) != len(wanted[layer].Features) {
					t.Fatalf("%s: %d features, want %d", layer, len(got.Features), len(wanted[layer].Features))
				}
				for i, f := range got.Features {
					sameShapefileGeometry(t, layer, f.Geometry, wanted[layer].Features[i].Geometry, f.Properties["z_known"])
					for ours, name := range map[string]string{"line_id": "line_id", "depth_min_m": "dep_min_m", "flags": "flags"} {
						want, there := wanted[layer].Features[i].Properties[ours]
						if there && fmt.Sprint(f.Properties[name]) != fmt.Sprint(want) && !(want == "" && f.Properties[name] == nil) {
							t.Errorf("%s %d: %s is %v, want %v", layer, i, name, f.Properties[name], want)
						}
					}
				}
			}
		})
	}
}

func sameShapefileGeometry(t *testing.T, layer string, got, want json.RawMessage, zKnown any) {
	t.Helper()
	if layer == "lines" && strings.HasPrefix(string(want), `{"type":"Point"`) {
		if len(got) > 0 && string(got) != "null" {
			t.Errorf("a single reading has line geometry %s", got)
		}
		return
	}
	if layer == "corridors" { // rings turn the other way: compare their extents and number
		g, w := boxOf(t, got), boxOf(t, want)
		for i := range g {
			if math.Abs(g[i]-w[i]) > 1e-9 {
				t.Errorf("corridor spans %v, want %v", g, w)
			}
		}
		if area, whole := area(t, got), area(t, want); math.Abs(area-whole) > 1e-9*whole+1e-16 {
			t.Errorf("corridor's area %g, want %g", area, whole)
		}
		return
	}
	g, w := positions(t, got), positions(t, want)
	if len(g) != len(w) {
		t.Errorf("%s: %d positions, want %d", layer, len(g), len(w))
		return
	}
	flat := strings.Count(string(want[:strings.Index(string(want), "]")]), ",") == 2 // type, then two numbers
	for i := range g {
		z := w[i].Z
		if flat {
			z = -99999
		}
		if math.Abs(g[i].X-w[i].X) > 1e-9 || math.Abs(g[i].Y-w[i].Y) > 1e-9 || math.Abs(g[i].Z-z) > 0.001 {
			t.Errorf("%s: position %v, want %v", layer, g[i], w[i])
		}
	}
	if (fmt.Sprint(zKnown) == "true" || fmt.Sprint(zKnown) == "1" || zKnown == "T") == flat {
		t.Errorf("%s: z_known is %v, heights known: %v", layer, zKnown, !flat)
	}
}

func boxOf(t *testing.T, raw json.RawMessage) [4]float64 {
	t.Helper()
	b := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range positions(t, raw) {
		b = [4]float64{min(b[0], p.X), min(b[1], p.Y), max(b[2], p.X), max(b[3], p.Y)}
	}
	return b
}

// The .prj is read as the system that it stands for.
func TestShapefileSystem(t *testing.T) {
	for code, name := range map[int]string{0: "WGS 84", 32626: "WGS 84 / UTM zone 26N"} {
		opt := export.Options{}
		if code != 0 {
			opt.CRS = lookup(t, code)
		}
		dir := write(t, invented.Day(invented.Atlantic), format(t, "shp"), opt)
		out, err := exec.Command(tool(t, "ogrinfo"), "-ro", "-so", filepath.Join(dir, "lines.shp"), "lines").CombinedOutput()
		if err != nil || !strings.Contains(string(out), `"`+name+`"`) {
			t.Errorf("%v\n%s", err, out)
		}
	}
}

// A text that a DBF field cannot hold ends in an ellipsis, whole characters only.
func TestShapefileLongText(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	m.Lines[0].ID = strings.Repeat("Straße ", 60)
	got := ogr(t, filepath.Join(write(t, m, format(t, "shp"), export.Options{}), "lines.shp"), "")
	name, _ := got.Features[0].Properties["line_id"].(string)
	if !strings.HasSuffix(name, "…") || len(name) > 254 || len(name) < 250 || !strings.HasPrefix(m.Lines[0].ID, strings.TrimSuffix(name, "…")) {
		t.Errorf("name of %d bytes: %q", len(name), name)
	}
}

// In a drawing in feet every length in a text is in feet and says so: a bare 2.07
// there is read as feet. Checks against: the depths in metres over 1200/3937.
func TestDrawingInFeetHasDepthsInFeet(t *testing.T) {
	m := invented.Day(geodesy.Geo{Lat: 40.8, Lon: -73.6, H: 30})
	d := drawings(t, filepath.Join(write(t, m, format(t, "dxf"), export.Options{CRS: lookup(t, 6539)}), "map.dxf"))[0]
	depths := 0
	for _, x := range d.Texts {
		if strings.HasSuffix(x.Layer, "_DEPTH") {
			depths++
			v, err := strconv.ParseFloat(strings.TrimSuffix(x.Text, " ft"), 64)
			if err != nil || !strings.HasSuffix(x.Text, " ft") || v < 1 {
				t.Errorf("%s: depth %q, want feet", x.Layer, x.Text)
			}
		}
		if strings.HasSuffix(x.Layer, "_TEXT") && strings.Contains(x.Text, " m") {
			t.Errorf("%s: %q is in metres", x.Layer, x.Text)
		}
	}
	if depths == 0 {
		t.Error("no depths")
	}
}
