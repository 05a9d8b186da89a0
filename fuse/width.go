package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/remarks"
)

// Spacing of the vertices.
const (
	sagitta    = 0.01 // m, by which a chord may leave an arc
	widthStep  = 0.08 // share by which the width between vertices may leave a straight change
	leastSpace = 0.75 // m, vertices for the width's sake are no closer
)

// A mark is a vertex in the making.
type mark struct {
	at      plane.Pt
	station float64
	sigma   float64
	clock   float64 // share of the variance that the clock has, m²
	flags   remarks.Set
}

// marks lays the vertices: both ends and every corner, arcs by their sagitta,
// and between them as many as the width needs to be drawn with straight edges.
func (p *shapedPart) marks() []mark {
	var out []mark
	n := len(p.fit.stretches)
	for k := range p.fit.stretches {
		s0, s1 := p.ends[k][0], p.ends[k][1]
		if k == 0 || !p.joints[k-1].corner {
			out = append(out, p.markOn(k, s0))
		}
		out = append(out, p.inner(k, s0, s1)...)
		switch {
		case k == n-1:
			out = append(out, p.markOn(k, s1))
		case p.joints[k].corner:
			out = append(out, p.cornerMark(k))
		default:
			m := p.markOn(k, s1)
			m.flags |= remarks.CornerInferred
			out = append(out, m)
		}
	}
	p.widenChamfers(out)
	return dropDoubles(out)
}

func (p *shapedPart) markOn(k int, s float64) mark {
	at, sigma, clock := p.fit.pointOn(k, s)
	station := p.base[k] + s - p.ends[k][0]
	v := p.slid.at(station)
	sigma = math.Sqrt(sq(sigma) + p.rivalVariance(at) + p.holeVariance(station) + p.besideVariance(station) + v)
	return mark{at: at, station: station, sigma: sigma, clock: sq(clock) + v}
}

// inner lays the vertices inside a stretch, between local stations a and b.
func (p *shapedPart) inner(k int, a, b float64) []mark {
	st := &p.fit.stretches[k]
	var at []float64
	var from float64
	for _, pc := range st.pieces {
		lo, hi := max(a, from), min(b, from+pc.length)
		if from == 0 {
			lo = a
		}
		from += pc.length
		if hi < lo {
			continue
		}
		if lo > a {
			at = append(at, lo)
		}
		if pc.curvature != 0 {
			step := math.Sqrt(8 * sagitta / math.Abs(pc.curvature))
			for c, m := int((hi-lo)/step), 1; m <= c; m++ {
				at = append(at, lo+(hi-lo)*float64(m)/float64(c+1))
			}
		}
	}
	at = slices.Concat([]float64{a}, at, p.holeStations(k, a, b), p.besideStations(k, a, b), []float64{b})
	slices.Sort(at)
	var out []mark
	last := p.markOn(k, at[0])
	for m := 1; m < len(at); m++ {
		next := p.markOn(k, at[m])
		out = append(out, p.refine(k, last, next, at[m-1], at[m], 6)...)
		if m+1 < len(at) {
			out = append(out, next)
		}
		last = next
	}
	return out
}

// refine halves the way between two stations until the width between them is
// near enough to a straight change, and the line's departure from its stretch to
// a chord.
func (p *shapedPart) refine(k int, a, b mark, sa, sb float64, depth int) []mark {
	if sb-sa < 2*leastSpace || depth == 0 {
		return nil
	}
	sm := (sa + sb) / 2
	mid := p.markOn(k, sm)
	left := p.refine(k, a, mid, sa, sm, depth-1)
	right := p.refine(k, mid, b, sm, sb, depth-1)
	straight := math.Abs((a.sigma+b.sigma)/2-mid.sigma) < widthStep*mid.sigma && p.bow(k, a, b, mid, sa, sb) < sagitta
	if straight && len(left) == 0 && len(right) == 0 {
		return nil
	}
	return slices.Concat(left, []mark{mid}, right)
}

