package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/remarks"
)

// A shaped part: its fit, and the profiles along it.
type shapedPart struct {
	path    []int // placed readings in order along the part
	fit     *partFit
	memory  *memory      // of the corners tried
	joints  []joint      // between the stretches
	ends    [][2]float64 // of each stretch: its first and last local station on the line
	base    []float64    // station of each stretch's first point along the part
	depth   *profile
	depthOf map[int]int // sample → row of the depth profile
	current currentProfile
	// awayFromBends is the current without the readings beside bends: its steps are
	// branches.
	awayFromBends currentProfile
	// typicalDepth is the median logged depth, m; NaN when none.
	typicalDepth float64
	bends        []bend
	potholes     []pothole
	tied         *tie // to the potholes that agree; nil without
	rivals       []rival
	slid         *slid   // by an undetermined clock
	street       *street // what lines beside it leave open; nil without any
	scales       scales  // that it is fitted with
}

// A bend is a corner by its station and the angle, radians, by which it turns.
type bend struct {
	station, turn float64
	end           bool // an end of the part, counted as half a bend
}

// A joint is how two stretches meet: in a corner, or, where their extensions do
// not meet between the readings, by a straight from one reading to the next.
type joint struct {
	at     plane.Pt
	corner bool
}

// drop lets go of what only the part's widths need: most of its memory.
func (p *shapedPart) drop() {
	p.fit.gls, p.rivals = nil, nil
	if p.depth != nil {
		p.depth.gls = nil
	}
}

func typicalDepth(ps []Placed, path []int) float64 {
	var d []float64
	for _, i := range path {
		if v := ps[i].Reading.BestDepth(); v > 0 && depthCounts(&ps[i]) {
			d = append(d, v)
		}
	}
	return middle(d)
}

// depthCounts reports whether a reading's depth may be used at all.
func depthCounts(p *Placed) bool {
	return !p.Flags.Any(remarks.DepthImplausible | remarks.DepthPassive | remarks.DepthMissing)
}

// join finds where the stretches meet and lays stations along the part.
func (p *shapedPart) join() {
	f := p.fit
	n := len(f.stretches)
	p.ends, p.base, p.joints = make([][2]float64, n), make([]float64, n), make([]joint, max(n-1, 0))
	lo, hi := make([]float64, n), make([]float64, n)
	for k := range f.stretches {
		lo[k], hi[k] = math.Inf(1), math.Inf(-1)
		for m := f.stretches[k].first; m <= f.stretches[k].last; m++ {
			if f.samples[m].out {
				continue
			}
			lo[k], hi[k] = min(lo[k], f.local[m]), max(hi[k], f.local[m])
		}
		if lo[k] > hi[k] {
			lo[k], hi[k] = 0, f.stretches[k].length()
		}
		p.ends[k] = [2]float64{lo[k], hi[k]}
	}
	for k := range p.joints {
		a, b := &f.stretches[k], &f.stretches[k+1]
		pa, _ := a.at(hi[k])
		pb, _ := b.at(lo[k+1])
		slack := 3*(f.sigmaAcross(k, hi[k])+f.sigmaAcross(k+1, lo[k+1])) + 0.3
		if q, ok := corner(a, b, pa, pb, slack); ok {
			sa, _ := a.project(q)
			sb, _ := b.project(q)
			p.joints[k] = joint{at: q, corner: true}
			p.ends[k][1], p.ends[k+1][0] = sa, sb
		}
	}
	// A leg whose corners would lie in the wrong order is not fixed by its
	// readings well enough to be met twice.
	for k := range p.ends {
		if p.ends[k][0] <= p.ends[k][1] {
			continue
		}
		p.ends[k] = [2]float64{lo[k], hi[k]}
		if k > 0 {
			p.joints[k-1].corner = false
			p.ends[k-1][1] = hi[k-1]
		}
		if k < n-1 {
			p.joints[k].corner = false
			p.ends[k+1][0] = lo[k+1]
		}
	}
	var from float64
	for k := range f.stretches {
		p.base[k] = from
		from += p.ends[k][1] - p.ends[k][0]
		if k < n-1 && !p.joints[k].corner {
			a, _ := f.stretches[k].at(p.ends[k][1])
			b, _ := f.stretches[k+1].at(p.ends[k+1][0])
			from += a.Dist(b)
		}
	}
	// An end counts as half a bend: whether the line goes on there nobody knows.
	p.bends = append(p.bends[:0], bend{station: 0, turn: math.Pi / 3, end: true}, bend{station: from, turn: math.Pi / 3, end: true})
	for k, j := range p.joints {
		_, da := f.stretches[k].at(p.ends[k][1])
		_, db := f.stretches[k+1].at(p.ends[k+1][0])
		s := p.base[k] + p.ends[k][1] - p.ends[k][0]
		if !j.corner {
			s = (s + p.base[k+1]) / 2
		}
		p.bends = append(p.bends, bend{station: s, turn: angle(da, db)})
	}
	for m := range f.samples {
		if f.samples[m].out {
			f.on[m], f.local[m], f.offset[m] = p.foot(f.samples[m].at)
			_, dir := f.stretches[f.on[m]].at(f.local[m])
			f.normal[m] = dir.Left()
		}
		k := f.on[m]
		f.station[m] = p.base[k] + f.local[m] - p.ends[k][0]
	}
}

