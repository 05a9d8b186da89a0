package plane

import (
	"cmp"
	"errors"
	"math"
	"slices"
)

// unionRings gives the boundary of the union of areas, each shown by a simple
// counter-clockwise closed ring: rings with the union on their left, which are
// outer ones when counter-clockwise and holes when clockwise. Points move by
// some gridStep. Same rings in the same order give the same answer to the bit.
//
// The way: cut the rings where they meet (noding.go), count for each piece how
// many areas lie on either side, and keep the pieces with none on the right and
// some on the left. A ready-made overlay in floating point was tried first: of
// 2,600 unions of corridors it lost a part of one, and not in every run.
func unionRings(rings [][]Pt) ([][]Pt, error) {
	origin := rings[0][0]
	areas := make([][]span, len(rings))
	for k, g := range rings {
		for i := 1; i < len(g); i++ {
			s := span{toGrid(g[i-1], origin), toGrid(g[i], origin)}
			if s.a != s.b {
				areas[k] = append(areas[k], s)
			}
		}
	}
	spans, err := unionSpans(areas)
	if err != nil {
		return nil, err
	}
	u := newArrangement(spans)
	u.countSides()
	found, err := u.boundary()
	for _, g := range found {
		for i, p := range g {
			g[i] = origin.Add(p.Mul(gridStep))
		}
	}
	return found, err
}

// unionSpans gives the boundary of the union of areas given by their
// boundaries. Neighbours are joined first, which soon rids it of what lies
// within.
func unionSpans(areas [][]span) ([]span, error) {
	if len(areas) > 3 {
		m := len(areas) / 2
		a, err := unionSpans(areas[:m])
		if err != nil {
			return nil, err
		}
		b, err := unionSpans(areas[m:])
		if err != nil {
			return nil, err
		}
		areas = [][]span{a, b}
	}
	spans, err := nodeSpans(slices.Concat(areas...))
	if err != nil {
		return nil, err
	}
	u := newArrangement(spans)
	u.countSides()
	var out []span
	for h, e := range u.half {
		if u.onBoundary(h) {
			out = append(out, span{e.a, e.b})
		}
	}
	return out, nil
}

func toGrid(p, origin Pt) Pt {
	d := p.Sub(origin)
	return Pt{math.Round(d.E / gridStep), math.Round(d.N / gridStep)}
}

// arrangement is a set of straights that meet at ends only. Each straight is
// there as two half edges, one from either end; 2k and 2k+1 are such twins.
type arrangement struct {
	half []halfEdge
	at   map[Pt][]int // the half edges that leave a point, counter-clockwise
	pts  []Pt         // the keys of at, in order
}

type halfEdge struct {
	a, b  Pt
	gain  int // areas on its left less areas on its right
	right int // areas on its right
	known bool
	used  bool // already part of a boundary ring
}

func twin(h int) int { return h ^ 1 }

// newArrangement counts equal and opposite spans together; those that cancel
// divide nothing and are left out.
func newArrangement(spans []span) *arrangement {
	u := &arrangement{at: map[Pt][]int{}}
	index := map[span]int{}
	for _, s := range spans {
		if h, ok := index[s]; ok {
			u.half[h].gain++
			u.half[twin(h)].gain--
			continue
		}
		h := len(u.half)
		index[s], index[span{s.b, s.a}] = h, twin(h)
		u.half = append(u.half, halfEdge{a: s.a, b: s.b, gain: 1}, halfEdge{a: s.b, b: s.a, gain: -1})
	}
	for h, e := range u.half {
		if e.gain == 0 {
			continue
		}
		if u.at[e.a] == nil {
			u.pts = append(u.pts, e.a)
		}
		u.at[e.a] = append(u.at[e.a], h)
	}
	for _, out := range u.at {
		slices.SortFunc(out, func(g, h int) int { return cmp.Compare(u.bearing(g), u.bearing(h)) })
	}
	slices.SortFunc(u.pts, comparePt)
	return u
}

// bearing is the direction of a half edge, radians counter-clockwise from east.
// Noding leaves angles of 1e-13 and more between neighbours at the very least.
func (u *arrangement) bearing(h int) float64 {
	d := u.half[h].b.Sub(u.half[h].a)
	return math.Atan2(d.N, d.E)
}

// countSides finds how many areas lie right of each half edge. From the
// westernmost point of each connected group, where the count is that of the
// surroundings, it goes from edge to edge: what lies left of one that leaves a
// point lies right of the next one counter-clockwise.
func (u *arrangement) countSides() {
	for _, p := range u.pts {
		if out := u.at[p]; !u.half[out[0]].known {
			// No edge of the group goes west from here, so the last one before due
			// west has the surroundings on its left.
			last := out[len(out)-1]
			u.spread(last, u.areasAt(p)-u.half[last].gain)
		}
	}
}

// areasAt counts the areas about a point west of which the group it belongs to
// has nothing, by the edges of other groups that a ray to the west meets.
func (u *arrangement) areasAt(p Pt) int {
	n := 0
	for h := 0; h < len(u.half); h += 2 {
		e := u.half[h]
		if (e.a.N > p.N) == (e.b.N > p.N) || e.a.E+(p.N-e.a.N)/(e.b.N-e.a.N)*(e.b.E-e.a.E) >= p.E {
			continue
		}
		if e.b.N < e.a.N { // runs south: its left is on our side
			n += e.gain
		} else {
			n -= e.gain
		}
	}
	return n
}

// spread sets the count right of a half edge and of all connected with it.
func (u *arrangement) spread(h, right int) {
	type item struct{ h, right int }
	todo := []item{{h, right}}
	for len(todo) > 0 {
		it := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		e := &u.half[it.h]
		if e.known {
			continue
		}
		e.right, e.known = it.right, true
		left := e.right + e.gain
		todo = append(todo, item{twin(it.h), left}, item{u.next(it.h), left})
	}
}

// next gives the half edge that leaves the same point next counter-clockwise.
func (u *arrangement) next(h int) int {
	out := u.at[u.half[h].a]
	return out[(slices.Index(out, h)+1)%len(out)]
}

// onBoundary reports whether the union begins on the left of a half edge.
func (u *arrangement) onBoundary(h int) bool {
	e := u.half[h]
	return e.gain > 0 && e.right == 0
}

// boundary gives the rings that have the union on their left, in the order of
// their westernmost points.
func (u *arrangement) boundary() ([][]Pt, error) {
	var rings [][]Pt
	for _, p := range u.pts {
		for _, h := range u.at[p] {
			if u.half[h].used || !u.onBoundary(h) {
				continue
			}
			ring, err := u.follow(h)
			if err != nil {
				return nil, err
			}
			rings = append(rings, ring)
		}
	}
	return rings, nil
}

// follow goes along the boundary from a half edge until it is back.
func (u *arrangement) follow(h int) ([]Pt, error) {
	ring := []Pt{u.half[h].a}
	for !u.half[h].used {
		u.half[h].used = true
		ring = append(ring, u.half[h].b)
		// The first boundary edge counter-clockwise from the way back, across what
		// is not of the union.
		back := twin(h)
		n := u.next(back)
		for ; n != back && !u.onBoundary(n); n = u.next(n) {
		}
		if n == back {
			return nil, errors.New("the outline of the union has an open end")
		}
		h = n
	}
	if ring[0] != ring[len(ring)-1] {
		return nil, errors.New("the outline of the union does not close")
	}
	return ring, nil
}
