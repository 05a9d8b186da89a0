package plane

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

const (
	// narrowest is the smallest half width drawn, m. A corridor of a few
	// millimetres claims what no survey gives, and would not survive rounding.
	narrowest = 5e-3
	// together is how near, m, consecutive vertices are drawn as one.
	together = 2e-3
	// farthestOut bounds coordinates and half widths, m: more than the way round
	// the earth, and doubles still hold a tenth of a micrometre.
	farthestOut = 1e8
)

// Corridor gives the area within half[i] metres of a line at its vertex i, the
// half width changing evenly along each straight: the union of the discs about
// all points of the line. It is the corridor as a set of polygons, each a list
// of rings, first the outer one counter-clockwise, then the holes clockwise;
// a ring's last point repeats its first. As a line hangs together there is one
// polygon.
//
// The polygon is valid in the sense of OGC Simple Features (ISO 19125-1), and
// stays so when its coordinates are rounded to 0.1 mm (nine decimals of a
// degree). It is never narrower than the half width. It is wider by at most
// 1.6 % at round parts, which are drawn as straights outside the circle, by up
// to some millimetres where the line meets or nearly meets itself, and in that
// half widths below 5 mm are drawn as 5 mm. Holes and gaps narrower than half a
// millimetre are filled.
//
// Loops, crossings, rings, hairpins, lines that double back, repeated vertices
// and a single vertex (a disc) are all drawn. An error is given for an empty
// line, for lists of unequal length, and for values that are negative (half),
// NaN, infinite or over 1e8 m. The input is not changed.
//
// Straights are straight in this plane; turned to degrees, one of length L
// leaves the straight between its ends by L²·tan(latitude)/8R, 0.2 mm for 100 m
// at 45°. The cost is about 1 µs a vertex where the line keeps away from itself
// and bends no tighter than its half width, else some 0.1 ms a vertex concerned.
func Corridor(line []Pt, half []float64) ([][][]Pt, error) {
	nodes, err := corridorNodes(line, half)
	if err != nil {
		return nil, fmt.Errorf("drawing the corridor: %w", err)
	}
	if rings, ok := corridorInOne(nodes); ok {
		return [][][]Pt{rings}, nil
	}
	// The union is exact, but what it meets may nearly touch. A millimetre more
	// makes up for the trimming of the result; if parts are still too near each
	// other, another width has other parts meet.
	var polygons [][][]Pt
	for _, grow := range []float64{1e-3, 2e-3, 3e-3, 5e-3, 8e-3, 13e-3} {
		wider := slices.Clone(nodes)
		for i := range wider {
			wider[i].r += grow
		}
		if polygons, err = corridorByUnion(wider); err == nil {
			return polygons, nil
		}
	}
	return nil, fmt.Errorf("drawing the corridor of a line of %d vertices: %w", len(line), err)
}

// corridorNodes checks the input and joins vertices that are nearly one. The
// one that is kept takes in the disc of the one that is not.
func corridorNodes(line []Pt, half []float64) ([]node, error) {
	if len(line) == 0 {
		return nil, errors.New("the line has no vertex")
	}
	if len(line) != len(half) {
		return nil, fmt.Errorf("%d vertices but %d half widths", len(line), len(half))
	}
	nodes := make([]node, 0, len(line))
	for i, p := range line {
		if !(math.Abs(p.E) <= farthestOut && math.Abs(p.N) <= farthestOut) {
			return nil, fmt.Errorf("vertex %d is at %v, %v", i, p.E, p.N)
		}
		if !(half[i] >= 0 && half[i] <= farthestOut) {
			return nil, fmt.Errorf("the half width at vertex %d is %v", i, half[i])
		}
		n := node{p, max(half[i], narrowest)}
		if k := len(nodes) - 1; k >= 0 {
			if d := p.Dist(nodes[k].p); d < together && math.Abs(n.r-nodes[k].r) <= together {
				nodes[k].r = max(nodes[k].r, n.r+d)
				continue
			}
		}
		nodes = append(nodes, n)
	}
	return nodes, nil
}

// corridorInOne gives the rings of the corridor when one outline shows it.
func corridorInOne(nodes []node) ([][]Pt, bool) {
	last := len(nodes) - 1
	if last == 0 {
		return [][]Pt{disc(nodes[0]).pts}, true
	}
	sides, joins, ok := sidesAndJoins(nodes)
	if !ok {
		return nil, false
	}
	if nodes[0] == nodes[last] && last >= 3 {
		return closedInOne(nodes, sides, joins)
	}
	if len(cutWhereTight(sides, joins)) > 0 {
		return nil, false
	}
	g := outline(nodes, sides, joins)
	if _, _, near := tooNear(g); near {
		return nil, false
	}
	return [][]Pt{g.pts}, true
}

// closedInOne gives the two rings of a closed line's corridor.
func closedInOne(nodes []node, sides []side, joins []join) ([][]Pt, bool) {
	n := len(sides)
	joins[0] = joinOf(sides[n-1], sides[0], nodes[0].r)
	for i, s := range sides {
		if !fits(s, joins[i], joins[(i+1)%n]) {
			return nil, false
		}
	}
	g := ringOutlines(nodes, sides, joins)
	if _, _, near := tooNear(g[:]...); near {
		return nil, false
	}
	outer, hole := g[0].pts, g[1].pts
	if area(outer) < 0 {
		outer, hole = hole, outer
	}
	return [][]Pt{outer, hole}, area(outer) > 0 && area(hole) < 0 && inside(hole[0], outer)
}