// foot is the point of the line drawn that lies nearest to q: its stretch, its
// station there, and how far q lies off, positive to the left. A reading that has
// been set aside is measured so: of the stretches that it does not hold, any may be
// its own.
func (p *shapedPart) foot(q plane.Pt) (k int, local, off float64) {
	off = math.Inf(1)
	for i := range p.fit.stretches {
		st := &p.fit.stretches[i]
		s, side := st.project(q)
		s = min(max(s, p.ends[i][0]), p.ends[i][1])
		at, _ := st.at(s)
		if d := q.Dist(at); d < math.Abs(off) {
			k, local, off = i, s, math.Copysign(d, side)
		}
		if i == 0 || p.joints[i-1].corner {
			continue
		}
		from, _ := p.fit.stretches[i-1].at(p.ends[i-1][1])
		to, _ := st.at(p.ends[i][0])
		if f, _ := (plane.Polyline{from, to}).Nearest(q); f.Dist < math.Abs(off) {
			k, local, off = i, p.ends[i][0], math.Copysign(f.Dist, to.Sub(from).Cross(q.Sub(from)))
		}
	}
	return k, local, off
}

// sortAlong puts the samples of each stretch that are in the fit in the order of
// their stations, and reports whether that changed anything. Those set aside keep
// their places: the shape does not know where they belong.
func (p *shapedPart) sortAlong() bool {
	f := p.fit
	changed := false
	for _, st := range f.stretches {
		var slots []int
		for m := st.first; m <= st.last; m++ {
			if !f.samples[m].out {
				slots = append(slots, m)
			}
		}
		order := slices.Clone(slots)
		slices.SortStableFunc(order, func(a, b int) int { return compare(f.local[a], f.local[b]) })
		if slices.Equal(order, slots) {
			continue
		}
		changed = true
		samples, path := slices.Clone(f.samples), slices.Clone(p.path)
		for k, m := range slots {
			f.samples[m], p.path[m] = samples[order[k]], path[order[k]]
		}
	}
	if changed {
		f.locate()
		_ = f.step()
		p.join()
	}
	return changed
}

// depthScale is the line's depth where only its order of size matters, m.
func (p *shapedPart) depthScale() float64 {
	if math.IsNaN(p.typicalDepth) {
		return 1.2
	}
	return max(p.typicalDepth, 0.3)
}

// leastBend is the share of bendShare from which a reading's current shows no step.
const leastBend = 0.08

// profiles fits depth and current along the part.
func (p *shapedPart) profiles(ps []Placed, sc *scales) {
	var rows []int
	p.depth, rows = depthProfile(ps, p.fit, p.bends, p.potholes, sc)
	p.depthOf = map[int]int{}
	if p.depth != nil { // depths that no profile fits are in none
		for r, m := range rows {
			p.depthOf[m] = r
		}
	}
	var all, away struct{ s, c []float64 }
	for _, m := range p.fit.own() {
		s, c := p.fit.station[m], ps[p.fit.samples[m].i].Reading.Current
		all.s, all.c = append(all.s, s), append(all.c, c)
		// Right at a bend half of the field is missing: that is no step.
		if bendShare(p.bends, s, p.depthScale()) < leastBend {
			away.s, away.c = append(away.s, s), append(away.c, c)
		}
	}
	p.current = fitCurrent(all.s, all.c)
	p.awayFromBends = provenCurrent(away.s, away.c)
}

