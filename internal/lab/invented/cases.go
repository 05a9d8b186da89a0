package invented

import (
	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/result"
)

// A Case is a map that every format has to write.
type Case struct {
	Name string
	Map  *result.Map
}

// Cases are the maps that every format has to write: nothing, one point, an
// ordinary day, everything missing, and the corners of the earth.
func Cases() []Case {
	return []Case{
		{"empty", Empty(Atlantic)},
		{"one reading", onePoint()},
		{"day", Day(Atlantic)},
		{"south and east", Day(geodesy.Geo{Lat: -36.5, Lon: 152.25, H: -12})},
		{"equator and Greenwich", Day(geodesy.Geo{Lat: 0, Lon: 0, H: 0})},
		{"antimeridian", Day(geodesy.Geo{Lat: -17, Lon: 179.9997, H: 40})},
		{"north pole", Day(geodesy.Geo{Lat: 89.9999, Lon: 12, H: 5})},
		{"south pole", Day(geodesy.Geo{Lat: -89.99995, Lon: 170, H: 2800})},
		{"around the pole", Polar()},
		{"everything missing", Bad()},
	}
}

// onePoint is a map with a single marker.
func onePoint() *result.Map {
	d := &day{m: Empty(Atlantic), row: 1}
	r := blank(2)
	r.Feature, r.Time = "marker", start
	p := fuse.Placed{Reading: r, OK: true, UTC: start, Geo: d.ground(plane.Pt{}), Radius: 0.02, Station: nan, Offset: nan}
	d.m.Readings = []fuse.Placed{p}
	d.finishOne()
	return d.m
}

func (d *day) finishOne() {
	d.m.Points = []fuse.Point{{Placed: &d.m.Readings[0]}}
	d.m.Summary.Readings.Total, d.m.Summary.Readings.Placed = 1, 1
}

// Polar is a ring laid round the north pole itself, so that its corridor and
// the hole in it both hold the pole.
func Polar() *result.Map {
	d := &day{m: Empty(geodesy.Geo{Lat: 90, Lon: 0, H: 0}), row: 1}
	d.ring()
	part := &d.m.Lines[0].Parts[0]
	centre := plane.Pt{E: 70, N: 8}
	for i := range part.Vertices {
		v := &part.Vertices[i]
		v.At = v.At.Sub(centre)
		v.Ground = d.ground(v.At)
	}
	part.Corridor = [][][]plane.Pt{outline(part.Vertices, true)}
	d.m.Readings = nil
	return d.m
}

// Straight is one straight of two vertices towards east, length metres long.
func Straight(origin geodesy.Geo, length float64) *result.Map {
	d := &day{m: Empty(origin), row: 1}
	vs := d.vertices([]plane.Pt{{}, {E: length}}, func(float64) (float64, float64, float64, float64) { return 1, 0.1, 0.05, nan })
	d.m.Lines = []fuse.Line{{ID: "straight", Utility: "water", Frequency: nan, Parts: []fuse.Part{d.part(1, vs, false)}}}
	return d.m
}
