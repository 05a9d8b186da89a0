package fuse

import (
	"fmt"
	"math"

	"tracemap/fuse/noise"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/remarks"
)

// A pothole is a place where the line was dug free: its depth seen, to the same
// centre as the locator's, and its place as far as the position of the hole tells it.
type pothole struct {
	placed  int // index of the placed reading
	station float64
	seen    float64 // depth, m
	// What the locator's readings alone say there, m; NaN without depths.
	depth, sigmaDepth float64
	off               float64 // how far left of the line the hole lies, m
	// excess is by how much the variance of the depth and of the place must grow at
	// the hole, m², for the contradiction to be one of a σ; 0 where there is none.
	excessDepth, excessAcross float64
}

// contradicts reports whether the line was seen outside the bounds of the map.
func (h *pothole) contradicts() bool { return h.excessDepth > 0 || h.excessAcross > 0 }

// Lengths, m, of the potholes' rules. Common practice, no source.
const (
	// potholeReach is how far beside a part a pothole may lie and belong to it: a
	// hole's own width, beside what both positions are worth.
	potholeReach = 1.0
	// namedReach is the same for one that names the line.
	namedReach = 5.0
	// standSigma is one σ of how far beside the line that was dug free the position
	// was taken: the operator stands at the edge of the hole, or holds the pole in it.
	standSigma = 0.15
)

// potholesOn tells which potholes lie on which part, by the parts' outlines: on one of
// the line that a pothole names, if it names one.
func (d *locating) potholesOn(outlines []*shapedPart) map[int][]int {
	on := map[int][]int{}
	for i := range d.ps {
		r := d.ps[i].Reading
		if !d.ps[i].OK || r.Feature != "pothole" || !(r.MeasuredDepth > 0) || r.Flags.Has(remarks.SetAsideByHand) {
			continue
		}
		if k := d.partUnder(i, outlines); k >= 0 {
			on[k] = append(on[k], i)
		}
	}
	return on
}

// partUnder finds the part that a placed reading lies on; −1 when none does.
func (d *locating) partUnder(i int, outlines []*shapedPart) int {
	best := -1
	name := nameKey(d.ps[i].Reading.Line)
	reach := potholeReach
	if name != "" {
		reach = namedReach
	}
	reach += 2 * math.Sqrt(d.ps[i].SlowE+d.ps[i].SlowN+d.ps[i].QuickVar)
	n := 0
	for k, g := range d.groups {
		for range d.runs[k] {
			p := outlines[n]
			n++
			if p == nil || name != "" && nameKey(g.id) != name {
				continue
			}
			if _, off := p.nearest(d.ps[i].At); math.Abs(off) < reach {
				best, reach = n-1, math.Abs(off)
			}
		}
	}
	return best
}

// addPotholes holds the potholes on the part against what the readings alone say.
// Where no reading gave a depth, the depths seen are all there is.
func (p *shapedPart) addPotholes(ps []Placed, holes []int, sc *scales) {
	if p == nil || len(holes) == 0 {
		return
	}
	located := p.depth != nil
	for _, i := range holes {
		station, off := p.nearest(ps[i].At)
		h := pothole{placed: i, station: station, seen: ps[i].Reading.MeasuredDepth, depth: math.NaN(), off: off}
		h.excessAcross = excess(off, p.sigmaAt(station), holeSigma(&ps[i]))
		if located && math.Abs(off) < potholeReach {
			h.depth, h.sigmaDepth = p.locatedDepth(station)
			h.excessDepth = excess(h.seen-h.depth, h.sigmaDepth, seenSigma)
		}
		p.potholes = append(p.potholes, h)
	}
	if !located {
		p.profiles(ps, sc)
		return
	}
	p.tie()
}

// excess is what has to be added to the variance sigma² of the map, m², for a
// difference of diff from what was seen with own to be one of a single σ; 0 where the
// difference lies within the 95 % bound of both. (R. T. Birge, Phys. Rev. 40, 1932,
// widens the other way round, by the ratio; the sum here keeps what the hole itself
// is worth out of it.)
func excess(diff, sigma, own float64) float64 {
	v := sq(sigma) + sq(own)
	if sq(diff) <= sq(noise.K95)*v {
		return 0
	}
	return sq(diff) - v
}

