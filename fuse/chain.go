package fuse

import (
	"math"

	"tracemap/geodesy/plane"
)

// A piece of a chain: a straight (curvature 0) or an arc.
type piece struct {
	length    float64 // m
	curvature float64 // 1/m, positive to the left
}

// A chain is a smooth stretch of a line: straights and arcs joined tangentially,
// as pipes with long-radius bends and cables run. It starts at a point with a
// heading; its first and last pieces may be extended beyond their ends.
type chain struct {
	start  plane.Pt
	dir    plane.Pt // unit
	pieces []piece
}

func (c *chain) length() float64 {
	var l float64
	for _, p := range c.pieces {
		l += p.length
	}
	return l
}

// advance goes l metres along a piece of the given curvature.
func advance(at, dir plane.Pt, curvature, l float64) (plane.Pt, plane.Pt) {
	if math.Abs(curvature*l) < 1e-9 {
		return at.Add(dir.Mul(l)), dir
	}
	sin, cos := math.Sincos(curvature * l)
	left := dir.Left()
	r := 1 / curvature
	return at.Add(dir.Mul(r * sin)).Add(left.Mul(r * (1 - cos))),
		dir.Mul(cos).Add(left.Mul(sin))
}

// at gives the point and the unit direction at a station, which may lie before
// the start or beyond the end.
func (c *chain) at(s float64) (plane.Pt, plane.Pt) {
	p, d := c.start, c.dir
	for k, pc := range c.pieces {
		if s <= pc.length || k == len(c.pieces)-1 {
			return advance(p, d, pc.curvature, s)
		}
		p, d = advance(p, d, pc.curvature, pc.length)
		s -= pc.length
	}
	return p, d
}

// project gives the station of the point of the chain nearest to q and q's
// signed offset, positive to the left. The first and the last piece count as
// endless (an arc: as far as half a turn from its middle).
func (c *chain) project(q plane.Pt) (station, offset float64) {
	var room [8]laidPiece
	_, station, offset = project(c.lay(room[:0]), q)
	return station, offset
}

// A laidPiece is a piece with its place, and as far as points are projected on it.
type laidPiece struct {
	piece
	start, dir plane.Pt
	from       float64 // station of its start
	lo, hi     float64 // stations from its start that it reaches to
}

// lay appends the chain's pieces in their places: for many projections on one chain.
func (c *chain) lay(to []laidPiece) []laidPiece {
	p, d := c.start, c.dir
	var from float64
	for k, pc := range c.pieces {
		l := laidPiece{piece: pc, start: p, dir: d, from: from, hi: pc.length}
		if k == 0 {
			l.lo = math.Inf(-1)
		}
		if k == len(c.pieces)-1 {
			l.hi = math.Inf(1)
		} else {
			p, d = advance(p, d, pc.curvature, pc.length)
			from += pc.length
		}
		to = append(to, l)
	}
	return to
}

// project is chain.project on a chain that is laid; it tells the piece as well.
func project(laid []laidPiece, q plane.Pt) (on *laidPiece, station, offset float64) {
	best := math.Inf(1)
	for k := range laid {
		l := &laid[k]
		if s, o, dist := l.project(q); dist < best {
			best, on, station, offset = dist, l, l.from+s, o
		}
	}
	return on, station, offset
}

// heading is the unit direction at a station of the chain, by the piece's own law.
func (l *laidPiece) heading(station float64) plane.Pt {
	_, dir := advance(l.start, l.dir, l.curvature, station-l.from)
	return dir
}

func (l *laidPiece) project(q plane.Pt) (s, offset, dist float64) {
	v := q.Sub(l.start)
	if l.curvature == 0 {
		s = min(max(v.Dot(l.dir), l.lo), l.hi)
		w := q.Sub(l.start.Add(l.dir.Mul(s)))
		return s, l.dir.Cross(w), w.Len()
	}
	r := 1 / l.curvature
	centre := l.start.Add(l.dir.Left().Mul(r))
	w := q.Sub(centre)
	// Angle from the start, in the direction of travel, taken around the piece's
	// middle so that it is continuous over the piece.
	a := math.Atan2(w.Dot(l.dir), -sign(r)*w.Dot(l.dir.Left()))
	mid := l.length / 2 / math.Abs(r)
	if a -= mid; math.Abs(a) > math.Pi {
		a = math.Remainder(a, 2*math.Pi)
	}
	a += mid
	if s = a * math.Abs(r); s >= l.lo && s <= l.hi {
		offset = sign(r) * (math.Abs(r) - w.Len())
		return s, offset, math.Abs(offset)
	}
	s = min(max(s, l.lo), l.hi)
	at, dir := advance(l.start, l.dir, l.curvature, s)
	u := q.Sub(at)
	return s, dir.Cross(u), u.Len()
}

func sign(x float64) float64 { return math.Copysign(1, x) }

// params is the number of parameters of the chain's shape: offset and heading
// of its start, a curvature an arc, and the station of each inner joint.
func (c *chain) params() int {
	n := 2 + len(c.pieces) - 1
	for _, p := range c.pieces {
		if p.curvature != 0 {
			n++
		}
	}
	return n
}

// moved gives the chain with its parameters changed by d, in this order: offset
// at the middle of the chain (m, left), turn about the middle (m at its end, so
// that all parameters are lengths), bulge of each arc (m of sagitta over the
// arc's length), shift of each inner joint (m).
func (c *chain) moved(d []float64) chain {
	l := c.length()
	out := chain{pieces: make([]piece, len(c.pieces))}
	copy(out.pieces, c.pieces)
	k := 2
	for i, p := range c.pieces {
		if p.curvature != 0 {
			span := max(p.length, 1)
			out.pieces[i].curvature += 8 * d[k] / (span * span)
			k++
		}
	}
	for i := range len(c.pieces) - 1 {
		shift := min(max(d[k], 0.1-out.pieces[i].length), out.pieces[i+1].length-0.1)
		out.pieces[i].length += shift
		out.pieces[i+1].length -= shift
		k++
	}
	// The start moves so that the middle keeps its place and heading before the
	// offset and the turn are laid on.
	mid, dirMid := c.at(l / 2)
	out.start, out.dir = plane.Pt{}, plane.Pt{E: 1}
	m, dm := out.at(l / 2)
	turn := math.Atan2(dm.Cross(dirMid), dm.Dot(dirMid)) + 2*d[1]/max(l, 1)
	sin, cos := math.Sincos(turn)
	rot := func(v plane.Pt) plane.Pt { return plane.Pt{E: cos*v.E - sin*v.N, N: sin*v.E + cos*v.N} }
	out.dir = rot(out.dir)
	out.start = mid.Add(dirMid.Left().Mul(d[0])).Sub(rot(m))
	return out
}
