package clock

import (
	"cmp"
	"math"
	"slices"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
)

// passes is the evidence of a line walked more than once: a wrong offset slides
// one pass against the other when they run in opposite directions, and depth and
// current no longer agree place by place. (The latency test of hydrographic
// survey, with the line's depth in the sea-bed's place.)
//
// Two passes count by how much better one function of the station explains both than
// a function each: a Bayes factor. Where the two have nothing to do with one another,
// its expectation is 1, so that it exceeds e^L by chance once in e^L times, however
// smooth the profiles are; what a pass's own neighbouring readings foretell is no
// evidence. How deep and how strong a pass is on the whole does not count: two
// neighbouring lines may be alike in that.
type passes struct {
	d     *day
	base  hypothesis // under which the passes were told apart
	pairs []passPair

	path     plane.Polyline // room for a comparison: the first pass, …
	stations []float64      // … the stations of its points
	order    []sounding
	gain     []float64
}

// A passPair is a pass and a later one over the same ground: readings of the day's
// walk, in order of time.
type passPair struct {
	line          *walkedLine
	first, second []int32
	reach         float64 // m, how far beside the first one the later may lie
}

// A walkedLine is the readings of a line, as a stretch of the day's walk, with the
// laws of their depths and currents.
type walkedLine struct {
	first, end     int32
	depth, current course
	beside         float64 // m, σ across the line between two passes, without the receiver's
}

// A passReading is a reading on a line; depth and current are logarithms, NaN where
// not read.
type passReading struct {
	k              int     // reading with a time
	t              float64 // s, locator's clock
	depth, current float64
}

const (
	passPause    = 45.0 // s, a pause that ends a pass
	passReadings = 5    // make a pass
	passLength   = 8.0  // m, that a later pass shares with the first at the least
)

// mostWalked is how many readings of a line take part, evenly through the day.
const mostWalked = 600

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
	pace := d.pace()
	for _, name := range names {
		idx := byLine[name]
		slices.SortStableFunc(idx, func(a, b int) int { return cmp.Compare(d.times[a], d.times[b]) })
		idx = every(idx, mostWalked)
		first := int32(len(d.walk))
		l := walkedLine{first: first}
		for _, k := range idx {
			r := &d.rs[d.index[k]]
			d.walk = append(d.walk, passReading{k: k, t: d.times[k], depth: logOf(r.BestDepth()), current: logOf(r.Current)})
			l.beside += noise.PinSigma(r, r.BestDepth()) / float64(len(idx))
		}
		l.end = int32(len(d.walk))
		l.depth = d.course(l, pace, func(r *passReading) float64 { return r.depth })
		l.current = d.course(l, pace, func(r *passReading) float64 { return r.current })
		d.lines = append(d.lines, l)
	}
}

// pace is the usual speed, m/s, of the antenna while it moves.
func (d *day) pace() float64 {
	var v []float64
	for k := 4; k < len(d.path); k += 8 {
		if way := d.path[k].Dist(d.path[k-4]); way > 0.2 {
			v = append(v, way)
		}
	}
	if len(v) == 0 {
		return 1
	}
	slices.Sort(v)
	return v[len(v)/2] / (4 * gridStep)
}

// course is the law of a quantity along a line, from the readings' times: which
// readings follow one another does not depend on the clock.
func (d *day) course(l walkedLine, pace float64, of func(*passReading) float64) course {
	var passes [][]sounding
	var at float64
	for i := l.first; i < l.end; i++ {
		r := &d.walk[i]
		if i == l.first || r.t-d.walk[i-1].t > passPause {
			passes = append(passes, nil)
		} else {
			at += pace * (r.t - d.walk[i-1].t)
		}
		if y := of(r); !math.IsNaN(y) {
			last := &passes[len(passes)-1]
			*last = append(*last, sounding{s: at, y: y})
		}
	}
	return courseOf(passes)
}

