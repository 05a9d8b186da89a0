package plane

import (
	"cmp"
	"errors"
	"math"
	"slices"
)

// Noding cuts straights where they meet, so that what is left meets at ends
// only. It works on a grid: all points have whole coordinates, and a straight
// that passes a point of another nearer than nodeReach is led through it. Each
// cut bends a straight by less than a grid step (snap rounding; Hobby 1999,
// "Practical segment intersection with finite precision output", is the
// idea). Afterwards no point is within nodeReach of a straight it does not end,
// so rounding cannot make any later question of left, right or order come out
// wrong.

const (
	// gridStep is the size of the grid, m: far below keepApart, far above the
	// rounding of coordinates.
	gridStep = 1e-5
	// nodeReach is how near, in grid steps, a straight may pass a point: a little
	// more than half a cell's diagonal, the most that rounding moves a crossing.
	nodeReach = 0.75
)

// span is a directed straight between points of the grid.
type span struct{ a, b Pt }

// nodeSpans cuts spans until they meet at ends only. Spans that lie on each
// other come out as equal or opposite ones. The order of the result hangs on
// the order of the input alone.
func nodeSpans(spans []span) ([]span, error) {
	// A cut may bend a straight into reach of one more point; each round finds
	// fewer. Two or three rounds are usual.
	for range 30 {
		cuts := findCuts(spans)
		if cuts == nil {
			return spans, nil
		}
		var next []span
		for i, s := range spans {
			next = appendCut(next, s, cuts[i])
		}
		spans = next
	}
	return nil, errors.New("cutting the outlines where they meet came to no end")
}

// appendCut adds the pieces of a span that is cut at the given points.
func appendCut(out []span, s span, cuts []Pt) []span {
	d := s.b.Sub(s.a)
	slices.SortFunc(cuts, func(p, q Pt) int {
		return cmp.Or(cmp.Compare(p.Sub(s.a).Dot(d), q.Sub(s.a).Dot(d)), comparePt(p, q))
	})
	from := s.a
	for _, p := range append(cuts, s.b) {
		if p != from {
			out = append(out, span{from, p})
		}
		from = p
	}
	return out
}

// findCuts gives for every span the points to cut it at, and nil when there is
// none at all.
func findCuts(spans []span) [][]Pt {
	var cuts [][]Pt
	cut := func(i int, p Pt) {
		if cuts == nil {
			cuts = make([][]Pt, len(spans))
		}
		cuts[i] = append(cuts[i], p)
	}
	sweep(spans, nodeReach, func(i, j int) bool {
		s, o := spans[i], spans[j]
		near := false
		for _, p := range [2]Pt{o.a, o.b} {
			if p != s.a && p != s.b && distToSegment(p, s.a, s.b) < nodeReach {
				cut(i, p)
				near = true
			}
		}
		for _, p := range [2]Pt{s.a, s.b} {
			if p != o.a && p != o.b && distToSegment(p, o.a, o.b) < nodeReach {
				cut(j, p)
				near = true
			}
		}
		if near || s.a == o.a || s.a == o.b || s.b == o.a || s.b == o.b {
			return true
		}
		if t, _, ok := CrossSegments(s.a, s.b, o.a, o.b); ok {
			p := s.a.Lerp(s.b, t)
			p = Pt{math.Round(p.E), math.Round(p.N)}
			cut(i, p)
			cut(j, p)
		}
		return true
	})
	return cuts
}

// sweep calls f for each pair of spans whose boxes come within a distance, in
// an order that hangs on the spans alone, until f gives false. Sorting along the
// longer extent makes the cost about n log n for outlines of long lines.
func sweep(spans []span, within float64, f func(i, j int) bool) {
	type box struct {
		i              int
		lo, hi         float64 // reach along the sorted axis
		lowest, upmost float64 // reach along the other one
	}
	lo, hi := Pt{math.Inf(1), math.Inf(1)}, Pt{math.Inf(-1), math.Inf(-1)}
	for _, s := range spans {
		lo = Pt{min(lo.E, s.a.E, s.b.E), min(lo.N, s.a.N, s.b.N)}
		hi = Pt{max(hi.E, s.a.E, s.b.E), max(hi.N, s.a.N, s.b.N)}
	}
	byEast := hi.E-lo.E >= hi.N-lo.N
	boxes := make([]box, len(spans))
	for i, s := range spans {
		if !byEast {
			s = span{Pt{s.a.N, s.a.E}, Pt{s.b.N, s.b.E}}
		}
		boxes[i] = box{i, min(s.a.E, s.b.E), max(s.a.E, s.b.E), min(s.a.N, s.b.N), max(s.a.N, s.b.N)}
	}
	slices.SortFunc(boxes, func(a, b box) int { return cmp.Or(cmp.Compare(a.lo, b.lo), cmp.Compare(a.i, b.i)) })
	var open []box
	for _, b := range boxes {
		still := open[:0]
		for _, o := range open {
			if o.hi < b.lo-within {
				continue
			}
			still = append(still, o)
			if o.upmost < b.lowest-within || b.upmost < o.lowest-within {
				continue
			}
			if !f(o.i, b.i) {
				return
			}
		}
		open = append(still, b)
	}
}
