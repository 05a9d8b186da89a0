package clock

import (
	"cmp"
	"context"
	"math"
	"slices"

	"tracemap/internal/parallel"
)

// A hypothesis is an offset at the middle of the readings and a drift.
type hypothesis struct {
	offset float64 // s
	drift  float64 // s/s
}

// at is the hypothesis's UTC, on the track's clock, for a locator's time.
func (h hypothesis) at(t, mid float64) float64 { return t - h.offset - h.drift*(t-mid) }

// Evidence of one kind: how well an offset explains each reading.
type evidence interface {
	name() string
	// each gives the log-likelihood of every reading under h, up to a constant
	// that does not depend on h. An entry stands for one reading or, where the
	// evidence lies in pairs, for one pair.
	each(h hypothesis) []float64
	// total is the sum of each, at less cost.
	total(h hypothesis) float64
	// temper is the share of its log-likelihood that counts: readings are not
	// independent of one another.
	temper() float64
}

// Choosing between offsets.
const (
	apart        = 3.0  // s: nearer peaks are one answer
	farApart     = 30.0 // s between starts that stand for the rest of the day
	leastGain    = 12.0 // tempered log-likelihood by which the best must lead the runner-up …
	leastSure    = 2.2  // … and by as many σ of the lead itself (Vuong, Econometrica 57, 1989)
	plainGain    = 30.0 // a lead so large needs to stand on more than a few readings only:
	plainSure    = 1.0
	widestSure   = 0.4 // s: with a larger σ an offset is an estimate, not known to the second
	fineStep     = 0.1 // s
	coarseStep   = 0.5 // s
	coarseReach  = 5   // steps to either side
	fineReach    = 15
	sigmaLatency = 0.7  // s by which a position handed on to the locator may be late
	floorSigma   = 0.3  // s: stamps, and where within its stop a reading is taken
	driftWander  = 8e-6 // s/s by which a quartz clock's drift changes with warmth: the offset is no straight line
	modelSigma   = 2.0  // by which the likelihoods' own spread is too small: their laws are guessed
	mostDrifts   = 24   // to either side
	driftReach   = 60e-6
	candidateMax = 12
	farMax       = 8
)

