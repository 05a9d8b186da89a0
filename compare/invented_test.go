package compare_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/compare"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// sea is a place where nothing lies in the ground.
var sea = geodesy.Geo{Lat: 55.5, Lon: 3, H: math.NaN()}

// A found line is a located line as convert would write it.
type found struct {
	line    string
	part    int
	utility string
	pts     []plane.Pt
	half    float64 // 95 %
	depth   float64 // NaN for none
	depth95 float64
	cover   float64 // NaN for no diameter
	fix     string
}

// located writes an output folder of convert with these lines about a place.
func located(t testing.TB, at geodesy.Geo, lines ...found) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "day")
	if err := os.Mkdir(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	local := geodesy.NewLocal(at)
	var features []map[string]any
	var vertices strings.Builder
	vertices.WriteString("line_id,part,vertex,station_m,lon,lat,ground_height_m,depth_m,height_m,half_width_m,depth_95_m,current_ma,flags,utility,cover_m,height_95_m,gnss_fix\r\n")
	text := func(v float64) string {
		if math.IsNaN(v) {
			return ""
		}
		return fmt.Sprintf("%.4f", v)
	}
	for _, l := range lines {
		if l.part == 0 {
			l.part = 1
		}
		if l.fix == "" {
			l.fix = "rtk_fixed"
		}
		var coordinates [][2]float64
		for i, p := range l.pts {
			g := local.Inverse(p)
			coordinates = append(coordinates, [2]float64{g.Lon, g.Lat})
			fmt.Fprintf(&vertices, "%s,%d,%d,%.3f,%.10f,%.10f,,%s,,%.4f,%s,,,%s,%s,,%s\r\n", l.line, l.part, i+1, plane.Polyline(l.pts[:i+1]).Length(),
				g.Lon, g.Lat, text(l.depth), l.half, text(l.depth95), l.utility, text(l.cover), l.fix)
		}
		geometry := map[string]any{"type": "LineString", "coordinates": coordinates}
		if len(coordinates) == 1 {
			geometry = map[string]any{"type": "Point", "coordinates": coordinates[0]}
		}
		features = append(features, map[string]any{"type": "Feature", "geometry": geometry, "properties": map[string]any{
			"line_id": l.line, "part": l.part, "utility": l.utility, "half_width_max_m": l.half, "frame": "WGS84", "flags": "",
			"surveyed_from": "2025-07-02T08:00:00Z", "surveyed_to": "2025-07-02T10:00:00Z", "gnss_fix": l.fix,
			"depth_min_m": number(l.depth), "depth_max_m": number(l.depth), "depth_95_max_m": number(l.depth95),
		}})
	}
	save(t, filepath.Join(dir, "lines.geojson"), map[string]any{"type": "FeatureCollection", "name": "lines", "features": features})
	if err := os.WriteFile(filepath.Join(dir, "vertices.csv"), []byte(vertices.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	return dir
}

func number(v float64) any {
	if math.IsNaN(v) {
		return nil
	}
	return v
}

func save(t testing.TB, path string, v any) {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b, 0o666); err != nil {
		t.Fatal(err)
	}
}

// A built line is a feature of a record: one line, or several.
type built struct {
	props map[string]any
	lines [][]plane.Pt
}

// line is a feature with a name and a utility.
func line(id, utility string, pts ...plane.Pt) built {
	return built{map[string]any{"id": id, "utility": utility}, [][]plane.Pt{pts}}
}

// with adds a property.
func (b built) with(name string, v any) built {
	props := map[string]any{name: v}
	for k, o := range b.props {
		if _, ok := props[k]; !ok {
			props[k] = o
		}
	}
	return built{props, b.lines}
}

// record writes a GeoJSON whose coordinates a function makes of places; nil
// writes longitude and latitude.
func record(t testing.TB, at geodesy.Geo, crs string, coordinates func(geodesy.Geo) [2]float64, lines ...built) string {
	t.Helper()
	if coordinates == nil {
		coordinates = func(g geodesy.Geo) [2]float64 { return [2]float64{g.Lon, g.Lat} }
	}
	local := geodesy.NewLocal(at)
	var features []map[string]any
	for _, b := range lines {
		var all [][][2]float64
		for _, l := range b.lines {
			one := [][2]float64{}
			for _, p := range l {
				one = append(one, coordinates(local.Inverse(p)))
			}
			all = append(all, one)
		}
		geometry := map[string]any{"type": "MultiLineString", "coordinates": all}
		if len(all) == 1 {
			geometry = map[string]any{"type": "LineString", "coordinates": all[0]}
		}
		features = append(features, map[string]any{"type": "Feature", "geometry": geometry, "properties": b.props})
	}
	collection := map[string]any{"type": "FeatureCollection", "features": features}
	if crs != "" {
		collection["crs"] = map[string]any{"type": "name", "properties": map[string]any{"name": crs}}
	}
	path := filepath.Join(t.TempDir(), "record.geojson")
	save(t, path, collection)
	return path
}

func pt(e, n float64) plane.Pt { return plane.Pt{E: e, N: n} }

// moved shifts points.
func moved(by plane.Pt, pts ...plane.Pt) []plane.Pt {
	var out []plane.Pt
	for _, p := range pts {
		out = append(out, p.Add(by))
	}
	return out
}

// steel is a located water line on RTK with a narrow width and no depth.
func steel(name string, pts ...plane.Pt) found {
	return found{line: name, utility: "water", pts: pts, half: 0.08, depth: math.NaN(), depth95: math.NaN(), cover: math.NaN()}
}

func pairOf(t testing.TB, r *compare.Result, id string) *compare.Pair {
	t.Helper()
	for i := range r.Pairs {
		if r.Pairs[i].AsBuiltID == id {
			return &r.Pairs[i]
		}
	}
	t.Fatalf("no pair for %s; pairs %v, not located %v", id, names(r), r.NotLocated)
	return nil
}

// names lists the pairs as record=located.
func names(r *compare.Result) []string {
	out := []string{}
	for _, p := range r.Pairs {
		out = append(out, p.AsBuiltID+"="+strings.Join(p.LineIDs, "+"))
	}
	return out
}

func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.5g, want %.5g ± %g", what, got, want, tolerance)
	}
}

func hasWarning(t testing.TB, r *compare.Result, text string) {
	t.Helper()
	for _, w := range r.Warnings {
		if strings.Contains(w, text) {
			return
		}
	}
	t.Errorf("no warning says %q: %q", text, r.Warnings)
}