// holeSigma is one σ of where a pothole's line was seen, m. A clock that is not known
// leaves its place open.
func holeSigma(p *Placed) float64 {
	if p.Flags.Has(remarks.ClockUncertain) {
		return math.Inf(1)
	}
	return math.Sqrt(sq(standSigma) + p.QuickVar + max(p.SlowE, p.SlowN) + p.ClockShift.Dot(p.ClockShift))
}

// A tie is how potholes that agree with the readings correct their depths near by:
// kriging with their differences, whose covariances go to nothing over the length
// over which neighbours share an error. (Covariance tapering: Furrer, Genton, Nychka,
// J. Comput. Graph. Stat. 15(3), 2006; from memory.) What lies farther off is not
// known the better for it.
type tie struct {
	holes   []int // of the part's potholes
	v       *triangle
	weights []float64 // V⁻¹(seen − located)
}

func (p *shapedPart) tie() {
	t := &tie{}
	for k := range p.potholes {
		if h := &p.potholes[k]; !h.contradicts() && !math.IsNaN(h.depth) {
			t.holes = append(t.holes, k)
		}
	}
	if len(t.holes) == 0 {
		return
	}
	v := newSymmetric(len(t.holes))
	for a, k := range t.holes {
		h := &p.potholes[k]
		row := v.row(a)
		for b := range row {
			row[b] = p.tapered(h.station, p.potholes[t.holes[b]].station)
		}
		row[a] += sq(seenSigma)
		t.weights = append(t.weights, h.seen-h.depth)
	}
	var err error
	if t.v, err = v.factorize(); err != nil {
		return // holes on one spot: the readings alone hold
	}
	t.v.solve(t.weights)
	p.tied = t
}

// depthAt is the depth at a station and one σ of it: what the readings say, drawn to
// potholes that agree, and as wide as those ask for that do not.
func (p *shapedPart) depthAt(station float64) (depth, sigma float64) {
	depth, sigma = p.locatedDepth(station)
	if len(p.potholes) == 0 || math.IsNaN(depth) {
		return depth, sigma
	}
	v := sq(sigma)
	if t := p.tied; t != nil {
		c := make([]float64, len(t.holes))
		for a, k := range t.holes {
			c[a] = p.tapered(station, p.potholes[k].station)
		}
		depth += dot(c, t.weights)
		t.v.half(c)
		v = max(v-dot(c, c), 0)
	}
	for k := range p.potholes {
		// What readings all over the part have in common may be what is wrong: so far
		// as it is, the contradiction holds for all of the part.
		if h := &p.potholes[k]; h.excessDepth > 0 {
			v += h.excessDepth * sq(min(p.covariance(station, h.station)/sq(h.sigmaDepth), 1))
		}
	}
	return depth, math.Sqrt(v)
}

// locatedDepth is the depth at a station by the readings alone, and one σ of it.
func (p *shapedPart) locatedDepth(station float64) (depth, sigma float64) {
	if p.depth == nil {
		return math.NaN(), math.NaN()
	}
	depth, sigma = p.depth.at(station)
	depth *= p.besideLift(station)
	return depth, math.Hypot(math.Hypot(sigma, p.bendSigma(station, depth)), p.besideSigma(station, depth))
}

// bendSigma is what bends near by leave open of a depth, m.
func (p *shapedPart) bendSigma(station, depth float64) float64 {
	_, doubt := shallowBeside(p.bends, station, depth)
	return noise.BendKept * depth * doubt
}

// covariance is that of the errors of locatedDepth at two stations, m².
func (p *shapedPart) covariance(a, b float64) float64 {
	da, _ := p.depth.at(a)
	db, _ := p.depth.at(b)
	return p.depth.covariance(a, b) + p.besideSigma(a, da)*p.besideSigma(b, db) +
		p.bendSigma(a, da)*p.bendSigma(b, db)*math.Exp(-math.Abs(a-b)/noise.DepthLength)
}

