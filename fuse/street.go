package fuse

import (
	"math"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/readings"
	"tracemap/remarks"
)

// Lines that run side by side carry some of each other's signal back, and all readings
// of such a stretch are off to the same side, in place and in depth: no residual shows
// it. What can be known is where the neighbours lie, because they were located too, and
// so what each share of the current in them would do (see readBeside). So once all
// parts have an outline, each one is looked at among the others, and what the share
// leaves open goes whole into its widths.

// A street holds what the current in located lines beside a part leaves open, at
// stations that are step metres apart from 0 on.
type street struct {
	step  float64
	place []float64 // one σ across the line, m
	depth []float64 // one σ of the depth as a share of it
	lift  []float64 // share of the depth by which it reads shallow in the mean
	ends  []float64 // stations at which a neighbour begins or ends
}

const (
	courseStep = 1.0  // m between the points of a course, unless there were more than mostCourse
	mostCourse = 2000 // points of a part
	// besideReach, in depths, is how far off a line may run and count as beside.
	besideReach = 3.0
	// besideRun, in depths, is how long a line must run beside: what is shorter shows in the
	// part's own readings.
	besideRun = 3.0
	// besideCos is the cosine of the largest angle between two lines that run side by
	// side, 37°: beyond it no more than half of the current goes along.
	besideCos = 0.8
	// mostBeside is how many neighbours are counted at a place, the nearest first.
	mostBeside = 8
	// mostApart, in σ, is the farthest that peak and null may lie from what is expected of
	// neighbours that were located.
	mostApart = 2.0
	// besideGrows is by how much a neighbour must widen for a person to be told.
	besideGrows = 1.25
)

// at is one of the street's quantities at a station; 0 without a street.
func (s *street) at(of func(*street) []float64, station float64) float64 {
	if s == nil {
		return 0
	}
	return interpolated(of(s), station/s.step)
}

func openPlace(s *street) []float64 { return s.place }
func openDepth(s *street) []float64 { return s.depth }
func meanLift(s *street) []float64  { return s.lift }

// A course is a part's outline as its neighbours see it: points step metres apart with
// the direction and the depth there.
type course struct {
	group  int
	step   float64
	points []coursePoint
	coil   readings.Response // that most of its readings were pointed with
	nulls  []nullSeen
}

type coursePoint struct {
	at, along plane.Pt
	depth     float64
}

// A nullSeen is how far peak and null lay apart at a station, m.
type nullSeen struct{ station, apart float64 }

// newCourse gives the course of a part's outline; nil where there is none.
func newCourse(ps []Placed, p *shapedPart, group int) *course {
	if p == nil {
		return nil
	}
	last := len(p.base) - 1
	length := p.base[last] + p.ends[last][1] - p.ends[last][0]
	if !(length > 0) {
		return nil
	}
	n := int(min(math.Ceil(length/courseStep), mostCourse))
	c := &course{group: group, step: length / float64(n)}
	depth := p.fallAt()
	for i := range n + 1 {
		s := float64(i) * c.step
		k, local := p.localOf(s)
		at, _ := p.fit.stretches[k].at(local)
		c.points = append(c.points, coursePoint{at: at, depth: depth(s)})
	}
	for i := range c.points {
		a, b := c.points[max(i-1, 0)].at, c.points[min(i+1, n)].at
		c.points[i].along = b.Sub(a).Unit()
	}
	count := map[string]int{}
	for _, m := range p.fit.own() {
		r := ps[p.fit.samples[m].i].Reading
		count[string(r.Response)]++
		if v := math.Abs(r.NullOffset); !math.IsNaN(v) {
			c.nulls = append(c.nulls, nullSeen{p.fit.station[m], v})
		}
	}
	c.coil = readings.Response(commonest(count))
	return c
}

