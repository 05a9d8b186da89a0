package fuse

import (
	"math"

	"tracemap/geodesy/plane"
)

// A stretch is a smooth piece of a part with the samples that lie on it. Between
// two stretches the line has a corner.
type stretch struct {
	chain
	first, last int // samples of the part, in order along it, inclusive
}

// smoothTurn is the largest angle, radians, between neighbouring elements of
// which one is an arc that still counts as a tangential joint.
const smoothTurn = 0.25

// stretches makes a first shape of each span. All joints are corners to begin
// with; simplifyShape joins tangentially what is smooth.
func stretches(samples []sample, spans []span) []stretch {
	out := make([]stretch, len(spans))
	for k, sp := range spans {
		out[k] = firstShape(samples, sp)
	}
	return out
}

// firstShape lays a straight or an arc through the samples of a span, roughly:
// the fit that follows makes it exact.
func firstShape(samples []sample, sp span) stretch {
	a, b := samples[sp.first].at, samples[sp.last].at
	st := stretch{first: sp.first, last: sp.last}
	if sp.first == sp.last {
		// One sample: a short straight from its neighbour.
		switch {
		case sp.first > 0:
			st.dir = a.Sub(samples[sp.first-1].at).Unit()
		case sp.last+1 < len(samples):
			st.dir = samples[sp.last+1].at.Sub(a).Unit()
		}
		if st.dir == (plane.Pt{}) {
			st.dir = plane.Pt{E: 1}
		}
		st.start = a.Sub(st.dir.Mul(0.5))
		st.pieces = []piece{{length: 1}}
		return st
	}
	centre, dir := principal(samples[sp.first : sp.last+1])
	if dir.Dot(b.Sub(a)) < 0 {
		dir = dir.Mul(-1)
	}
	from, to := a.Sub(centre).Dot(dir), b.Sub(centre).Dot(dir)
	l := max(to-from, 0.1)
	if sp.curvature == 0 {
		st.start, st.dir = centre.Add(dir.Mul(from)), dir
		st.pieces = []piece{{length: l}}
		return st
	}
	// The arc over the chord: its start is turned against the chord by half the
	// turn; its chord lies two thirds of the sagitta from the points' centre.
	half := min(math.Abs(sp.curvature)*l/2, 0.999)
	turn := math.Asin(half)
	arc := 2 * turn / math.Abs(sp.curvature)
	sagitta := (1 - math.Cos(turn)) / sp.curvature
	sin, cos := math.Sincos(-sign(sp.curvature) * turn)
	st.dir = plane.Pt{E: cos*dir.E - sin*dir.N, N: sin*dir.E + cos*dir.N}
	st.start = centre.Add(dir.Mul(from)).Add(dir.Left().Mul(sagitta * 2 / 3))
	st.pieces = []piece{{length: arc, curvature: sp.curvature}}
	return st
}

// principal gives the weighted centre and the direction of least squared
// distances of the samples.
func principal(s []sample) (centre, dir plane.Pt) {
	var w float64
	for i := range s {
		k := max(s[i].weight(), 1e-9)
		w += k
		centre = centre.Add(s[i].at.Mul(k))
	}
	centre = centre.Mul(1 / w)
	var xx, xy, yy float64
	for i := range s {
		k := max(s[i].weight(), 1e-9)
		d := s[i].at.Sub(centre)
		xx += k * d.E * d.E
		xy += k * d.E * d.N
		yy += k * d.N * d.N
	}
	sin, cos := math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	return centre, plane.Pt{E: cos, N: sin}
}

func joinsSmoothly(a, b *stretch) bool {
	ka, kb := a.pieces[len(a.pieces)-1].curvature, b.pieces[0].curvature
	if ka == 0 && kb == 0 || len(a.pieces) >= 6 {
		return false
	}
	endA, dirA := a.at(a.length())
	startB, dirB := b.at(0)
	gap := startB.Sub(endA)
	// Both carried on to the middle of the gap.
	_, dirA = advance(endA, dirA, ka, gap.Len()/2)
	_, dirB = advance(startB, dirB, kb, -gap.Len()/2)
	return math.Abs(angle(dirA, dirB)) < smoothTurn
}

// joined makes one chain of two: it keeps the first one's start and heading.
func joined(a, b *stretch, samples []sample) stretch {
	out := stretch{first: a.first, last: b.last}
	out.start, out.dir = a.start, a.dir
	out.pieces = append(append([]piece{}, a.pieces...), b.pieces...)
	endA, _ := a.at(a.length())
	startB, _ := b.at(0)
	gap := startB.Dist(endA)
	k := len(a.pieces)
	out.pieces[k-1].length += gap / 2
	out.pieces[k].length += gap / 2
	return out
}

// corner gives the point where stretch a, carried on beyond its last sample,
// meets stretch b carried back before its first, if that lies between the two
// samples within slack, m.
func corner(a, b *stretch, lastA, firstB plane.Pt, slack float64) (plane.Pt, bool) {
	sa, _ := a.project(lastA)
	sb, _ := b.project(firstB)
	pa, da := a.at(sa)
	pb, db := b.at(sb)
	gap := pb.Sub(pa)
	// Two straights meet at once; arcs need some turns of the same step, each
	// from the tangents at the last point found.
	ka, kb := a.pieces[len(a.pieces)-1].curvature, b.pieces[0].curvature
	var ta, tb float64
	for range 8 {
		qa, ea := advance(pa, da, ka, ta)
		qb, eb := advance(pb, db, kb, tb)
		cross := ea.Cross(eb)
		if math.Abs(cross) < 0.02 {
			return plane.Pt{}, false
		}
		d := qb.Sub(qa)
		ta += d.Cross(eb) / cross
		tb += d.Cross(ea) / cross
		if ka == 0 && kb == 0 {
			break
		}
		if math.Abs(ta) > 1e4 || math.Abs(tb) > 1e4 {
			return plane.Pt{}, false
		}
	}
	limit := gap.Len() + slack
	if ta < -slack || tb > slack || ta > limit || -tb > limit {
		return plane.Pt{}, false
	}
	q, _ := advance(pa, da, ka, ta)
	return q, true
}