// newPasses finds the lines that were walked more than once. Passes are told apart by time
// alone – a pause, or the turn at the line's end, which shows as a pause of the
// readings – and by the direction of travel under the hypothesis h.
func newPasses(d *day, h hypothesis) *passes {
	p := &passes{d: d, base: h}
	arena := make([]int32, 0, 2*len(d.walk))
	for k := range d.lines {
		l := &d.lines[k]
		if !l.depth.known && !l.current.known {
			continue
		}
		var runs [][]int32
		if runs, arena = d.runs(*l, h, arena); len(runs) < 2 {
			continue
		}
		for _, second := range runs[1:] {
			from := len(arena)
			var reach float64
			if arena, reach = p.sameGround(l, runs[0], second, arena); len(arena)-from >= passReadings {
				p.pairs = append(p.pairs, passPair{line: l, first: runs[0], second: arena[from:len(arena):len(arena)], reach: reach})
			}
		}
	}
	return p
}

// sameGround appends those of the second run's readings that lie on the first run's
// path, as closely as pointing and the receiver allow, and none where they do not
// lead back along it: a line beside it, one that crosses it, or one that goes on where
// it ends is no second pass, and one in the same direction slides with the first.
func (p *passes) sameGround(l *walkedLine, first, second, arena []int32) (_ []int32, reach float64) {
	p.lay(first, p.base)
	if len(p.path) < 2 {
		return arena, 0
	}
	from := len(arena)
	lo, hi := math.Inf(1), math.Inf(-1)
	begun, ended := 0.0, 0.0
	seg := 1
	for _, i := range second {
		t := p.base.at(p.d.walk[i].t, p.d.mid)
		q := p.d.where(t)
		if math.IsNaN(q.E) {
			continue
		}
		if reach == 0 {
			s, _ := p.d.tr.At(t)
			reach = besideSigmas * math.Sqrt(2*(l.beside*l.beside+s.Slow.Mean()))
		}
		var u float64
		var ok bool
		if seg, u, ok = nearestSegment(p.path, q, reach, seg); !ok {
			continue
		}
		if seg == 1 && u == 0 || seg == len(p.path)-1 && u == 1 {
			continue // before its beginning or behind its end
		}
		arena = append(arena, i)
		ended = p.station(seg, u)
		if len(arena)-from == 1 {
			begun = ended
		}
		lo, hi = min(lo, ended), max(hi, ended)
	}
	if hi-lo < passLength || begun-ended < opposite*(hi-lo) {
		return arena[:from], 0
	}
	return arena, reach
}

// opposite is the share of the length that it shares with the first pass which a pass
// back gets on against it.
const opposite = 0.5

// besideSigmas is how far beside one another, in σ, two passes over a line may lie.
const besideSigmas = 3.0

// station is the way along the path to a place on one of its pieces.
func (p *passes) station(seg int, u float64) (s float64) {
	for k := 1; k < seg; k++ {
		s += p.path[k].Dist(p.path[k-1])
	}
	return s + u*p.path[seg].Dist(p.path[seg-1])
}

