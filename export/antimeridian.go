package export

import (
	"fmt"
	"math"

	"tracemap/present"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

// Lines and corridors that cross longitude 180° are cut there, as RFC 7946
// §3.1.9 asks; a corridor around a pole reaches up to it.

// cutPath cuts a path whose longitudes run on beyond ±180.
func cutPath(p path) []path {
	if len(p) == 0 {
		return nil
	}
	turn := 0.0 // what has to be added to come back into ±180
	out := []path{make(path, 0, len(p))}
	for i, at := range p {
		if i > 0 {
			prev := p[i-1]
			for edge := crossing(prev.x+turn, at.x+turn); edge != 0; edge = crossing(prev.x+turn, at.x+turn) {
				f := (edge - turn - prev.x) / (at.x - prev.x)
				y, z := present.Round(prev.y+f*(at.y-prev.y), 9), present.Round(prev.z+f*(at.z-prev.z), 3)
				last := len(out) - 1
				out[last] = appendDistinct(out[last], pos{edge, y, z})
				out = append(out, path{{-edge, y, z}})
				turn -= 2 * edge
			}
		}
		last := len(out) - 1
		out[last] = appendDistinct(out[last], pos{present.Round(at.x+turn, 9), at.y, at.z})
	}
	return dropStubs(out)
}

// crossing gives the edge, ±180, over which a step from a to b leaves the map;
// 0 when it stays inside.
func crossing(a, b float64) float64 {
	switch {
	case b > 180 && a <= 180:
		return 180
	case b < -180 && a >= -180:
		return -180
	}
	return 0
}

func appendDistinct(p path, at pos) path {
	if n := len(p); n > 0 && p[n-1].x == at.x && p[n-1].y == at.y {
		return p
	}
	return append(p, at)
}

// dropStubs leaves out pieces of one position that a cut right on a vertex
// makes, unless nothing else is there.
func dropStubs(pieces []path) []path {
	var out []path
	for _, p := range pieces {
		if len(p) > 1 {
			out = append(out, p)
		}
	}
	if len(out) == 0 {
		return pieces[:1]
	}
	return out
}

// cutArea cuts a polygon whose rings run on beyond ±180. Rings that stay inside,
// which is nearly all, pass unchanged.
func cutArea(rings orb.Polygon) (orb.MultiPolygon, error) {
	if len(rings) == 0 {
		return nil, nil
	}
	inside := true
	for _, ring := range rings {
		box := ring.Bound()
		inside = inside && ring[0].X() == ring[len(ring)-1].X() && box.Left() >= -180 && box.Right() <= 180
	}
	if inside {
		return orb.MultiPolygon{orient(rings)}, nil
	}
	whole, err := spread(rings)
	if err != nil {
		return nil, err
	}
	env := whole.Envelope()
	low, high, _ := env.MinMaxXYs()
	var pieces []geom.Geometry
	for k := math.Floor((low.X + 180) / 360); k <= math.Floor((high.X+180)/360); k++ {
		window := geom.NewEnvelope(geom.XY{X: 360*k - 180, Y: -90}, geom.XY{X: 360*k + 180, Y: 90})
		piece, err := geom.Intersection(whole, window.AsGeometry())
		if err != nil {
			return nil, fmt.Errorf("cut a corridor at the antimeridian: %w", err)
		}
		pieces = append(pieces, piece.TransformXY(func(at geom.XY) geom.XY {
			return geom.XY{X: present.Round(at.X-360*k, 9), Y: present.Round(at.Y, 9)}
		}))
	}
	// Pieces of a ring around a pole meet where the ring began.
	joined, err := geom.UnionMany(pieces)
	if err != nil {
		return nil, fmt.Errorf("join the pieces of a corridor: %w", err)
	}
	return polygons(joined), nil
}

// spread makes one geometry of rings that may run around a pole: the exterior
// less the holes, each ring closed over the pole where it has to be.
func spread(rings orb.Polygon) (geom.Geometry, error) {
	var whole geom.Geometry
	base := rings[0].Bound().Left()
	for i, ring := range rings {
		shift := 360 * math.Round((base-ring.Bound().Left())/360)
		g := closeOverPole(ring, shift).AsGeometry()
		if i == 0 {
			whole = g
			continue
		}
		less, err := geom.Difference(whole, g)
		if err != nil {
			return whole, fmt.Errorf("cut a hole into a corridor: %w", err)
		}
		whole = less
	}
	return whole, nil
}

// closeOverPole closes a ring that went once around the earth's axis by way of
// the pole that it surrounds.
func closeOverPole(ring orb.Ring, shift float64) geom.Polygon {
	var xy []float64
	for _, p := range ring {
		xy = append(xy, p.X()+shift, p.Y())
	}
	first, last := ring[0], ring[len(ring)-1]
	if first.X() != last.X() {
		pole := math.Copysign(90, first.Y())
		xy = append(xy, last.X()+shift, pole, first.X()+shift, pole, first.X()+shift, first.Y())
	}
	return geom.NewPolygonXY(xy)
}

// polygons gives the polygons of g, rounded as unwrap does.
func polygons(g geom.Geometry) orb.MultiPolygon {
	var out orb.MultiPolygon
	switch g.Type() {
	case geom.TypePolygon:
		p := g.MustAsPolygon()
		if p.IsEmpty() {
			return nil
		}
		var rings orb.Polygon
		for _, line := range p.DumpRings() {
			seq := line.Coordinates()
			ring := make(orb.Ring, 0, seq.Length())
			for i := range seq.Length() {
				at := seq.GetXY(i)
				ring = append(ring, orb.Point{present.Round(at.X, 9), present.Round(at.Y, 9)})
			}
			rings = append(rings, ring)
		}
		out = append(out, orient(rings))
	case geom.TypeMultiPolygon, geom.TypeGeometryCollection:
		for _, part := range g.Dump() {
			out = append(out, polygons(part)...)
		}
	}
	return out
}