// fallAt gives the depth at a station where only its order of size matters, m: that of
// the straight fall of the part's depths.
func (p *shapedPart) fallAt() func(station float64) float64 {
	if p.depth == nil {
		return func(float64) float64 { return p.depthScale() }
	}
	d := depths{station: p.depth.station, logged: p.depth.y}
	fall := d.fall()
	return func(station float64) float64 {
		nearest, depth := math.Inf(1), 0.0
		for k, s := range d.station {
			if away := math.Abs(s - station); away < nearest {
				nearest, depth = away, fall[k]
			}
		}
		return max(depth, 0.3)
	}
}

// streets looks at each part among the others; nil for one that nothing runs beside.
func (d *locating) streets(outlines []*shapedPart) []*street {
	courses := make([]*course, len(outlines))
	n := 0
	for g := range d.groups {
		for range d.runs[g] {
			courses[n] = newCourse(d.ps, outlines[n], g)
			n++
		}
	}
	near := newSurroundings(courses)
	out := make([]*street, len(courses))
	sideBySide(len(courses), func(k int) {
		if courses[k] != nil {
			out[k] = newStreet(courses[k], near.beside(courses[k]))
		}
	})
	return out
}

// newStreet judges a course with its neighbours at each of its points; nil without any.
func newStreet(c *course, all []neighbours) *street {
	s := &street{step: c.step, place: make([]float64, len(all)), depth: make([]float64, len(all)), lift: make([]float64, len(all))}
	found := false
	for i, here := range all {
		if i > 0 && !here.same(all[i-1]) {
			s.ends = append(s.ends, float64(i-1)*c.step, float64(i)*c.step)
		}
		if len(here) == 0 {
			continue
		}
		found = true
		s.place[i], s.depth[i], s.lift[i] = c.leftOpen(i, here)
	}
	if !found {
		return nil
	}
	return s
}

// leftOpen is what the current in the neighbours at point i leaves open: one σ of the
// place across the line, m, and of the depth as a share of it; and the share by which the
// depth reads shallow in the mean. For so much the depth is corrected; the place is not,
// so that its mean stays in its σ.
//
// Where peak and null were both taken, their distance narrows the share, by the law of
// two normal variables of which one was seen. To which side the null lies depends on how
// the technician stood: both are held, in proportion to their odds.
func (c *course) leftOpen(i int, here neighbours) (place, depth, lift float64) {
	z := c.points[i].depth
	e := make([]effect, len(here))
	for k, n := range here {
		e[k] = effectOf(z, beside{n.across, n.depth, n.cos}, c.coil)
	}
	mp, md := divided(e, placeOf), divided(e, depthOf)
	vp, vd := dividedCov(e, placeOf, placeOf), dividedCov(e, depthOf, depthOf)
	seen, own := c.apart(i, z)
	if math.IsNaN(seen) {
		return math.Hypot(math.Sqrt(vp), mp), math.Sqrt(vd), -md
	}
	my, vy := divided(e, apartOf), dividedCov(e, apartOf, apartOf)+own
	kp, kd := dividedCov(e, apartOf, placeOf)/vy, dividedCov(e, apartOf, depthOf)/vy
	var odds, p2, d1, d2 float64
	for _, y := range []float64{seen, -seen} {
		// What lies farther off is another conductor's doing.
		r := min(max(y-my, -mostApart*math.Sqrt(vy)), mostApart*math.Sqrt(vy))
		w := math.Exp(-sq(r) / (2 * vy))
		p, d := mp+kp*r, md+kd*r
		odds, p2, d1, d2 = odds+w, p2+w*sq(p), d1+w*d, d2+w*sq(d)
	}
	p2, d1, d2 = p2/odds, d1/odds, d2/odds
	return math.Sqrt(max(vp-sq(kp)*vy, 0) + p2), math.Sqrt(max(vd-sq(kd)*vy, 0) + max(d2-sq(d1), 0)), -d1
}

