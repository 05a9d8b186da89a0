package fuse

import (
	"math"
	"slices"
)

// Readings over a few metres may scatter far beyond their own σ: a distorted field,
// a receiver whose σ is not true. Followed with a shape of their own they would give
// a line of many small bends and a narrow width. So a span of the path may also be
// unrest: one straight or arc whose readings have a larger variance, which the span
// itself tells. Twice the negative log-likelihood of n readings with χ² at their own
// σ is then n·(1 + ln(χ²/n)) in place of χ².
const (
	priceUnrest  = 8.0 // what a span of unrest must gain beside that of a span
	leastUnrest  = 3.0 // χ²/n from which a span may be unrest
	unrestPoints = 6   // fewer do not tell scatter from shape
	// The larger the unrest, the less likely it is beside a shape: a normal law of
	// this many metres, and of as many σ of the readings (from memory).
	usualUnrest  = 0.2
	usualMisstep = 1.5
)

// unrestCost is the cost of n readings of variance local and with χ² as a span of
// unrest, without the span's own price; infinite where they may not be one.
func unrestCost(n int, local, chi float64) float64 {
	k := chi / float64(n)
	if n < unrestPoints || k < leastUnrest {
		return math.Inf(1)
	}
	return float64(n)*(1+math.Log(k)) + spanPrice((k-1)*local, local)
}

// spanPrice is the price of a span with so much unrest, m², in units of χ².
func spanPrice(unrest, local float64) float64 {
	return priceUnrest + unrest/(sq(usualUnrest)+sq(usualMisstep)*local)
}

// spreadUnrest gives the samples of each span the variance that the span tells.
func spreadUnrest(samples []sample, spans []span) {
	for _, sp := range spans {
		for m := sp.first; m <= sp.last; m++ {
			samples[m].unrest += (sp.ratio - 1) * (samples[m].local + samples[m].unrest)
		}
	}
}

// unrestPrice is what the samples' unrest costs in units of χ²: the larger
// variances, and each span's price.
func unrestPrice(samples []sample) float64 {
	var price float64
	last := 0.0
	for m := range samples {
		s := &samples[m]
		ratio := 1 + s.unrest/s.local
		if !s.out {
			price += math.Log(ratio)
		}
		if ratio > 1 && ratio != last {
			price += spanPrice(s.unrest, s.local)
		}
		last = ratio
	}
	return price
}

// tryUnrest holds the shape's short pieces – where the line turns, and again after
// a few readings – against unrest: the same readings as scatter about a plainer
// line.
func (p *shapedPart) tryUnrest(ps []Placed, sc *scales) {
	for _, window := range p.fit.shortPieces() {
		other := &shapedPart{path: p.path, typicalDepth: p.typicalDepth, memory: p.memory}
		if other.fit = restless(p.fit.samples, window, p.memory); other.complete(ps, sc) {
			p.compete(other, other.lead(ps, p))
		}
	}
}

// restless finds the shape with unrest in a window, as much of it as the window's
// readings then show; nil if they show none.
func restless(samples []sample, window []int, known *memory) *partFit {
	var ratio float64 = 1e3 // the window says next to nothing of the shape
	for range 2 {
		s := slices.Clone(samples)
		for _, m := range window {
			s[m].unrest = (ratio - 1) * s[m].local
		}
		f := fitShapeWith(s, known)
		if f == nil {
			return nil
		}
		if ratio < 1e3 {
			return f
		}
		var chi, n float64
		for _, m := range window {
			if !s[m].out {
				chi += sq(f.offset[m]) / s[m].local
				n++
			}
		}
		if ratio = chi / n; !(ratio > leastUnrest) {
			return nil
		}
	}
	return nil
}

// longPiece is the number of readings from which a piece of the shape is beyond
// doubt; mostShort those that a run of shorter ones may have together.
const (
	longPiece = 9
	mostShort = 16
)

// shortPieces lists the runs of readings on pieces of the shape that have few each.
func (f *partFit) shortPieces() [][]int {
	var out [][]int
	var run []int
	pieces := f.pieceOf()
	for from := 0; from < len(pieces); {
		to := from
		for to < len(pieces) && pieces[to] == pieces[from] {
			to++
		}
		if to-from < longPiece {
			run = append(run, between(from, to-1)...)
		}
		if len(run) > 0 && (to-from >= longPiece || to == len(pieces)) {
			if len(run) >= 3 && len(run) <= mostShort && len(run) < len(pieces)-longPiece {
				out = append(out, run)
			}
			run = nil
		}
		from = to
	}
	return out
}

// pieceOf numbers the straights and arcs of the shape and tells each sample's.
func (f *partFit) pieceOf() []int {
	out := make([]int, len(f.samples))
	base := 0
	for k := range f.stretches {
		st := &f.stretches[k]
		for m := st.first; m <= st.last; m++ {
			s, i := f.local[m], 0
			for i+1 < len(st.pieces) && s > st.pieces[i].length {
				s -= st.pieces[i].length
				i++
			}
			out[m] = base + i
		}
		base += len(st.pieces)
	}
	return out
}
