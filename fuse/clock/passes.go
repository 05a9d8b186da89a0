package clock

import (
	"math"
	"slices"

	"tracemap/geodesy/plane"
	"tracemap/readings"
)

// passes is the evidence of a line walked more than once: a wrong offset slides
// one pass against the other when they run in opposite directions, and depth and
// current no longer agree place by place. (The latency test of hydrographic
// survey, with the line's depth in the sea-bed's place.) Each reading of a later
// pass counts by how much better the first pass at its place predicts it than
// the line's depths and currents at large do.
type passes struct {
	d     *day
	base  hypothesis // under which the passes were told apart
	pairs []passPair
	buf   []float64 // a place for every reading of the day
}

// A passPair is a pass and a later one over the same line.
type passPair struct {
	first, second []passReading // in order of time
	large         spreadOf
}

type passReading struct {
	k              int     // reading with a time
	t              float64 // s, locator's clock
	depth, current float64 // current: ln(mA); NaN where not read
}

// spreadOf is how a line's depths and currents are spread at large.
type spreadOf struct{ depth, sigmaDepth, current, sigmaCurrent float64 }

// Pauses that end a pass, s, and readings that make one.
const (
	passPause    = 45.0
	passReadings = 5
)

// newPasses finds the lines that were walked more than once. Passes are told apart by time
// alone – a pause, or the turn at the line's end, which shows as a pause of the
// readings – and by the direction of travel under the hypothesis h.
func newPasses(d *day, h hypothesis) *passes {
	byLine := map[string][]int{}
	var names []string
	for k, i := range d.index {
		r := &d.rs[i]
		if !r.OnLine() || r.Line == "" {
			continue
		}
		if _, ok := byLine[r.Line]; !ok {
			names = append(names, r.Line)
		}
		byLine[r.Line] = append(byLine[r.Line], k)
	}
	p := &passes{d: d, base: h, buf: make([]float64, len(d.times))}
	for _, name := range names {
		runs := d.runs(byLine[name], h)
		if len(runs) < 2 {
			continue
		}
		large := d.atLarge(byLine[name])
		for _, second := range runs[1:] {
			p.pairs = append(p.pairs, passPair{runs[0], second, large})
		}
	}
	return p
}

// atLarge gives median and robust σ of a line's depths and currents.
func (d *day) atLarge(idx []int) spreadOf {
	var depth, current []float64
	for _, k := range idx {
		r := &d.rs[d.index[k]]
		if v := depthOf(r); !math.IsNaN(v) {
			depth = append(depth, v)
		}
		if v := logOf(r.Current); !math.IsNaN(v) {
			current = append(current, v)
		}
	}
	var s spreadOf
	s.depth, s.sigmaDepth = centre(depth)
	s.current, s.sigmaCurrent = centre(current)
	return s
}

func centre(v []float64) (mid, sigma float64) {
	if len(v) == 0 {
		return math.NaN(), math.NaN()
	}
	slices.Sort(v)
	mid = v[len(v)/2]
	dev := make([]float64, len(v))
	for k := range v {
		dev[k] = math.Abs(v[k] - mid)
	}
	slices.Sort(dev)
	return mid, max(1.4826*dev[len(dev)/2], 0.02)
}

// runs cuts the readings of a line into passes, longest first.
func (d *day) runs(idx []int, h hypothesis) [][]passReading {
	slices.SortStableFunc(idx, func(a, b int) int { return compareFloat(d.times[a], d.times[b]) })
	var out [][]passReading
	var run []passReading
	var at []plane.Pt
	flush := func() {
		if len(run) >= passReadings {
			out = append(out, run)
		}
		run, at = nil, nil
	}
	for _, k := range idx {
		r := &d.rs[d.index[k]]
		q := d.where(h.at(d.times[k], d.mid))
		if math.IsNaN(q.E) {
			continue
		}
		if n := len(run); n > 0 {
			back := n > 2 && q.Sub(at[n-1]).Dot(at[n-1].Sub(at[n-3])) < 0
			if d.times[k]-run[n-1].t > passPause || back {
				flush()
			}
		}
		run = append(run, passReading{k: k, t: d.times[k], depth: depthOf(r), current: logOf(r.Current)})
		at = append(at, q)
	}
	flush()
	slices.SortStableFunc(out, func(a, b []passReading) int { return len(b) - len(a) })
	return out
}