func (p *shapedPart) tapered(a, b float64) float64 {
	return p.covariance(a, b) * math.Exp(-math.Abs(a-b)/noise.DepthLength)
}

// covariance is that of the errors of at at two stations (universal kriging).
func (p *profile) covariance(a, b float64) float64 {
	ha, da := p.halves(a)
	hb, db := p.halves(b)
	return p.kernel(math.Abs(a-b)) - dot(ha, hb) + dot(da, db)
}

// halves gives L⁻¹k of a station's covariances to the data, and L′⁻¹ of what of its
// trend the data do not show, with LLᵀ = C and L′L′ᵀ = XᵀC⁻¹X + P.
func (p *profile) halves(s float64) (h, d []float64) {
	h = make([]float64, len(p.y))
	for a := range h {
		h[a] = p.kernel(math.Abs(s - p.station[a]))
	}
	p.gls.c.half(h)
	d = p.trend(s)
	for c := range d {
		d[c] -= p.gls.hx[c].dot(stretched{v: h})
	}
	p.gls.normal.half(d)
	return h, d
}

// holeVariance is what potholes that show the line elsewhere add to the variance
// across it at a station, m²: whole at the hole, less as far as the errors of
// pin-pointing reach.
func (p *shapedPart) holeVariance(station float64) float64 {
	var v float64
	for k := range p.potholes {
		h := &p.potholes[k]
		v += h.excessAcross * sq(math.Exp(-math.Abs(station-h.station)/noise.PinLength))
	}
	return v
}

// sigmaAt is one σ across the line at a station of the part.
func (p *shapedPart) sigmaAt(station float64) float64 {
	k, local := p.localOf(station)
	return p.markOn(k, local).sigma
}

// holeStations are the stations, local to stretch k between a and b, at which the
// part needs vertices for what potholes do to depth and width.
func (p *shapedPart) holeStations(k int, a, b float64) []float64 {
	var out []float64
	for i := range p.potholes {
		for _, away := range []float64{-4, -2, -1, -0.5, -0.25, 0, 0.25, 0.5, 1, 2, 4} {
			s := p.potholes[i].station + away*noise.DepthLength - p.base[k] + p.ends[k][0]
			if s > a+leastSpace && s < b-leastSpace {
				out = append(out, s)
			}
		}
	}
	return out
}

// nearest gives the station of the part nearest to q and how far q lies from it,
// positive to the left.
func (p *shapedPart) nearest(q plane.Pt) (station, off float64) {
	k, local, off := p.foot(q)
	return p.base[k] + local - p.ends[k][0], off
}

// checks reports the potholes as events: what was seen against what had been
// located without them. It flags the vertices near those that contradict.
func (p *shapedPart) checks(ps []Placed, plan *geodesy.Local, v []Vertex) []Event {
	var out []Event
	for k := range p.potholes {
		h := &p.potholes[k]
		at := p.pointAt(h.station)
		e := Event{
			Kind: remarks.PotholeUsed, Station: h.station, At: at, Geo: plan.Inverse(at),
			Before: h.depth, After: h.seen, Across: h.off, Reading: ps[h.placed].Reading,
		}
		if h.contradicts() {
			e.Kind = remarks.PotholeContradicts
			for i := range v {
				if math.Abs(v[i].Station-h.station) <= noise.DepthLength {
					v[i].Flags |= e.Kind
				}
			}
		}
		out = append(out, e)
		ps[h.placed].Station = h.station
		ps[h.placed].Flags |= e.Kind
	}
	return out
}

// potholeWarning says where a pothole contradicts the map.
func potholeWarning(e *Event) string {
	text := fmt.Sprintf("%s line %d: a test hole on line %s at %.1f m shows it %.2f m deep", e.Reading.File, e.Reading.Row, e.LineID, e.Station, e.After)
	if !math.IsNaN(e.Before) {
		text += fmt.Sprintf(", located %.2f m deep,", e.Before)
	}
	side := "left"
	if e.Across < 0 {
		side = "right"
	}
	return text + fmt.Sprintf(" and %.2f m to the %s: that contradicts the map beyond its width, which was enlarged; find out which line the hole shows and locate again beside it", math.Abs(e.Across), side)
}