func (d *day) estimate(ctx context.Context) (*Result, error) {
	if d.lo > d.hi {
		d.lo, d.hi = d.hi, d.lo
	}
	own := d.positions()
	if !d.lost && (own == nil || d.hi-d.lo > widestSearch) {
		d.lo, d.hi = max(d.lo, -widestOffset), min(d.hi, widestOffset)
	}
	if d.lo > d.hi {
		return nil, ErrNoOverlap
	}
	d.lay()
	d.layWalk()
	d.layTriples()
	m := d.motion()
	scan := m.scan(d.times, d.lo, d.hi)
	if len(scan) == 0 {
		return nil, ErrNoOverlap
	}
	offsets, gain := make([]float64, len(scan)), make([]float64, len(scan))
	for k := range scan {
		t := &scan[k]
		t.other = logPrior(t.offset)
		if own != nil {
			t.motion *= 0.3 // positions say more
			t.other += own.temper() * own.total(hypothesis{offset: t.offset})
		}
		offsets[k], gain[k] = t.offset, t.total()
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	starts := make([]float64, 0, candidateMax)
	for _, k := range append(peaks(offsets, gain, candidateMax, apart), peaks(offsets, gain, farMax, farApart)...) {
		if !slices.Contains(starts, offsets[k]) {
			starts = append(starts, offsets[k])
		}
	}
	d.standing = d.stopsForReadings(m, starts)
	found := d.refineBest(m, own, starts)
	r := d.decide(found)
	if r.State == Unknown {
		// A walked day has no stops: look where lines that were walked twice agree.
		if more := d.passPeaks(); len(more) > 0 {
			r = d.decide(append(found, d.refineBest(m, own, more)...))
		}
	}
	if r.State == Unknown {
		d.undetermined(r, scan)
	}
	if r.State != Known {
		r.Advice = Advice
	}
	r.Determined = r.State == Known
	r.Evidence = thin(offsets, gain)
	return r, nil
}

// outOfReach is how far, in log-likelihood, a start may lie behind the best before
// any fine search and still be searched.
const outOfReach = 60.0

// refineBest refines those of the starts that can still win.
func (d *day) refineBest(m *motion, own *positions, starts []float64) []peak {
	type start struct{ offset, l float64 }
	all := make([]start, len(starts))
	side := parallel.Group{Part: "fine search"}
	for k, o := range starts {
		side.Go(func() { all[k].offset, all[k].l = d.nearby(m, own, o) })
	}
	side.Wait()
	slices.SortStableFunc(all, func(a, b start) int { return cmp.Compare(b.l, a.l) })
	n := min(2, len(all)) // two at the least: there is always a runner-up
	for n < len(all) && all[n].l > all[0].l-outOfReach {
		n++
	}
	out := make([]peak, n)
	for k := range out {
		side.Go(func() { out[k] = d.refine(m, own, all[k].offset) })
	}
	side.Wait()
	return out
}

// A peak is a hypothesis with what speaks for it.
type peak struct {
	hypothesis
	sigma float64
	total float64   // tempered log-likelihood with the prior
	each  []float64 // tempered, evidence after evidence
	parts []part
}

// A part is one kind of evidence's tempered share of the total.
type part struct {
	name string
	l    float64
}

// refine finds the best offset and drift near a peak of the scan and the spread
// of what explains the day about as well.
func (d *day) refine(m *motion, own *positions, offset float64) peak {
	h := hypothesis{offset: offset}
	h, _ = d.search(d.evidenceNear(m, own, h), h)
	ev := d.evidenceNear(m, own, h)
	h, sigma := d.search(ev, h)
	sigma = math.Hypot(sigma, newPasses(d, h).drift())
	if own != nil {
		sigma = math.Hypot(sigma, math.Hypot(own.drift(h), sigmaLatency))
	}
	p := peak{hypothesis: h, sigma: sigma, total: logPrior(h.offset)}
	for _, e := range ev {
		l := e.each(h)
		for _, v := range l {
			p.each = append(p.each, e.temper()*v)
		}
		p.parts = append(p.parts, part{e.name(), e.temper() * sum(l)})
	}
	p.total += sum(p.each)
	return p
}

func (d *day) evidenceNear(m *motion, own *positions, h hypothesis) []evidence {
	ev := []evidence{newStops(d, m, h)}
	if s := newScatter(d); s != nil {
		ev = append(ev, s)
	}
	ev = append(ev, newPasses(d, h), newDwell(d))
	if own != nil {
		ev = append(ev, own)
	}
	return ev
}

// nearby picks, within the reach of one peak, the offset that explains the day
// best by its own law, with its log-likelihood: the scan knows motion alone, on a
// coarse grid.
func (d *day) nearby(m *motion, own *positions, offset float64) (at, top float64) {
	at, top = offset, math.Inf(-1)
	for o := -2.0; o <= 2; o += 0.5 {
		h := hypothesis{offset: offset + o}
		l := logPrior(h.offset)
		for _, e := range d.evidenceNear(m, own, h) {
			l += e.temper() * e.total(h)
		}
		if l > top {
			at, top = h.offset, l
		}
	}
	return at, top
}

// peaks gives the indices of the largest values, none nearer to a larger one than
// so many seconds. The offsets grow.
func peaks(offsets, gain []float64, most int, apart float64) []int {
	taken := make([]bool, len(gain))
	var out []int
	for len(out) < most {
		top := -1
		for k, g := range gain {
			if !taken[k] && (top < 0 || g > gain[top]) {
				top = k
			}
		}
		if top < 0 {
			break
		}
		out = append(out, top)
		for k := top; k >= 0 && offsets[top]-offsets[k] < apart; k-- {
			taken[k] = true
		}
		for k := top; k < len(gain) && offsets[k]-offsets[top] < apart; k++ {
			taken[k] = true
		}
	}
	return out
}

// thin keeps the best of every so many offsets, for the report's picture.
func thin(offsets, gain []float64) []Candidate {
	best := slices.Max(gain)
	stride := max(1, len(gain)/2000)
	var out []Candidate
	for k := 0; k < len(gain); k += stride {
		top := k
		for j := k; j < min(k+stride, len(gain)); j++ {
			if gain[j] > gain[top] {
				top = j
			}
		}
		out = append(out, Candidate{Offset: offsets[top], LogLikelihood: gain[top] - best})
	}
	return out
}

func sum(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x
	}
	return s
}