// sidesAndJoins gives the sides of all straights and the joins at all vertices
// between; false if a disc holds its neighbour.
func sidesAndJoins(nodes []node) ([]side, []join, bool) {
	sides := make([]side, len(nodes)-1)
	joins := make([]join, len(nodes))
	for i := range sides {
		var ok bool
		if sides[i], ok = sideOf(nodes[i], nodes[i+1]); !ok {
			return nil, nil, false
		}
		if i > 0 {
			joins[i] = joinOf(sides[i-1], sides[i], nodes[i].r)
		}
	}
	return sides, joins, true
}

// fits reports whether the cuts at both ends leave something of both sides.
func fits(s side, begin, end join) bool {
	return begin.trimRight+end.trimRight < s.length && begin.trimLeft+end.trimLeft < s.length
}

// cutWhereTight gives the vertices, ascending, at which a row of straights must
// be cut so that in each stretch every side survives its cuts.
func cutWhereTight(sides []side, joins []join) (cuts []int) {
	begin := join{} // an end has a cap and no cut
	for i := 1; i < len(sides); i++ {
		if fits(sides[i-1], begin, joins[i]) && fits(sides[i], joins[i], join{}) {
			begin = joins[i]
			continue
		}
		cuts = append(cuts, i)
		begin = join{}
	}
	return cuts
}

// corridorByUnion draws the corridor stretch by stretch and joins them.
func corridorByUnion(nodes []node) ([][][]Pt, error) {
	var pieces [][]Pt
	for _, g := range stretches(nodes) {
		pieces = append(pieces, g.pts)
	}
	found, err := unionRings(pieces)
	if err != nil {
		return nil, fmt.Errorf("joining %d stretches: %w", len(pieces), err)
	}
	var outer, holes [][]Pt
	for _, pts := range found {
		hole := area(pts) < 0
		pts = cleanRing(pts)
		switch {
		case pts == nil && hole: // too narrow to be drawn
		case hole:
			holes = append(holes, pts)
		default:
			outer = append(outer, pts)
		}
	}
	if len(outer) != 1 || outer[0] == nil {
		return nil, fmt.Errorf("joining %d stretches gave %d areas", len(pieces), len(outer))
	}
	rings := append(outer, holes...)
	check := make([]ring, len(rings))
	for i, pts := range rings {
		check[i] = ring{pts: pts, from: make([]int, len(pts))}
	}
	if _, _, near := tooNear(check...); near {
		return nil, errors.New("parts of the joined outline lie too near each other")
	}
	return [][][]Pt{rings}, nil
}

// stretches cuts a line into pieces that one outline each shows: where a disc
// holds its neighbour, where a bend is too tight for its width, and half-way
// between places where the outline meets itself.
func stretches(nodes []node) (rings []ring) {
	begin := 0
	for i := 1; i <= len(nodes); i++ {
		if i < len(nodes) {
			if _, ok := sideOf(nodes[i-1], nodes[i]); ok {
				continue
			}
		}
		// The straight into i has no sides of its own: the larger disc is all of
		// it, and belongs to one of the pieces.
		rings = append(rings, tightStretches(nodes[begin:i])...)
		begin = i
	}
	return rings
}

func tightStretches(nodes []node) (rings []ring) {
	if len(nodes) == 1 {
		return []ring{disc(nodes[0])}
	}
	sides, joins, _ := sidesAndJoins(nodes)
	begin := 0
	for _, cut := range append(cutWhereTight(sides, joins), len(nodes)-1) {
		rings = append(rings, simpleStretches(nodes[begin:cut+1], sides[begin:cut], joins[begin:cut+1])...)
		begin = cut
	}
	return rings
}

func simpleStretches(nodes []node, sides []side, joins []join) []ring {
	g := outline(nodes, sides, joins)
	last := len(nodes) - 1
	if last == 1 {
		return []ring{g} // convex
	}
	i, j, near := tooNear(g)
	if !near {
		return []ring{g}
	}
	m := min(max((i+j+1)/2, 1), last-1)
	return append(simpleStretches(nodes[:m+1], sides[:m], joins[:m+1]),
		simpleStretches(nodes[m:], sides[m:], joins[m:])...)
}

// cleanRing drops points nearer than keepApart to the one before, and the tips
// of notches narrower than it, which moves the outline by less than that. What has
// no area left is nil.
func cleanRing(pts []Pt) []Pt {
	open := slices.Clone(pts[:len(pts)-1])
	for before := 0; before != len(open); {
		before = len(open)
		for i := 0; i < len(open) && len(open) >= 3; {
			n := len(open)
			a, b, c := open[(i+n-1)%n], open[i], open[(i+1)%n]
			// A point near the next one is left for that one's turn, or a row of
			// near points would all go.
			notch := b.Dist(c) >= keepApart &&
				(distToSegment(a, b, c) < keepApart || distToSegment(c, a, b) < keepApart)
			if a.Dist(b) < keepApart || notch {
				open = slices.Delete(open, i, i+1)
			} else {
				i++
			}
		}
	}
	if len(open) < 3 {
		return nil
	}
	return append(open, open[0])
}

func comparePt(a, b Pt) int { return cmp.Or(cmp.Compare(a.E, b.E), cmp.Compare(a.N, b.N)) }
