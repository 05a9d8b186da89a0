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
	best := math.Inf(1)
	p, d := c.start, c.dir
	var from float64
	for k, pc := range c.pieces {
		lo, hi := 0.0, pc.length
		if k == 0 {
			lo = math.Inf(-1)
		}
		if k == len(c.pieces)-1 {
			hi = math.Inf(1)
		}
		s, o, dist := projectPiece(p, d, pc, lo, hi, q)
		if dist < best {
			best, station, offset = dist, from+s, o
		}
		p, d = advance(p, d, pc.curvature, pc.length)
		from += pc.length
	}
	return station, offset
}

func projectPiece(p, d plane.Pt, pc piece, lo, hi float64, q plane.Pt) (s, offset, dist float64) {
	v := q.Sub(p)
	if pc.curvature == 0 {
		s = min(max(v.Dot(d), lo), hi)
		w := q.Sub(p.Add(d.Mul(s)))
		return s, d.Cross(w), w.Len()
	}
	r := 1 / pc.curvature
	centre := p.Add(d.Left().Mul(r))
	w := q.Sub(centre)
	// Angle from the start, in the direction of travel, taken around the piece's
	// middle so that it is continuous over the piece.
	a := math.Atan2(w.Dot(d), -sign(r)*w.Dot(d.Left()))
	mid := pc.length / 2 / math.Abs(r)
	a = mid + math.Remainder(a-mid, 2*math.Pi)
	s = min(max(a*math.Abs(r), lo), hi)
	at, dir := advance(p, d, pc.curvature, s)
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