// lay places the readings of a pass; where the track has nothing there is NaN.
func (p *passes) lay(run []int32, h hypothesis) {
	p.path = p.path[:0]
	for _, i := range run {
		if q := p.d.where(h.at(p.d.walk[i].t, p.d.mid)); !math.IsNaN(q.E) {
			p.path = append(p.path, q)
		}
	}
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

func logOf(x float64) float64 {
	if x > 0 {
		return math.Log(x)
	}
	return math.NaN()
}

func (p *passes) name() string    { return "passes" }
func (p *passes) temper() float64 { return 0.7 }

// each gives what every reading adds to the Bayes factors.
func (p *passes) each(h hypothesis) []float64 {
	out := make([]float64, len(p.d.times))
	for k := range p.pairs {
		pair := &p.pairs[k]
		if p.compare(pair, h) <= 0 {
			continue
		}
		for n, g := range p.gain {
			out[p.d.walk[pair.at(n)].k] += g
		}
	}
	return out
}

// total is the sum of the Bayes factors' logarithms; two passes that have nothing to
// do with one another speak neither for an offset nor against it.
func (p *passes) total(h hypothesis) (l float64) {
	for k := range p.pairs {
		l += max(p.compare(&p.pairs[k], h), 0)
	}
	return l
}

// at is the n-th reading of the pair.
func (pair *passPair) at(n int) int32 {
	if n < len(pair.first) {
		return pair.first[n]
	}
	return pair.second[n-len(pair.first)]
}

// compare gives the logarithm of the Bayes factor of one function for both passes
// against one for each; p.gain holds what each reading adds. It is 0 where the
// passes do not lie on one another.
func (p *passes) compare(pair *passPair, h hypothesis) (l float64) {
	if !p.layOrder(pair, h) {
		return 0
	}
	p.gain = slices.Grow(p.gain[:0], len(pair.first)+len(pair.second))[:len(pair.first)+len(pair.second)]
	clear(p.gain)
	run := func(sign float64, of func(*sounding) bool) {
		depth, current := pair.line.depth.filter(), pair.line.current.filter()
		for k := range p.order {
			if v := &p.order[k]; of(v) {
				g := sign * p.both(pair, &depth, &current, v)
				p.gain[v.reading] += g
				l += g
			}
		}
	}
	run(1, func(*sounding) bool { return true })
	run(-1, func(v *sounding) bool { return !v.second })
	run(-1, func(v *sounding) bool { return v.second })
	return l
}

// both takes a reading's depth and current into their filters and returns the
// log-likelihood of the two.
func (p *passes) both(pair *passPair, depth, current *filter, v *sounding) (l float64) {
	r := &p.d.walk[pair.at(v.reading)]
	if v.y = r.depth; v.y == v.y && depth.c.known {
		l += depth.next(v)
	}
	if v.y = r.current; v.y == v.y && current.c.known {
		l += current.next(v)
	}
	return l
}

// layOrder puts the pair's readings in order of their stations along the first pass,
// and reports whether most of the later one's lie on it.
func (p *passes) layOrder(pair *passPair, h hypothesis) bool {
	p.order = p.order[:0]
	p.lay(pair.first, h)
	if len(p.path) < 2 {
		return false
	}
	p.stations = p.stations[:0]
	var s float64
	k := 0
	for n, i := range pair.first {
		if q := p.d.where(h.at(p.d.walk[i].t, p.d.mid)); math.IsNaN(q.E) {
			continue
		}
		if k > 0 {
			s += p.path[k].Dist(p.path[k-1])
		}
		p.order = append(p.order, sounding{s: s, reading: n})
		p.stations = append(p.stations, s)
		k++
	}
	seg, on := 1, 0
	for n, i := range pair.second {
		q := p.d.where(h.at(p.d.walk[i].t, p.d.mid))
		if math.IsNaN(q.E) {
			continue
		}
		var u float64
		seg, u, _ = nearestSegment(p.path, q, math.Inf(1), seg)
		if p.path[seg-1].Lerp(p.path[seg], u).Dist(q) < pair.reach {
			on++
		}
		// The first and the last piece go on where the path ends.
		a, b := p.path[seg-1], p.path[seg]
		u = q.Sub(a).Dot(b.Sub(a).Unit())
		if seg > 1 {
			u = max(u, 0)
		}
		if seg < len(p.path)-1 {
			u = min(u, b.Dist(a))
		}
		p.order = append(p.order, sounding{s: p.stations[seg-1] + u, reading: len(pair.first) + n, second: true})
	}
	slices.SortStableFunc(p.order, func(a, b sounding) int { return cmp.Compare(a.s, b.s) })
	return 2*on > len(pair.second)
}
