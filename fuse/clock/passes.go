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

	path   plane.Polyline // of the pass at hand, and the readings it is made of
	course []int32
}

// A passPair is a pass and a later one over the same line: readings of the day's
// walk, in order of time.
type passPair struct{ first, second []int32 }

// A walkedLine is the readings of a line, as a stretch of the day's walk.
type walkedLine struct{ first, end int32 }

// A passReading is a reading on a line, with what it says of each law.
type passReading struct {
	k              int     // reading with a time
	t              float64 // s, locator's clock
	depth, current value
}

// spreadOf is how a line's depths and currents are spread at large.
type spreadOf struct{ depth, sigmaDepth, current, sigmaCurrent float64 }

// Pauses that end a pass, s, and readings that make one.
const (
	passPause    = 45.0
	passReadings = 5
)

// layWalk lists the readings on each line in order of time.
func (d *day) layWalk() {
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
	d.walk = make([]passReading, 0, len(d.times))
	for _, name := range names {
		idx := byLine[name]
		large := d.atLarge(idx)
		slices.SortStableFunc(idx, func(a, b int) int { return compareFloat(d.times[a], d.times[b]) })
		idx = every(idx, mostWalked)
		first := int32(len(d.walk))
		for _, k := range idx {
			r := &d.rs[d.index[k]]
			depth := depthOf(r)
			d.walk = append(d.walk, passReading{
				k: k, t: d.times[k],
				depth:   valueOf(depth, 0.03+0.06*depth, large.depth, large.sigmaDepth),
				current: valueOf(logOf(r.Current), 0.08, large.current, large.sigmaCurrent),
			})
		}
		d.lines = append(d.lines, walkedLine{first, int32(len(d.walk))})
	}
}

// mostWalked is how many readings of a line take part, evenly through the day: each
// of a later pass is held against each of the first.
const mostWalked = 3000

