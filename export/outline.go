package export

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/present"
	"tracemap/result"
)

// A pos is a position as a file writes it: longitude and latitude in degrees,
// or east and north in metres, and the height, NaN where it is not known.
type pos struct{ x, y, z float64 }

// A path is a line; one position when a part is a single reading.
type path []pos

// chordError is how far, m, a line drawn straight between two positions in
// longitude and latitude may leave the line drawn straight on the ground before
// positions are put between. RFC 7946 §3.1.1 draws lines straight in longitude
// and latitude; at 50° north a straight of 500 m is 6 mm off at its middle.
const chordError = 0.005

// shortChord is a length, m, at which the chord is not worth looking at: up to 85°
// of latitude it leaves the straight by less than 0.1 mm (length² × tan of the
// latitude / 8 earth radii).
const shortChord = 20

// A draft is room for the steps on the way to a shape, used again and again where
// shapes are made one by one; the shapes themselves do not lie in it.
type draft struct {
	trace []geodesy.Geo
	at    []pos
}

// partTrace gives a part's positions along the utility's centre, heights
// ellipsoidal. Either every height is known or none is given, for most readers
// take a line to have one dimension.
func (d *draft) partTrace(m *result.Map, part *fuse.Part) []geodesy.Geo {
	flat := false
	for i := range part.Vertices {
		flat = flat || !present.Known(result.Height(&part.Vertices[i]))
	}
	trace := slices.Grow(d.trace[:0], len(part.Vertices))
	for i := range part.Vertices {
		v := &part.Vertices[i]
		g := v.Ground
		g.H = result.Height(v)
		if flat {
			g.H = math.NaN()
		}
		if i > 0 {
			trace = densify(m, trace, part.Vertices[i-1].At, v.At, g, 8)
		}
		trace = append(trace, g)
	}
	d.trace = trace
	return trace
}

// ringTrace gives a ring of the day's plane in geodetic coordinates, closed.
func (d *draft) ringTrace(m *result.Map, ring []plane.Pt) []geodesy.Geo {
	trace := slices.Grow(d.trace[:0], len(ring))
	for i, p := range ring {
		g := m.Place.Inverse(p)
		if i > 0 {
			trace = densify(m, trace, ring[i-1], p, g, 8)
		}
		trace = append(trace, g)
	}
	if len(trace) > 0 {
		trace[len(trace)-1] = trace[0]
	}
	d.trace = trace
	return trace
}

// densify appends to trace what has to lie between its last place, at p in the
// plane, and g, at q, to keep the chord's error. Each level halves the stretch.
func densify(m *result.Map, trace []geodesy.Geo, p, q plane.Pt, g geodesy.Geo, levels int) []geodesy.Geo {
	if m.Place == nil || levels == 0 {
		return trace
	}
	last := trace[len(trace)-1]
	if p.Dist(q) < shortChord && math.Abs(g.Lat) < 85 {
		return trace
	}
	middle := plane.Pt.Lerp(p, q, 0.5)
	chord := geodesy.Geo{Lat: (last.Lat + g.Lat) / 2, Lon: last.Lon + math.Remainder(g.Lon-last.Lon, 360)/2}
	if !(m.Place.Forward(chord).Dist(middle) > chordError) {
		return trace
	}
	between := m.Place.Inverse(middle)
	between.H = (last.H + g.H) / 2
	trace = densify(m, trace, p, middle, between, levels-1)
	trace = append(trace, between)
	return densify(m, trace, middle, q, g, levels-1)
}

// linePaths gives a part's line as a file writes it: one path, or more where it
// crosses the antimeridian.
func linePaths(m *result.Map, part *fuse.Part, to *target) ([]path, error) {
	return new(draft).linePaths(m, part, to)
}

func (d *draft) linePaths(m *result.Map, part *fuse.Part, to *target) ([]path, error) {
	trace := d.partTrace(m, part)
	if to == nil {
		d.at = unwrap(d.at[:0], trace)
		return cutPath(d.at), nil
	}
	p, err := to.all(nil, trace)
	return []path{p}, err
}

// corridorAreas gives a part's 95 % corridor as a file writes it: rings closed,
// the exterior first and counter-clockwise, holes clockwise. It has no heights.
func corridorAreas(m *result.Map, part *fuse.Part, to *target) (orb.MultiPolygon, error) {
	return new(draft).corridorAreas(m, part, to)
}

func (d *draft) corridorAreas(m *result.Map, part *fuse.Part, to *target) (orb.MultiPolygon, error) {
	var out orb.MultiPolygon
	for _, polygon := range part.Corridor {
		rings := make(orb.Polygon, len(polygon))
		for i, ring := range polygon {
			trace := d.ringTrace(m, ring)
			var err error
			if to == nil {
				d.at = unwrap(d.at[:0], trace)
			} else if d.at, err = to.all(d.at[:0], trace); err != nil {
				return nil, err
			}
			rings[i] = flat(d.at)
		}
		if to != nil {
			out = append(out, orient(rings))
			continue
		}
		cut, err := cutArea(rings)
		if err != nil {
			return nil, err
		}
		out = append(out, cut...)
	}
	return out, nil
}

// mayBeCut reports whether a part is near enough to the antimeridian or a pole for
// its line or corridor to be cut there.
func mayBeCut(vs []fuse.Vertex, to *target) bool {
	if to != nil {
		return false
	}
	for i := range vs {
		// At 85° of latitude 10° are 97 km: no corridor is as wide.
		if g := &vs[i].Ground; !(math.Abs(math.Remainder(g.Lon, 360)) < 170 && math.Abs(g.Lat) < 85) {
			return true
		}
	}
	return false
}

// unwrap appends longitudes that run on without a step over the antimeridian, the
// first within ±180, rounded to 0.1 mm: coarser, and valid corridors break.
func unwrap(out []pos, trace []geodesy.Geo) []pos {
	for i, g := range trace {
		lon := math.Remainder(g.Lon, 360)
		if i > 0 {
			last := out[len(out)-1].x
			lon = last + math.Remainder(g.Lon-last, 360)
		}
		out = append(out, pos{present.Round(lon, 9), present.Round(g.Lat, 9), present.Round(g.H, 3)})
	}
	return out
}

// flat gives positions as a ring.
func flat(ps []pos) orb.Ring {
	ring := make(orb.Ring, len(ps))
	for i, p := range ps {
		ring[i] = orb.Point{p.x, p.y}
	}
	return ring
}

// pathOf gives a ring's positions, without heights.
func pathOf(ring orb.Ring) path {
	p := make(path, len(ring))
	for i, at := range ring {
		p[i] = pos{at.X(), at.Y(), math.NaN()}
	}
	return p
}

// orient turns the exterior ring counter-clockwise and holes clockwise (RFC
// 7946 §3.1.6).
func orient(rings orb.Polygon) orb.Polygon {
	wrong := orb.CW
	for _, ring := range rings {
		if ring.Orientation() == wrong {
			ring.Reverse()
		}
		wrong = orb.CCW
	}
	return rings
}
