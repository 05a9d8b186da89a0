package plane

// keepApart is how far, m, parts of an outline that do not follow each other
// stay from each other. Coordinates written with nine decimals of a degree move
// by up to 0.08 mm; the rest allows for straights that are not quite straight
// in degrees.
const keepApart = 0.5e-3

// tooNear looks for two parts of the rings nearer to each other than keepApart,
// and gives the nodes they belong to. Rings that pass are simple, do not meet,
// have no spike and no straight shorter than that, and stay so when each point
// moves by a fifth of it.
func tooNear(rings ...ring) (i, j int, found bool) {
	type place struct{ ring, i, of int } // straight i of a ring that has so many
	var spans []span
	var places []place
	for r, g := range rings {
		n := len(g.pts) - 1
		for k := range n {
			a, b, c := g.pts[k], g.pts[k+1], g.pts[(k+1)%n+1]
			if distToSegment(a, b, c) < keepApart || distToSegment(c, a, b) < keepApart {
				return g.from[k], g.from[(k+1)%n+1], true
			}
			spans = append(spans, span{a, b})
			places = append(places, place{r, k, n})
		}
	}
	sweep(spans, keepApart, func(a, b int) bool {
		p, q := places[a], places[b]
		if d := (p.i - q.i + p.of) % p.of; p.ring == q.ring && (d == 1 || d == p.of-1) {
			return true // they share a vertex
		}
		if segmentsWithin(spans[a], spans[b], keepApart) {
			i, j, found = rings[p.ring].from[p.i], rings[q.ring].from[q.i], true
		}
		return !found
	})
	return i, j, found
}

func distToSegment(p, a, b Pt) float64 {
	_, _, d := footOnSegment(a, b, p)
	return d
}

// segmentsWithin reports whether two straights come within a distance.
func segmentsWithin(s, o span, dist float64) bool {
	if _, _, ok := CrossSegments(s.a, s.b, o.a, o.b); ok {
		return true
	}
	return distToSegment(s.a, o.a, o.b) < dist || distToSegment(s.b, o.a, o.b) < dist ||
		distToSegment(o.a, s.a, s.b) < dist || distToSegment(o.b, s.a, s.b) < dist
}

// area gives the area within a closed ring, m², positive when it runs counter-
// clockwise.
func area(pts []Pt) float64 {
	var s float64
	for i := 1; i < len(pts); i++ {
		// From the first point, or far from the origin the digits run out.
		s += pts[i-1].Sub(pts[0]).Cross(pts[i].Sub(pts[0]))
	}
	return s / 2
}

// inside reports whether p lies within a closed ring; on it, either.
func inside(p Pt, pts []Pt) bool {
	in := false
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		if (a.N > p.N) != (b.N > p.N) && p.E < a.E+(p.N-a.N)/(b.N-a.N)*(b.E-a.E) {
			in = !in
		}
	}
	return in
}