// newPasses finds the lines that were walked more than once. Passes are told apart by time
// alone – a pause, or the turn at the line's end, which shows as a pause of the
// readings – and by the direction of travel under the hypothesis h.
func newPasses(d *day, h hypothesis) *passes {
	p := &passes{d: d, base: h}
	arena := make([]int32, 0, len(d.walk))
	for _, l := range d.lines {
		var runs [][]int32
		if runs, arena = d.runs(l, h, arena); len(runs) < 2 {
			continue
		}
		for _, second := range runs[1:] {
			p.pairs = append(p.pairs, passPair{runs[0], second})
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

// runs cuts the readings of a line into passes, longest first; they are put into
// the arena.
func (d *day) runs(l walkedLine, h hypothesis, arena []int32) (out [][]int32, rest []int32) {
	var last [3]plane.Pt // places of the last three of the run, the latest first
	first := len(arena)
	flush := func() {
		if n := len(arena); n-first >= passReadings {
			out = append(out, arena[first:n:n])
		} else {
			arena = arena[:first]
		}
		first = len(arena)
	}
	for i := l.first; i < l.end; i++ {
		r := &d.walk[i]
		q := d.where(h.at(r.t, d.mid))
		if math.IsNaN(q.E) {
			continue
		}
		if n := len(arena) - first; n > 0 {
			back := n > 2 && q.Sub(last[0]).Dot(last[0].Sub(last[2])) < 0
			if r.t-d.walk[arena[len(arena)-1]].t > passPause || back {
				flush()
			}
		}
		arena = append(arena, i)
		last = [3]plane.Pt{q, last[0], last[1]}
	}
	flush()
	slices.SortStableFunc(out, func(a, b []int32) int { return len(b) - len(a) })
	return out, arena
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
	out := make([]float64, len(p.d.times))
	p.compareAll(h, func(k int, odds float64) { out[k] = -tail * math.Log(odds) })
	return out
}

func (p *passes) total(h hypothesis) float64 {
	all := one()
	p.compareAll(h, func(_ int, odds float64) { all.times(odds) })
	return -tail * all.log()
}

// compareAll tells for every reading of a later pass that has something to say
// how unlikely the first pass makes it, as better has it.
func (p *passes) compareAll(h hypothesis, tell func(k int, odds float64)) {
	for k := range p.pairs {
		pair := &p.pairs[k]
		if k == 0 || &pair.first[0] != &p.pairs[k-1].first[0] {
			p.lay(pair.first, h)
		}
		if len(p.path) < 2 {
			continue
		}
		seg := 1
		for _, i := range pair.second {
			r := &p.d.walk[i]
			q := p.d.where(h.at(r.t, p.d.mid))
			if math.IsNaN(q.E) {
				continue
			}
			var u float64
			var ok bool
			if seg, u, ok = nearestSegment(p.path, q, passReach, seg); ok {
				a, b := &p.d.walk[p.course[seg-1]], &p.d.walk[p.course[seg]]
				tell(r.k, r.depth.better(a.depth.x*(1-u)+b.depth.x*u)*r.current.better(a.current.x*(1-u)+b.current.x*u))
			}
		}
	}
}

// lay places the readings of a pass.
func (p *passes) lay(run []int32, h hypothesis) {
	p.path, p.course = p.path[:0], p.course[:0]
	for _, i := range run {
		if q := p.d.where(h.at(p.d.walk[i].t, p.d.mid)); !math.IsNaN(q.E) {
			p.path = append(p.path, q)
			p.course = append(p.course, i)
		}
	}
}

// A value is what was read, with the two laws that may explain it: Student's with
// four degrees of freedom about what the first pass has there, and about what the
// line has at large.
type value struct {
	x     float64 // NaN where not read
	sigma float64 // of the near law
	large float64 // the power −1/tail of the near law's peak over the large one's density
}

// tail is the power with which Student's density of four degrees of freedom falls.
const tail = 2.5

func valueOf(x, sigma, large, sigmaLarge float64) value {
	z := (x - large) / sigmaLarge
	return value{x, sigma, math.Pow(sigma/sigmaLarge, 1/tail) / (1 + z*z/4)}
}

// better is by how much the near law, about what was told near, explains x better
// than the large one, within bounds: the logarithm of that times −1/tail, as a
// power of e. 1 when x or a law is not known.
func (v *value) better(near float64) float64 {
	const most = 3.3201169227365472 // e^(3/tail): no reading counts for more than 3
	z := (v.x - near) / v.sigma
	odds := (1 + z*z/4) * v.large
	if odds != odds {
		return 1
	}
	return min(max(odds, 1/most), most)
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
		a, b := &p.d.walk[pair.second[0]], &p.d.walk[pair.second[len(pair.second)-1]]
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

// nearestSegment gives the piece of the path nearest to q, of equals the first,
// as the number of its end, and where on it; false where none lies within reach.
// The search starts at a guess.
func nearestSegment(path plane.Polyline, q plane.Pt, reach float64, guess int) (seg int, u float64, ok bool) {
	guess = min(max(guess, 1), len(path)-1)
	best, dist := reach*reach, reach
	for n := range path {
		k := n
		switch n {
		case 0:
			k = guess
		case guess:
			continue
		}
		a := path[k-1]
		d, w := path[k].Sub(a), q.Sub(a)
		// No point of the piece is further from its start than it is long.
		if math.Abs(w.E) > math.Abs(d.E)+dist || math.Abs(w.N) > math.Abs(d.N)+dist {
			continue
		}
		t := 0.0
		if l := d.Dot(d); l > 0 {
			t = min(max(w.Dot(d)/l, 0), 1)
		}
		off := q.Sub(a.Lerp(path[k], t))
		if e := off.Dot(off); e < best || e == best && (!ok || k < seg) {
			seg, u, best, ok = k, t, e, true
			dist = math.Sqrt(e) * (1 + 1e-12)
		}
	}
	return seg, u, ok
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
