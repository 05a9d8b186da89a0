package fuse

import (
	"slices"

	"tracemap/fuse/noise"
)

// outline fits one part by its readings alone, without holding the shape against
// rivals: enough to measure the day's scales by.
func outline(ps []Placed, path []int, sc *scales) *shapedPart {
	p := draw(ps, path, sc)
	if p == nil || !p.settle(ps, sc) {
		return nil
	}
	return p
}

// shape fits one part, and holds the shape found against rivals.
func shape(ps []Placed, path []int, sc *scales) *shapedPart {
	p := draw(ps, path, sc)
	if p == nil {
		return nil
	}
	p.tryWithout(ps, sc)
	p.tryRounding(ps, sc)
	p.tryKinks(ps, sc)
	p.tryUnrest(ps, sc)
	if !p.settle(ps, sc) {
		return nil
	}
	return p
}

// draw finds a part's shape; nil where its readings give none. The steps feed on
// each other – the shape needs to know which readings to leave out, and only the
// shape shows them – so they are gone through until nothing changes, a few times at
// the most.
func draw(ps []Placed, path []int, sc *scales) *shapedPart {
	p := &shapedPart{path: slices.Clone(path), typicalDepth: typicalDepth(ps, path), memory: newMemory(), scales: *sc}
	samples := samplesOf(ps, p.path, p.typicalDepth, sc)
	screen(ps, samples)
	stale := true // the fit does not know yet what was judged by it
	for range 5 {
		if !p.fitOnce(ps, samples, sc) {
			return nil
		}
		moved := p.sortAlong()
		samples = p.fit.samples
		changed, guided := p.judge(ps)
		stale = moved || changed || guided
		if !moved && !changed {
			break
		}
	}
	if stale && !p.fitOnce(ps, samples, sc) {
		return nil
	}
	return p
}

// settle finds how far the line departs from its shape, and lays stations and
// profiles along it.
func (p *shapedPart) settle(ps []Placed, sc *scales) bool {
	return p.fit.chooseWander() == nil && p.complete(ps, sc)
}

// fitOnce fits shape and profiles to the samples as they stand.
func (p *shapedPart) fitOnce(ps []Placed, samples []sample, sc *scales) bool {
	p.fit = fitShape(samples, p.memory)
	return p.complete(ps, sc)
}

// complete lays stations and profiles along the shape, if there is one.
func (p *shapedPart) complete(ps []Placed, sc *scales) bool {
	if p.fit == nil {
		return false
	}
	p.join()
	p.profiles(ps, sc)
	return true
}

// fitShape finds the shape of samples of which nothing is known but their σ.
func fitShape(samples []sample, known *memory) *partFit {
	for m := range samples {
		samples[m].unrest = 0
	}
	return fitShapeWith(samples, known)
}

// fitShapeWith finds the shape of samples of which unrest may be known.
func fitShapeWith(samples []sample, known *memory) *partFit {
	obs := make([]observed, len(samples))
	for m := range samples {
		obs[m] = observed{at: samples[m].at, weight: samples[m].weight()}
	}
	spans := segment(obs)
	spreadUnrest(samples, spans)
	sts := stretches(samples, spans)
	sts = simplifyShape(samples, sts, known)
	f := &partFit{samples: samples, stretches: sts, wander: noise.Wander}
	if f.solve() != nil {
		// Readings that do not fix the shape found: one straight always can be.
		f.stretches = []stretch{firstShape(samples, span{first: 0, last: len(samples) - 1})}
		if f.solve() != nil {
			return nil
		}
	}
	return f
}
