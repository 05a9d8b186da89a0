package compare

import (
	"math"

	"tracemap/geodesy/plane"
)

// A span is a stretch of a chain of the record beside a stretch of a located
// part: a pairing that may or may not be meant.
type span struct {
	chain, part int
	s0, s1      float64 // stations along the chain
	t0, t1      float64 // stations along the part, ascending
	samples     []sample
	half        float64 // mean 95 % half-width of the part there, m
	byID        bool
	kin         int // see kinship
	backwards   bool
	weight      float64
}

// A sample is a place of a span.
type sample struct {
	s, t    float64
	lateral float64
	at, n   plane.Pt // on the record; its normal to the left
}

// Limits of what may be a pair. Common practice, no source, where none is given.
const (
	// slopeMost is how fast a located line may leave its record: tan 20°. Lines
	// that cross at a small angle are not each other's partners.
	slopeMost = 0.36
	// leastShare is how much of the shorter of the two lines must lie beside the
	// other.
	leastShare = 0.15
	// leastLength, m, likewise; half the shorter line where that is less.
	leastLength = 2.0
)

func (s *span) length() float64 { return s.s1 - s.s0 }

// square is the mean square of the distance, m², after a common displacement of
// the located lines is taken away.
func (s *span) square(shift plane.Pt) float64 {
	var sum float64
	for i := range s.samples {
		v := s.samples[i].lateral - s.samples[i].n.Dot(shift)
		sum += v * v
	}
	return sum / float64(len(s.samples))
}

// bound95 is how far, m, the two lines of a span may be apart for their
// uncertainties alone.
func (s *span) bound95(accuracy float64) float64 { return math.Hypot(s.half, accuracy) }

// findSpans lists all pairings that search, direction and utility allow.
func findSpans(d *located, b *asBuilt, st *site, opt *Options) ([]span, error) {
	lines := make([]plane.Polyline, len(d.parts))
	for i := range d.parts {
		if len(d.parts[i].pts) > 1 {
			lines[i] = d.parts[i].pts
		}
	}
	index := plane.NewIndex(lines...)
	area := st.box.grown(opt.Search)
	var out []span
	budget := 0.0
	for i := range b.chains {
		ch := &b.chains[i]
		ranges := ch.inside(area)
		w := walk{d: d, b: b, chain: ch, index: index, opt: opt}
		w.step = min(2, max(0.25, ch.length()/16))
		if budget += total(ranges) / w.step; budget > mostSteps {
			return nil, tooMany()
		}
		for _, s := range w.spans(ranges) {
			s.chain = i
			out = append(out, s)
		}
	}
	return out, nil
}

// walk goes along a chain and gathers what lies beside it.
type walk struct {
	d     *located
	b     *asBuilt
	chain *chain
	index *plane.Index
	opt   *Options
	step  float64
}

func (w *walk) spans(ranges [][2]float64) []span {
	open := map[int]*span{}
	var order []*span
	steps(w.chain.length(), w.step, ranges, func(_, s, _ float64) {
		p, dir := w.chain.at(s)
		for _, hit := range w.index.Near(p, w.opt.Search*1.5) {
			q := &w.d.parts[hit.Line]
			found, ok := q.abreast(p, dir, w.opt.Search, hit.Station-2*w.opt.Search, hit.Station+2*w.opt.Search)
			if !ok {
				continue
			}
			x := sample{s: s, t: found.station, lateral: found.lateral, at: p, n: dir.Left()}
			sp := open[hit.Line]
			if sp == nil || !w.follows(sp, &x) {
				sp = &span{part: hit.Line}
				open[hit.Line] = sp
				order = append(order, sp)
			}
			sp.samples = append(sp.samples, x)
		}
	})
	var out []span
	for _, sp := range order {
		if w.finish(sp) {
			out = append(out, *sp)
		}
	}
	return out
}

// follows reports whether a sample goes on where a span ended.
func (w *walk) follows(sp *span, x *sample) bool {
	last := &sp.samples[len(sp.samples)-1]
	return x.s-last.s <= 2.6*w.step && math.Abs(x.t-last.t) <= 3*(x.s-last.s)+w.opt.Search
}

// finish completes a span and reports whether it may be a pairing at all.
func (w *walk) finish(sp *span) bool {
	q := &w.d.parts[sp.part]
	n := len(sp.samples)
	first, last := &sp.samples[0], &sp.samples[n-1]
	sp.s0, sp.s1 = first.s, last.s
	sp.t0, sp.t1 = min(first.t, last.t), max(first.t, last.t)
	for i := range sp.samples {
		sp.t0, sp.t1 = min(sp.t0, sp.samples[i].t), max(sp.t1, sp.samples[i].t)
	}
	sp.backwards = last.t < first.t
	sp.half = q.meanHalf(sp.t0, sp.t1)
	sp.kin = kinship(w.chain.utility, q.utility)
	sp.byID = sp.kin > 0 && w.named(sp, fold(q.line))
	shorter := min(w.chain.length(), q.length())
	if sp.kin == 0 || sp.length() < max(min(leastLength, shorter/2), leastShare*shorter) {
		return false
	}
	return sp.byID || math.Abs(slope(sp.samples)) <= slopeMost+2*sp.half/max(sp.length(), 1)*slopeMost
}

// named reports whether a link of the chain that a span runs along has a name.
func (w *walk) named(sp *span, name string) bool {
	for _, l := range w.chain.links {
		if shared := min(l.to, sp.s1) - max(l.from, sp.s0); shared > 0 && shared >= min(leastLength, (l.to-l.from)/2) && fold(w.b.records[l.record].id) == name {
			return true
		}
	}
	return false
}

// slope is the rate at which a located line leaves its record, by least squares.
func slope(samples []sample) float64 {
	var ms, ml float64
	n := float64(len(samples))
	for i := range samples {
		ms, ml = ms+samples[i].s/n, ml+samples[i].lateral/n
	}
	var ss, sl float64
	for i := range samples {
		ds := samples[i].s - ms
		ss, sl = ss+ds*ds, sl+ds*(samples[i].lateral-ml)
	}
	if ss == 0 {
		return 0
	}
	return sl / ss
}