// mostAside is the share of a part's readings that may be set aside as foreign;
// more than that is not a few locks but a line that is not understood.
const mostAside = 0.2

// mostLeverage, m: a reading whose place the others predict no better than this
// is what holds its piece of the shape.
const mostLeverage = 1.0

// judge sets readings aside that are another conductor's, by what all the others
// predict for them in position, depth and current, takes back those that are
// not, and reports whether that changed anything, and whether of those aside other
// ones guide the shape.
func (p *shapedPart) judge(ps []Placed) (changed, guided bool) {
	f := p.fit
	if len(f.samples) < 5 {
		return false, false
	}
	diff, sigma := f.leaveOneOut()
	var deep, deepSigma []float64
	if p.depth != nil {
		deep, deepSigma = p.depth.gls.leaveOneOut()
	}
	type verdict struct {
		m     int
		score float64
	}
	var foreign []verdict
	for m := range f.samples {
		e := p.evidenceFor(ps, m, diff[m], sigma[m])
		if sigma[m] > mostLeverage {
			e.lateral = 0 // the shape rests on it: its position says nothing
		}
		if r, ok := p.depthOf[m]; ok {
			e.depth, e.sigmaDepth = deep[r], deepSigma[r]
		}
		e.withNeighbours(ps, f.samples, m)
		e.steady = quiet(diff, sigma, m)
		if e.foreign() {
			foreign = append(foreign, verdict{m, e.lockScore()})
		}
	}
	slices.SortStableFunc(foreign, func(a, b verdict) int { return compare(b.score, a.score) })
	if most := int(mostAside * float64(len(f.samples))); len(foreign) > most {
		foreign = foreign[:most]
	}
	now := make([]bool, len(f.samples))
	for _, v := range foreign {
		now[v.m] = true
	}
	for m := range f.samples {
		s, other := &f.samples[m], f.samples[m].out != now[m]
		guide := now[m] && (s.guide || other) && math.Abs(diff[m]) < lockReach
		changed = changed || other
		guided = guided || s.guide != guide
		s.out, s.guide = now[m], guide
	}
	return changed, guided
}

// quiet reports whether the two readings on either side of m lie on the shape.
func quiet(diff, sigma []float64, m int) bool {
	if m < 2 || m+2 >= len(diff) {
		return false
	}
	for _, k := range []int{m - 2, m - 1, m + 1, m + 2} {
		if math.Abs(diff[k]) > 2.5*sigma[k] {
			return false
		}
	}
	return true
}

// leaveOneOut gives each sample's offset from what the others predict and its σ:
// for those in the fit by leaving them out, for those set aside against the fit.
func (f *partFit) leaveOneOut() (diff, sigma []float64) {
	diff, sigma = make([]float64, len(f.samples)), make([]float64, len(f.samples))
	d, s := f.gls.leaveOneOut()
	for r, m := range f.used {
		diff[m], sigma[m] = d[r], s[r]
	}
	for m := range f.samples {
		sm := &f.samples[m]
		if sm.out {
			diff[m] = f.offset[m]
			sigma[m] = math.Sqrt(sm.local + sm.unrest + sq(f.sigmaAcross(f.on[m], f.local[m])))
		}
	}
	return diff, sigma
}

func (p *shapedPart) evidenceFor(ps []Placed, m int, diff, sigma float64) evidence {
	s := &p.fit.samples[m]
	r := ps[s.i].Reading
	e := evidence{lateral: diff, sigmaLateral: sigma, depth: math.NaN(), current: math.NaN()}
	e.bend = bendShare(p.bends, p.fit.station[m], p.depthScale())
	if p.depth != nil && r.BestDepth() > 0 {
		v, sv := p.depth.at(p.fit.station[m])
		e.depthScale = v
		e.depth = r.BestDepth() - v
		e.sigmaDepth = math.Hypot(sv, noise.DepthSigma(r, max(v, 0.1)))
	}
	if c := p.current.at(p.fit.station[m]); c > 0 && r.Current > 0 {
		e.current = math.Log(r.Current / c)
		e.sigmaCurr = 1.3 * max(p.current.sigma, 0.05)
	}
	return e
}
