package fuse

import (
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// Two or three readings in a row that lock on a neighbour make a shape of their
// own, which a bend of the line explains as well: beside a bend depth and current
// read low too. So both are fitted – the line with them and the line without –
// and the whole evidence decides: position, depth and current of these readings
// and the number of bends that the shape needs.

// suspicion is the score of depth and current, without regard to bends, from
// which a reading is put to this test.
const suspicion = 2.0

// suspectReach is how many neighbours on each side are asked: twice as many as a
// run of locks is long.
const suspectReach = 8

// nextOdds is ln of the odds that a lock is over at the next reading.
const nextOdds = 0.7

// tryWithout fits the part without each cluster of suspicious readings in turn, and
// with each that was set aside beside a bend, and keeps what explains the day better.
func (p *shapedPart) tryWithout(ps []Placed, sc *scales) {
	for _, cluster := range append(p.takenBack(), p.suspects(ps)...) {
		other := p.refitted(ps, sc, cluster, true)
		if other == nil {
			continue
		}
		lead := other.lead(ps, p)
		if !other.anyForeign(ps, cluster) {
			lead = min(lead, 0) // readings that lie on the line found without them belong to it
		}
		p.compete(other, lead)
	}
	for _, cluster := range p.asideAtBends() {
		if other := p.refitted(ps, sc, cluster, false); other != nil {
			p.compete(other, other.lead(ps, p))
		}
	}
}

// lead is by how much p explains the day better than another shape of it, as a
// log-likelihood: over all readings that one of the two sets aside.
func (p *shapedPart) lead(ps []Placed, other *shapedPart) float64 {
	var set []int
	for m := range p.fit.samples {
		if p.fit.samples[m].out || other.fit.samples[m].out {
			set = append(set, m)
		}
	}
	return p.explains(ps, set) - other.explains(ps, set)
}

// refitted is the part fitted with a cluster out, or in; nil when that gives no
// shape. Of those out, the ones near the line found without them guide it.
func (p *shapedPart) refitted(ps []Placed, sc *scales, cluster []int, out bool) *shapedPart {
	samples := slices.Clone(p.fit.samples)
	for _, m := range cluster {
		samples[m].out, samples[m].guide = out, false
	}
	other := &shapedPart{path: p.path, typicalDepth: p.typicalDepth, memory: p.memory}
	if !other.fitOnce(ps, samples, sc) {
		return nil
	}
	guided := false
	for _, m := range cluster {
		if out && math.Abs(other.fit.offset[m]) < lockReach {
			other.fit.samples[m].guide, guided = true, true
		}
	}
	if guided && !other.fitOnce(ps, other.fit.samples, sc) {
		return nil
	}
	return other
}

// anyForeign reports whether a reading of the cluster is foreign to the shape.
func (p *shapedPart) anyForeign(ps []Placed, cluster []int) bool {
	for _, m := range cluster {
		s := &p.fit.samples[m]
		e := p.evidenceFor(ps, m, p.fit.offset[m], math.Sqrt(s.local+s.unrest+sq(p.fit.sigmaAcross(p.fit.on[m], p.fit.local[m]))))
		e.steady = true
		if e.foreign() {
			return true
		}
	}
	return false
}

// asideAtBends lists the runs of readings set aside where the line turns: a reading
// at a fitting lies off the course of those before and after.
func (p *shapedPart) asideAtBends() [][]int {
	var out [][]int
	last := -3
	for m := range p.fit.samples {
		if !p.fit.samples[m].out || bendShare(p.bends, p.fit.station[m], p.depthScale()) < leastBend {
			continue
		}
		if m-last == 1 {
			out[len(out)-1] = append(out[len(out)-1], m)
		} else {
			out = append(out, []int{m})
		}
		last = m
	}
	return out
}

// compete keeps the better of two shapes, by the lead of the other in
// log-likelihood, and the worse as a rival if it is not much worse.
func (p *shapedPart) compete(other *shapedPart, lead float64) {
	if lead > 0 {
		other.rivals = append(other.rivals, p.rivals...)
		*p, *other = *other, *p
		lead = -lead
	}
	if odds := math.Exp(lead / rivalTemper); odds > leastRival {
		p.rivals = append(p.rivals, rival{other, odds / (1 + odds)})
	}
}

// dipStep, of ln(I), makes a level worth a trial.
const dipStep = 0.45

// A rival is another shape of the part that explains the readings not much worse:
// the true line may be that one, and the width must say so.
type rival struct {
	shape *shapedPart
	share float64 // its probability
}

const (
	// rivalTemper divides the lead of one shape over another: their laws are
	// guessed and their readings not independent.
	rivalTemper = 4.0
	leastRival  = 0.02
	// farthestRival, m: a rival that leaves the line by more says that this piece of
	// it exists or does not, which a width cannot say.
	farthestRival = 3.0
)

// rivalVariance is what the rivals add across the line at a point, m².
func (p *shapedPart) rivalVariance(at plane.Pt) float64 {
	var v float64
	for _, r := range p.rivals {
		if _, off := r.shape.nearest(at); math.Abs(off) < farthestRival {
			v += r.share * off * off
		}
	}
	return v
}

// takenBack lists the readings of each level of the current that lies a step
// below the levels on both sides.
func (p *shapedPart) takenBack() [][]int {
	var out [][]int
	l := p.current.levels
	for k := 1; k+1 < len(l); k++ {
		before, own, after := l[k-1].at(l[k].from), l[k].at(l[k].from), l[k+1].at(l[k].to)
		if math.Log(before/own) < dipStep || math.Log(after/own) < dipStep {
			continue
		}
		var cluster []int
		for m := range p.fit.samples {
			if s := p.fit.station[m]; !p.fit.samples[m].out && s >= l[k].from && s <= l[k].to {
				cluster = append(cluster, m)
			}
		}
		out = append(out, cluster)
	}
	return out
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
		around := append(between(max(m-suspectReach, 0), m-1), between(m+1, min(m+suspectReach, len(s)-1))...)
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

// explains is the log-likelihood of the part's positions and depths, less the
// prices of its shape and of its currents' levels, with that of the readings in a
// set: by the line's own law where they are in the fit, by another line's where
// they are not.
func (p *shapedPart) explains(ps []Placed, set []int) float64 {
	f := p.fit
	params := len(f.stretches) - 1
	for k := range f.stretches {
		params += f.stretches[k].params()
	}
	l := -0.5*(f.gls.q+priceParam*float64(params)+unrestPrice(f.samples)) - p.current.price()
	if p.depth != nil {
		l -= 0.5 * (p.depth.gls.q + p.depth.gls.logDet)
	}
	// Readings that lock on the same line in a row are one event: the first pays
	// for it, and each next one for how it differs.
	lastPlace, last := 0.0, -3
	for _, m := range set {
		e := p.evidenceFor(ps, m, f.offset[m], math.Sqrt(f.samples[m].local+f.samples[m].unrest))
		if !f.samples[m].out {
			_, sc := e.tolerances()
			l += normal(e.current, sc)
			continue
		}
		if math.Abs(e.lateral) > farthestLock {
			return math.Inf(-1)
		}
		odds := nextOdds
		if m-last > 2 {
			odds, lastPlace = lockOdds, 0
		}
		// In the fit a position costs through q alone, to which its own σ belongs.
		place := e.lateral - lastPlace
		if f.samples[m].guide {
			place = 0
		}
		l += lockPlace(place, e.current) + math.Log(e.sigmaLateral) - odds + lockStrength(e.current)
		if depthCounts(&ps[f.samples[m].i]) {
			l += normal(e.depth, lockDepth*max(e.depthScale, 0.5))
		}
		lastPlace, last = e.lateral, m
	}
	return l
}

// farthestLock, m, is how far off its line a crew may stray without noticing.
const farthestLock = 5.0

// lockPlace is the logarithm of the density of how far off another line lies:
// mostly near; as far as lines in a street lie apart only where the current, too,
// is plainly another's. Without the constant of the normal law.
func lockPlace(r, lnCurrent float64) float64 {
	near := 0.8 * math.Exp(-0.5*sq(r/lockLateral)) / lockLateral
	far := 0.0
	if math.Abs(lnCurrent) > 1 {
		far = 0.2 / (2 * farthestLock) * math.Sqrt(2*math.Pi)
	}
	return math.Log(max(near+far, 1e-12))
}

// lockStrength is the logarithm of the density of another line's ln(current)
// beside this line's: anything from a thirtieth to twice it; without the
// constant of the normal law.
func lockStrength(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	near := 0.5 * math.Exp(-0.5*sq(x/lockCurrent)) / lockCurrent
	far := 0.0
	if x > -3.4 && x < 0.7 {
		far = 0.5 / 4.1 * math.Sqrt(2*math.Pi)
	}
	return math.Log(max(near+far, 1e-12))
}

// normal is the logarithm of a centred normal density, up to its constant; 0 for
// what is not known.
func normal(x, sigma float64) float64 {
	if math.IsNaN(x) || !(sigma > 0) {
		return 0
	}
	return -0.5*sq(x/sigma) - math.Log(sigma)
}