// apart is the mean distance of peak and null over the readings near point i, m, and
// its variance where the field is that of one conductor; NaN where fewer than three
// were taken.
func (c *course) apart(i int, depth float64) (seen, own float64) {
	var sum, n float64
	for _, s := range c.nulls {
		if math.Abs(s.station-float64(i)*c.step) <= noise.PinLength/2 {
			sum, n = sum+s.apart, n+1
		}
	}
	if n < 3 {
		return math.NaN(), 0
	}
	return sum / n, 2 * (sq(noise.PinBase) + sq(noise.PinDepth*depth)) / n
}

// An effect is what current that flows back in a neighbour does to a reading, for a share
// of the whole current: to the place of the peak, or of what was pointed with, and of the
// null, m to the left, and to the depth as a share of it.
type effect struct{ place, null, depth float64 }

func placeOf(e effect) float64 { return e.place }
func depthOf(e effect) float64 { return e.depth }
func apartOf(e effect) float64 { return e.null - e.place }

// effectOf is the effect of a wire whose share stands for how much of its current goes
// along with the line, taken at one σ of what usually flows back.
func effectOf(depth float64, w beside, coil readings.Response) effect {
	back := -noise.BackShare * w.share
	wires := []beside{{w.across, w.depth, back}}
	shift, read := readBeside(depth, wires, coil == readings.Single)
	e := effect{shift, nullBeside(depth, wires), read/depth - 1}
	if coil == readings.Null {
		e.place = e.null
	}
	return effect{e.place / noise.BackShare, e.null / noise.BackShare, e.depth / noise.BackShare}
}

// divided is the mean of an effect of the current that flows back, divided among the
// neighbours in any way, each as likely as any other: a flat Dirichlet law, with shares
// of 1/n in the mean.
func divided(e []effect, of func(effect) float64) float64 {
	var sum float64
	for _, x := range e {
		sum += of(x)
	}
	return noise.BackMean * sum / float64(len(e))
}

// dividedCov is the covariance of two effects of that current (Dirichlet's
// E[wᵢwⱼ] = (1 + δᵢⱼ)/n(n + 1)).
func dividedCov(e []effect, a, b func(effect) float64) float64 {
	var sa, sb, both float64
	for _, x := range e {
		sa, sb, both = sa+a(x), sb+b(x), both+a(x)*b(x)
	}
	n := float64(len(e))
	return (sq(noise.BackShare)+sq(noise.BackMean))*(sa*sb+both)/(n*(n+1)) - divided(e, a)*divided(e, b)
}

// besideVariance is what located lines beside the part add to the variance across it at
// a station, m².
func (p *shapedPart) besideVariance(station float64) float64 {
	return sq(p.street.at(openPlace, station))
}

// besideSigma is what they leave open of a depth there, m.
func (p *shapedPart) besideSigma(station, depth float64) float64 {
	return depth * p.street.at(openDepth, station)
}

// besideLift is by what a depth as read there is multiplied, because neighbours carry
// current back in the mean.
func (p *shapedPart) besideLift(station float64) float64 {
	return 1 / (1 - p.street.at(meanLift, station))
}

// besideStations are the stations, local to stretch k between a and b, at which a
// neighbour begins or ends.
func (p *shapedPart) besideStations(k int, a, b float64) []float64 {
	if p.street == nil {
		return nil
	}
	var out []float64
	for _, s := range p.street.ends {
		if s = s - p.base[k] + p.ends[k][0]; s > a+leastSpace && s < b-leastSpace {
			out = append(out, s)
		}
	}
	return out
}

// besideFlag returns the remark for a vertex that lines beside it widen much, in place or
// in depth.
func (p *shapedPart) besideFlag(v *Vertex) remarks.Set {
	much := func(sigma, part float64) bool { return sq(sigma) > sq(besideGrows)*(sq(sigma)-sq(part)) }
	if much(v.Sigma, p.street.at(openPlace, v.Station)) || !math.IsNaN(v.Depth) && much(v.SigmaDepth, p.besideSigma(v.Station, v.Depth)) {
		return remarks.LineBeside
	}
	return 0
}
