package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
)

// Another conductor's reading, against the line's own: how far off it lies, one
// σ each. Common practice, no source; they only shape how surprise in position,
// depth and current add up.
const (
	lockLateral = 0.7  // m
	lockDepth   = 0.35 // of the depth
	lockCurrent = 0.6  // of ln(current)
	lockOdds    = 3.5  // ln of the odds against a lock, before looking: 3 %
)

// evidence is what a reading's neighbours say of it: its deviation from what
// they predict and the σ of that, in each of the three; NaN where unknown.
type evidence struct {
	lateral, depth, current             float64
	sigmaLateral, sigmaDepth, sigmaCurr float64
	depthScale                          float64 // m, the line's depth there
}

// lockScore is the logarithm of the odds that the reading is another
// conductor's: its position, depth and current judged together.
func (e *evidence) lockScore() float64 {
	score := -lockOdds
	add := func(r, own, other float64) {
		if math.IsNaN(r) || math.IsNaN(own) || own <= 0 {
			return
		}
		wide := math.Hypot(own, other)
		score += -0.5*sq(r/wide) - math.Log(wide) + 0.5*sq(r/own) + math.Log(own)
	}
	add(e.lateral, e.sigmaLateral, lockLateral)
	add(e.depth, e.sigmaDepth, lockDepth*max(e.depthScale, 0.5))
	add(e.current, e.sigmaCurr, lockCurrent)
	return score
}

// screen sets aside, before any shape is known, readings that no straight
// through their neighbours on either side comes near, judged together with the
// medians of their neighbours' depths and currents.
func screen(ps []Placed, s []sample) {
	const reach = 3
	n := len(s)
	if n < 5 {
		return
	}
	out := make([]bool, n)
	for m := range s {
		before := neighbours(m-1, max(0, m-reach))
		after := neighbours(m+1, min(n-1, m+reach))
		around := append(slices.Clone(before), after...)
		lateral := math.Inf(1)
		for _, set := range [][]int{before, after, around} {
			lateral = min(lateral, offStraight(s, set, m))
		}
		if math.IsInf(lateral, 1) {
			continue
		}
		// Prediction from three noisy neighbours is about as uncertain again.
		e := evidence{lateral: lateral, sigmaLateral: 1.5 * math.Sqrt(s[m].local)}
		fillDepthCurrent(ps, s, around, m, &e)
		out[m] = e.lockScore() > 0 && lateral > 2*e.sigmaLateral
	}
	for m := range s {
		s[m].out = out[m]
	}
}

// neighbours lists indices from a towards b, inclusive.
func neighbours(a, b int) []int {
	var out []int
	for k := a; k >= b; k-- {
		out = append(out, k)
	}
	for k := a; k <= b && a < b; k++ {
		out = append(out, k)
	}
	return slices.Compact(out)
}

// offStraight is how far sample m lies from the best of the straights through
// two of the set, best being that with the least median distance; +Inf without two.
func offStraight(s []sample, set []int, m int) float64 {
	if len(set) < 3 {
		return math.Inf(1)
	}
	least, off := math.Inf(1), math.Inf(1)
	for a := range set {
		for b := a + 1; b < len(set); b++ {
			p, q := s[set[a]].at, s[set[b]].at
			d := q.Sub(p)
			if d.Len() < 0.3 {
				continue
			}
			u := d.Unit()
			var r []float64
			for _, k := range set {
				r = append(r, math.Abs(u.Cross(s[k].at.Sub(p))))
			}
			slices.Sort(r)
			// The median would be 0 for the two that make the straight.
			if mid := r[(len(r)+2)/2]; mid < least {
				least, off = mid, math.Abs(u.Cross(s[m].at.Sub(p)))
			}
		}
	}
	return off
}

func fillDepthCurrent(ps []Placed, s []sample, set []int, m int, e *evidence) {
	e.depth, e.current = math.NaN(), math.NaN()
	var d, c []float64
	for _, k := range set {
		r := ps[s[k].i].Reading
		if v := r.BestDepth(); v > 0 {
			d = append(d, v)
		}
		if r.Current > 0 {
			c = append(c, math.Log(r.Current))
		}
	}
	own := ps[s[m].i].Reading
	if v := own.BestDepth(); v > 0 && len(d) >= 3 {
		e.depthScale = medianOf(d)
		e.depth = v - e.depthScale
		e.sigmaDepth = 1.3 * noise.DepthSigma(own, e.depthScale)
	}
	if own.Current > 0 && len(c) >= 3 {
		e.current = math.Log(own.Current) - medianOf(c)
		e.sigmaCurr = 1.5 * noise.CurrentRel
	}
}

// medianOf sorts its argument.
func medianOf(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}