// bow is how far the departure bends the line off its chord at mid, m, beside
// what an arc's own sagitta is.
func (p *shapedPart) bow(k int, a, b, mid mark, sa, sb float64) float64 {
	st := &p.fit.stretches[k]
	pa, _ := st.at(sa)
	pb, _ := st.at(sb)
	pm, _ := st.at((sa + sb) / 2)
	own := pa.Lerp(pb, 0.5).Sub(pm)
	return a.at.Lerp(b.at, 0.5).Sub(mid.at).Sub(own).Len()
}

// cornerMark is the corner between stretches k and k+1. Its σ is that of the
// distance across the line between the true corner and the drawn one: across
// the bisector from both legs, along it by half their difference, and what a
// bend of unknown radius cuts off.
func (p *shapedPart) cornerMark(k int) mark {
	f := p.fit
	q := p.joints[k].at
	sa, sb := p.ends[k][1], p.ends[k+1][0]
	_, da := f.stretches[k].at(sa)
	_, db := f.stretches[k+1].at(sb)
	turn := angle(da, db)
	ra, rb := f.row(k, sa), f.row(k+1, sb)
	both, apart := make([]float64, len(ra)), make([]float64, len(ra))
	c := math.Cos(turn / 2)
	for i := range ra {
		both[i] = (ra[i] + rb[i]) / (2 * max(c, 0.2))
		apart[i] = (ra[i] - rb[i]) / 2
	}
	cut := noise.BendRadius * (1/max(c, 0.2) - 1)
	station := p.base[k] + sa - p.ends[k][0]
	clock := p.slid.at(station)
	v := f.gls.variance(both) + f.gls.variance(apart) + sq(f.wander) + sq(cut) + p.rivalVariance(q) + p.holeVariance(station) + p.besideVariance(station) + clock
	if f.clock != nil {
		clock += sq(dot(both, f.clock.beta)) + sq(dot(apart, f.clock.beta))
	}
	return mark{at: q, station: station, sigma: math.Sqrt(v), clock: clock, flags: remarks.CornerInferred}
}

// widenChamfers enlarges σ on both sides of a joint that is no corner: between
// its two readings the line goes where nobody looked.
func (p *shapedPart) widenChamfers(m []mark) {
	for i := 1; i < len(m); i++ {
		if !m[i-1].flags.Any(remarks.CornerInferred) || p.isCorner(m[i-1].at) {
			continue
		}
		gap := m[i].at.Dist(m[i-1].at)
		extra := min(noise.ChamferShare*gap, chamferLegs*p.legsApart(m[i-1].at, m[i].at))
		m[i-1].sigma = math.Hypot(m[i-1].sigma, extra)
		m[i].sigma = math.Hypot(m[i].sigma, extra)
	}
}

// chamferLegs is σ of where the line goes between two legs that do not meet, as a
// share of how far apart they lie: it crosses from one to the other somewhere.
const chamferLegs = 0.4

// legsApart is how far, m, the two legs carried on lie from one another between the
// points at which they end, given as drawn.
func (p *shapedPart) legsApart(from, to plane.Pt) float64 {
	apart, near := math.Inf(1), math.Inf(1)
	for k, j := range p.joints {
		a, b := &p.fit.stretches[k], &p.fit.stretches[k+1]
		endA, _ := a.at(p.ends[k][1])
		startB, _ := b.at(p.ends[k+1][0])
		if d := endA.Dist(from) + startB.Dist(to); !j.corner && d < near {
			_, offA := a.project(startB)
			_, offB := b.project(endA)
			near, apart = d, max(math.Abs(offA), math.Abs(offB))
		}
	}
	return apart
}

func (p *shapedPart) isCorner(at plane.Pt) bool {
	for _, j := range p.joints {
		if j.corner && j.at == at {
			return true
		}
	}
	return false
}

// dropDoubles removes vertices that fall together, keeping the larger σ.
func dropDoubles(m []mark) []mark {
	out := m[:0]
	for _, v := range m {
		if n := len(out); n > 0 && v.at.Dist(out[n-1].at) < 1e-3 {
			out[n-1].sigma = max(out[n-1].sigma, v.sigma)
			out[n-1].flags |= v.flags
			continue
		}
		out = append(out, v)
	}
	return out
}