func depthOf(r *readings.Reading) float64 {
	if v := r.BestDepth(); v > 0 {
		return v
	}
	return math.NaN()
}

func logOf(x float64) float64 {
	if x > 0 {
		return math.Log(x)
	}
	return math.NaN()
}

func (p *passes) name() string    { return "passes" }
func (p *passes) temper() float64 { return 0.7 }

// passReach, m, is how far beside the first pass a reading of the second may lie
// and still be on the same line: pointing, and what GNSS moved in between.
const passReach = 6.0

// each compares every reading of the later passes with the first pass's depth
// and current at its place, by laws with heavy tails.
func (p *passes) each(h hypothesis) []float64 {
	clear(p.buf)
	for k := range p.pairs {
		pair := &p.pairs[k]
		path, course := p.lay(pair.first, h)
		if len(path) < 2 {
			continue
		}
		for _, r := range pair.second {
			p.buf[r.k] = p.compare(path, course, r, pair.large, h)
		}
	}
	return p.buf
}

// lay places the readings of a pass.
func (p *passes) lay(run []passReading, h hypothesis) (plane.Polyline, []passReading) {
	path := make(plane.Polyline, 0, len(run))
	kept := make([]passReading, 0, len(run))
	for _, r := range run {
		if q := p.d.where(h.at(r.t, p.d.mid)); !math.IsNaN(q.E) {
			path = append(path, q)
			kept = append(kept, r)
		}
	}
	return path, kept
}

func (p *passes) compare(path plane.Polyline, course []passReading, r passReading, large spreadOf, h hypothesis) float64 {
	q := p.d.where(h.at(r.t, p.d.mid))
	if math.IsNaN(q.E) {
		return 0
	}
	seg, u, dist := nearestSegment(path, q)
	if dist > passReach {
		return 0
	}
	a, b := course[seg], course[seg+1]
	return better(r.depth, a.depth*(1-u)+b.depth*u, 0.03+0.06*r.depth, large.depth, large.sigmaDepth) +
		better(r.current, a.current*(1-u)+b.current*u, 0.08, large.current, large.sigmaCurrent)
}

// better is by how much the first law explains x better than the second, within
// bounds; 0 when x or a law is not known.
func better(x, near, sigma, large, sigmaLarge float64) float64 {
	l := heavy((x-near)/sigma) - math.Log(sigma) - heavy((x-large)/sigmaLarge) + math.Log(sigmaLarge)
	if math.IsNaN(l) {
		return 0
	}
	return min(max(l, -3), 3)
}

// drift is one σ of the offset, s, that the receiver's slow error brings about:
// what it moves along the line between two passes in opposite directions looks
// like twice the walker's way in the clock's error. 0 without passes.
func (p *passes) drift() float64 {
	if len(p.pairs) == 0 {
		return 0
	}
	var slow, pace float64
	n := 0
	for _, pair := range p.pairs {
		a, b := pair.second[0], pair.second[len(pair.second)-1]
		mid, ok := p.d.tr.At(p.base.at((a.t+b.t)/2, p.d.mid))
		way := p.d.where(p.base.at(a.t, p.d.mid)).Dist(p.d.where(p.base.at(b.t, p.d.mid)))
		if !ok || !(way > 1) {
			continue
		}
		slow += math.Sqrt(mid.Slow.Mean())
		pace += (b.t - a.t) / way
		n++
	}
	if n == 0 {
		return 0
	}
	k := float64(n)
	return slow / k * pace / k / math.Sqrt(2*k)
}

// heavy is the logarithm of Student's density with four degrees of freedom.
func heavy(z float64) float64 { return -2.5 * math.Log1p(z*z/4) }

// nearestSegment gives the piece of the path nearest to q, where on it, and how far.
func nearestSegment(path plane.Polyline, q plane.Pt) (seg int, u, dist float64) {
	dist = math.Inf(1)
	for k := 1; k < len(path); k++ {
		d := path[k].Sub(path[k-1])
		t := 0.0
		if l := d.Dot(d); l > 0 {
			t = min(max(q.Sub(path[k-1]).Dot(d)/l, 0), 1)
		}
		off := q.Sub(path[k-1].Lerp(path[k], t))
		if e := off.Dot(off); e < dist {
			seg, u, dist = k-1, t, e
		}
	}
	return seg, u, math.Sqrt(dist)
}

func compareFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
