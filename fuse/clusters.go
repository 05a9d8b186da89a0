package fuse

import (
	"math"
	"slices"
)

// Two or three readings in a row that lock on a neighbour make a shape of their
// own, which a bend of the line explains as well: beside a bend depth and current
// read low too. So both are fitted – the line with them and the line without –
// and the whole evidence decides: position, depth and current of these readings
// and the number of bends that the shape needs.

// suspicion is the score of depth and current, without regard to bends, from
// which a reading is put to this test.
const suspicion = 2.0

// tryWithout fits the part without each cluster of suspicious readings in turn
// and keeps what explains the day better.
func (p *shapedPart) tryWithout(ps []Placed, sc *scales) {
	for _, cluster := range p.suspects(ps) {
		samples := slices.Clone(p.fit.samples)
		for _, m := range cluster {
			samples[m].out = true
		}
		other := &shapedPart{path: p.path, typicalDepth: p.typicalDepth}
		if !other.fitOnce(ps, samples, sc) {
			continue
		}
		if other.explains(ps, cluster) > p.explains(ps, cluster) {
			*p = *other
		}
	}
}

// suspects lists runs of readings in the fit whose depth and current together
// speak for another line.
func (p *shapedPart) suspects(ps []Placed) [][]int {
	s := p.fit.samples
	var out [][]int
	last := -3
	for m := range s {
		if s[m].out {
			continue
		}
		e := evidence{lateral: math.NaN(), depth: math.NaN(), current: math.NaN(), steady: true}
		around := append(between(max(m-screenReach, 0), m-1), between(m+1, min(m+screenReach, len(s)-1))...)
		fillDepthCurrent(ps, s, around, m, &e)
		if e.lockScore() < suspicion {
			continue
		}
		if m-last <= 2 {
			out[len(out)-1] = append(out[len(out)-1], m)
		} else {
			out = append(out, []int{m})
		}
		last = m
	}
	return out
}

// explains is the log-likelihood of the part's positions, less the price of its
// shape, with that of the cluster's readings: by the line's own law where they
// are in the fit, by another line's where they are not.
func (p *shapedPart) explains(ps []Placed, cluster []int) float64 {
	f := p.fit
	params := len(f.stretches) - 1
	for k := range f.stretches {
		params += f.stretches[k].params()
	}
	l := -0.5 * (f.gls.q + priceParam*float64(params))
	for _, m := range cluster {
		e := p.evidenceFor(ps, m, f.offset[m], math.Sqrt(f.samples[m].local))
		sd, sc := e.tolerances()
		if !f.samples[m].out {
			l += normal(e.depth, sd) + normal(e.current, sc)
			continue
		}
		// In the fit a position costs through q alone, to which its own σ belongs.
		l += normal(e.lateral, lockLateral) + math.Log(e.sigmaLateral) - lockOdds +
			normal(e.depth, lockDepth*max(e.depthScale, 0.5)) + normal(e.current, lockCurrent)
	}
	return l
}

// normal is the logarithm of a centred normal density, up to its constant; 0 for
// what is not known.
func normal(x, sigma float64) float64 {
	if math.IsNaN(x) || !(sigma > 0) {
		return 0
	}
	return -0.5*sq(x/sigma) - math.Log(sigma)
}
