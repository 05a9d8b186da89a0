package export_test

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"github.com/peterstace/simplefeatures/geom"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/lab/invented"
	"tracemap/present"
	"tracemap/result"
)

type collection struct {
	Type     string            `json:"type"`
	BBox     []float64         `json:"bbox"`
	About    map[string]string `json:"about"`
	CRS      json.RawMessage   `json:"crs"`
	Features []struct {
		Type       string          `json:"type"`
		ID         any             `json:"id"`
		Geometry   json.RawMessage `json:"geometry"`
		Properties map[string]any  `json:"properties"`
	} `json:"features"`
}

func collections(t *testing.T, m *result.Map) map[string]collection {
	t.Helper()
	dir := write(t, m, format(t, "geojson"), export.Options{})
	out := map[string]collection{}
	for _, name := range []string{"lines", "corridors", "readings"} {
		var c collection
		if err := json.Unmarshal(read(t, dir, name+".geojson"), &c); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = c
	}
	return out
}

// The rules of RFC 7946 that a program can check: §3.1.6 rings, §3.1.9
// antimeridian, §3.2 features, §4 no crs, §5 bounding box; and OGC validity, by
// simplefeatures.
func TestGeoJSONKeepsRFC7946(t *testing.T) {
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			for name, fc := range collections(t, c.Map) {
				if fc.Type != "FeatureCollection" || fc.CRS != nil || fc.Features == nil {
					t.Errorf("%s: type %q, crs %s, features %v", name, fc.Type, fc.CRS, fc.Features)
				}
				if (fc.BBox == nil) != (len(fc.Features) == 0) {
					t.Errorf("%s: bbox %v with %d features", name, fc.BBox, len(fc.Features))
				}
				if fc.About["caution"] != present.Caution {
					t.Errorf("%s: caution %q", name, fc.About["caution"])
				}
				ids := map[any]bool{}
				for _, f := range fc.Features {
					if ids[f.ID] {
						t.Errorf("%s: id %v twice", name, f.ID)
					}
					ids[f.ID] = true
					checkGeometry(t, name, f.Geometry, fc.BBox)
				}
			}
		})
	}
}

func checkGeometry(t *testing.T, name string, raw json.RawMessage, bbox []float64) {
	t.Helper()
	g, err := geom.UnmarshalGeoJSON(raw)
	if err != nil {
		t.Errorf("%s: %v in %s", name, err, raw)
		return
	}
	if err := g.Validate(); err != nil {
		t.Errorf("%s: %v", name, err)
	}
	seq := g.DumpCoordinates()
	n := len(bbox) / 2
	for i := range seq.Length() {
		at := seq.GetXY(i)
		if math.Abs(at.X) > 180 || math.Abs(at.Y) > 90 {
			t.Errorf("%s: position %v off the map", name, at)
		}
		insideLon := at.X >= bbox[0] && at.X <= bbox[n]
		if bbox[0] > bbox[n] {
			insideLon = at.X >= bbox[0] || at.X <= bbox[n]
		}
		if !insideLon || at.Y < bbox[1] || at.Y > bbox[n+1] {
			t.Errorf("%s: position %v outside bbox %v", name, at, bbox)
		}
	}
	for _, part := range g.Dump() {
		if p, ok := part.AsPolygon(); ok && !p.IsCCW() {
			t.Errorf("%s: exterior ring is not counter-clockwise, or a hole is", name)
		}
	}
}

// A part that crosses 180° is cut there and loses nothing: its corridor keeps
// its area, and the bounding box runs from west of the line to east of it.
func TestGeoJSONCutsAtTheAntimeridian(t *testing.T) {
	there := invented.Day(geodesy.Geo{Lat: -17, Lon: 179.9997, H: 40})
	fc := collections(t, there)
	if b := fc["lines"].BBox; b[0] < 179 || b[len(b)/2] > -179 {
		t.Errorf("bbox %v does not run over the antimeridian", b)
	}
	types := map[string]int{}
	for _, f := range fc["lines"].Features {
		var g struct{ Type string }
		if err := json.Unmarshal(f.Geometry, &g); err != nil {
			t.Fatal(err)
		}
		types[g.Type]++
	}
	if types["MultiLineString"] == 0 {
		t.Fatalf("no line was cut: %v", types)
	}
	// The same day shifted away from the antimeridian has the same areas.
	away := collections(t, invented.Day(geodesy.Geo{Lat: -17, Lon: 100.9997, H: 40}))
	for i, f := range fc["corridors"].Features {
		got, want := area(t, f.Geometry), area(t, away["corridors"].Features[i].Geometry)
		if math.Abs(got/want-1) > 1e-4 { // positions are rounded to 1e-9°, 0.1 mm, on a width of 0.2 m
			t.Errorf("corridor %v: area %g, away from the antimeridian %g", f.ID, got, want)
		}
	}
}

