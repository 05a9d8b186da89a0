package plane

import "math"

// A tapered capsule is the convex hull of two discs about the ends of a
// straight, and the corridor of a line is the union of its capsules. This file
// draws the outline of that union in one go, along the right-hand side and back
// along the left, and knows when this is the union and nothing less.
//
// Why it is: let γ be the drawn curve. At an inner bend two sides, both tangent
// to the vertex's disc, are cut off where they meet, and between that place and
// the disc lies a cusp; if the cut leaves something of every side, each cusp
// lies within both capsules next to it. Counted as cycles, γ is the sum of all
// capsule boundaries less the boundaries of the inner vertices' discs and
// cusps, so about a point p it turns
//
//	#(capsules with p) − #(discs with p) − #(cusps with p)
//
// times. A disc or cusp that holds p lies within both its capsules and no disc
// meets its own cusp, so among k consecutive capsules that hold p are at most
// k−1 such discs and cusps: γ turns about every point of the union at least
// once, and about no other. When γ does not meet itself, the points it turns
// about are its inside, which therefore is the union.

// node is a vertex of the centre line with its half width.
type node struct {
	p Pt
	r float64
}

// side is what a straight from a to b with half widths ra and rb gives to the
// outline: the two lines that touch both discs.
type side struct {
	dir    float64 // direction of the straight, radians counter-clockwise from east
	taper  float64 // how far the sides lean from it, asin((ra − rb)/length)
	length float64 // of either side between its touching points, m
}

// right and left are the directions of the outward normals.
func (s side) right() float64 { return s.dir - math.Pi/2 + s.taper }
func (s side) left() float64  { return s.dir + math.Pi/2 - s.taper }

// sideOf gives the side of the straight between two nodes, and false where one
// disc holds the other, which leaves no line to touch both.
func sideOf(a, b node) (side, bool) {
	d := b.p.Sub(a.p)
	l := d.Len()
	c := (a.r - b.r) / l
	if !(math.Abs(c) < 1-1e-9) {
		return side{}, false
	}
	return side{dir: math.Atan2(d.N, d.E), taper: math.Asin(c), length: l * math.Sqrt(1-c*c)}, true
}

// join is how the outline passes a vertex: the angles it turns through, counter-
// clockwise as the outline is drawn, on the right-hand side forward and on the
// left-hand side backward. A negative one is an inner bend, where the sides are
// cut off by trim metres.
type join struct {
	right, left         float64 // radians
	trimRight, trimLeft float64 // m
}

// joinOf gives the join of two sides at a vertex with half width r.
func joinOf(in, out side, r float64) join {
	turn := math.Remainder(out.dir-in.dir, 2*math.Pi)
	open := out.taper - in.taper
	j := join{right: turn + open, left: open - turn}
	j.trimRight, j.trimLeft = trim(j.right, r), trim(j.left, r)
	return j
}

// sharpest is the inner bend, radians, beyond which sides are not cut off: they
// would meet too far from the vertex to be of use.
const sharpest = 160 * math.Pi / 180

func trim(sweep, r float64) float64 {
	switch {
	case sweep >= 0:
		return 0
	case sweep < -sharpest:
		return math.Inf(1)
	}
	return r * math.Tan(-sweep/2)
}

// roundStep is the largest angle, radians, that one vertex of a round part
// stands for. The vertices lie outside the circle, so the outline is never
// narrower than the half width and at most 1/cos(10°) − 1 = 1.5 % wider.
const roundStep = 20 * math.Pi / 180

// ring collects the vertices of an outline, each with the index of the node it
// belongs to.
type ring struct {
	pts  []Pt
	from []int
}

// round adds the turn about node i of sweep radians that begins at the normal
// in the given direction. A turn below roundStep, and any inner bend, is the
// one point where the two sides meet.
func (g *ring) round(n node, i int, begin, sweep float64) {
	k := max(1, math.Ceil(sweep/roundStep))
	step := sweep / k
	r := n.r / math.Cos(step/2)
	for ; k > 0; k-- {
		sin, cos := math.Sincos(begin + step/2)
		g.pts = append(g.pts, Pt{n.p.E + r*cos, n.p.N + r*sin})
		g.from = append(g.from, i)
		begin += step
	}
}

// close repeats the first point as the last.
func (g *ring) close() ring {
	g.pts, g.from = append(g.pts, g.pts[0]), append(g.from, g.from[0])
	return *g
}

// disc gives the outline of a single place.
func disc(n node) ring {
	var g ring
	g.round(n, 0, 0, 2*math.Pi)
	return g.close()
}

// outline gives the outline of a stretch of at least two nodes. Index i in
// joins is the vertex i; those of the ends are not used.
func outline(nodes []node, sides []side, joins []join) ring {
	last := len(nodes) - 1
	var g ring
	g.round(nodes[0], 0, sides[0].left(), math.Pi+2*sides[0].taper)
	for i := 1; i < last; i++ {
		g.round(nodes[i], i, sides[i-1].right(), joins[i].right)
	}
	g.round(nodes[last], last, sides[last-1].right(), math.Pi-2*sides[last-1].taper)
	for i := last - 1; i > 0; i-- {
		g.round(nodes[i], i, sides[i].left(), joins[i].left)
	}
	return g.close()
}

// ringOutlines gives the two outlines of a closed line, whose last node is its
// first and whose joins[0] is the closing vertex. Of the two, one runs counter-
// clockwise and is the outer one, unless the inside is filled up.
func ringOutlines(nodes []node, sides []side, joins []join) [2]ring {
	var right, left ring
	n := len(sides)
	for i := range n {
		right.round(nodes[i], i, sides[(i+n-1)%n].right(), joins[i].right)
	}
	for i := n - 1; i >= 0; i-- {
		left.round(nodes[i], i, sides[i].left(), joins[i].left)
	}
	return [2]ring{right.close(), left.close()}
}