func area(t *testing.T, raw json.RawMessage) float64 {
	t.Helper()
	g, err := geom.UnmarshalGeoJSON(raw)
	if err != nil {
		t.Fatal(err)
	}
	return g.Area()
}

// A ring around the pole itself: its corridor is the strip between the two
// circles, in longitude and latitude a band from −180 to 180.
func TestGeoJSONRingAroundThePole(t *testing.T) {
	fc := collections(t, invented.Polar())["corridors"]
	got := area(t, fc.Features[0].Geometry)
	half := 1.96 * 0.09 / 111694.0 // degrees of latitude at the pole; the ring has a radius of 9 m and 24 corners
	if want := 360 * 2 * half; math.Abs(got/want-1) > 0.02 {
		t.Errorf("area %g square degrees, a band of ±%.3g° all round has %g", got, half, want)
	}
}

// The third ordinate is the ellipsoidal height of the utility's centre; a part
// whose depth was never read has none, and its missing numbers are null.
func TestGeoJSONHeightsAndMissing(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	fc := collections(t, m)["lines"]
	for i, want := range []string{"LineString", "LineString", "Point", "LineString", "LineString"} {
		var g struct {
			Type        string
			Coordinates json.RawMessage
		}
		if err := json.Unmarshal(fc.Features[i].Geometry, &g); err != nil {
			t.Fatal(err)
		}
		if g.Type != want {
			t.Errorf("feature %d is a %s, want %s", i, g.Type, want)
		}
		if g.Type != "LineString" {
			continue
		}
		var at [][]float64
		if err := json.Unmarshal(g.Coordinates, &at); err != nil {
			t.Fatal(err)
		}
		v := m.Lines[[]int{0, 1, 1, 2, 3}[i]].Parts[0].Vertices[0]
		if !slices.Contains([]int{2, 3}, len(at[0])) || (len(at[0]) == 3) != (v.Depth == v.Depth) {
			t.Fatalf("feature %d: position %v with depth %v", i, at[0], v.Depth)
		}
		if len(at[0]) == 3 && math.Abs(at[0][2]-(v.Ground.H-v.Depth)) > 0.0005 { // written to the millimetre
			t.Errorf("feature %d: height %v, ground %v less depth %v", i, at[0][2], v.Ground.H, v.Depth)
		}
	}
	gas := fc.Features[1].Properties
	if v, there := gas["depth_min_m"]; v != nil || !there {
		t.Errorf("depth_min_m = %v where no depth was read, want null", v)
	}
	if gas["line_id"] != "Gas <main> & Söhne" || gas["flags"] == nil {
		t.Errorf("line_id %v, flags %v", gas["line_id"], gas["flags"])
	}
}

// A long straight stays within 5 mm of where it lies on the ground although
// readers draw it straight in longitude and latitude.
func TestGeoJSONLongStraight(t *testing.T) {
	m := invented.Straight(geodesy.Geo{Lat: 69, Lon: 20, H: 0}, 4000)
	var g struct{ Coordinates [][]float64 }
	if err := json.Unmarshal(collections(t, m)["lines"].Features[0].Geometry, &g); err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for i := 1; i < len(g.Coordinates); i++ {
		a, b := g.Coordinates[i-1], g.Coordinates[i]
		for f := 0.0; f <= 1; f += 0.125 {
			p := m.Place.Forward(geodesy.Geo{Lon: a[0] + f*(b[0]-a[0]), Lat: a[1] + f*(b[1]-a[1])})
			worst = max(worst, math.Abs(p.N)) // the straight runs along the plane's east axis
		}
	}
	if worst > 0.005 {
		t.Errorf("leaves the straight by %.4f m", worst)
	}
	if n := len(g.Coordinates); n < 5 || n > 40 {
		t.Errorf("%d positions for 4 km", n)
	}
}
