package clock

import (
	"math"
	"slices"
	"strings"

	"tracemap/internal/parallel"
)

// decide takes the best peak, names the runner-up, and says whether the first
// leads by enough to be believed.
func (d *day) decide(found []peak) *Result {
	slices.SortStableFunc(found, func(a, b peak) int {
		switch {
		case a.total > b.total:
			return -1
		case a.total < b.total:
			return 1
		}
		return 0
	})
	first := found[0]
	r := d.result(first.carriedBy(nil), first.offset, first.sigma)
	r.Drift = first.drift * 1e6
	decisive := true
	for _, p := range found[1:] {
		if math.Abs(p.offset-first.offset) < max(apart, 4*first.sigma) {
			continue
		}
		r.RunnerUp = p.offset
		r.Method = first.carriedBy(&p)
		lead := first.total - p.total
		sure := leadSigmas(first.each, p.each)
		if !(lead >= leastGain && sure >= leastSure || lead >= plainGain && sure >= plainSure) {
			decisive = false
		}
		break
	}
	switch {
	case !decisive || first.sigma >= sigmaUnset:
		r.State = Unknown
	case first.sigma > widestSure:
		r.State = Estimated
	}
	return r
}

// leadSigmas is the lead of one hypothesis over another in units of its own
// standard error over the readings.
func leadSigmas(a, b []float64) float64 {
	n := float64(len(a))
	if len(a) != len(b) || n < 4 {
		return 0
	}
	var s, ss float64
	for k := range a {
		d := a[k] - b[k]
		s += d
		ss += d * d
	}
	v := ss - s*s/n
	if v <= 0 {
		return math.Inf(1)
	}
	return s / math.Sqrt(v)
}

// passPeaks scans the offsets that put nearly all readings into the log by the
// passes alone: a walked day has no stops to begin with.
func (d *day) passPeaks() []float64 {
	lo, hi := d.fullOverlap()
	if hi < lo {
		return nil
	}
	step := max(1.0, (hi-lo)/1500)
	gains := make([]float64, int((hi-lo)/step)+1) // NaN without passes
	side := parallel.Group{Part: "search by passes"}
	const each = 64
	for first := 0; first < len(gains); first += each {
		side.Go(func() {
			for k := first; k < min(first+each, len(gains)); k++ {
				h := hypothesis{offset: lo + float64(k)*step}
				gains[k] = math.NaN()
				if p := newPasses(d, h); len(p.pairs) > 0 {
					gains[k] = p.temper()*p.total(h) + logPrior(h.offset)
				}
			}
		})
	}
	side.Wait()
	var offsets, gain []float64
	for k, g := range gains {
		if g == g {
			offsets, gain = append(offsets, lo+float64(k)*step), append(gain, g)
		}
	}
	var out []float64
	for _, k := range peaks(offsets, gain, 4, apart) {
		out = append(out, offsets[k])
	}
	return out
}

// fullOverlap gives the offsets that put all but the outermost hundredth of the
// readings into the log.
func (d *day) fullOverlap() (lo, hi float64) {
	s := slices.Clone(d.times)
	slices.Sort(s)
	from, to := d.tr.Span()
	cut := len(s) / 100
	return s[len(s)-1-cut] - to, s[cut] - from
}

// undetermined takes the clock as it is where that puts the readings into the
// log, else the middle of the offsets that do, with the spread of all that are
// possible as its σ, and so that none of them lies beyond 3 σ. Motion counts for little
// here, for it did not decide, and so do readings without a place on the track: a crew
// goes on while its receiver has no fix.
func (d *day) undetermined(r *Result, scan []trial) {
	r.Method = "none"
	r.Drift = 0
	top := math.Inf(-1)
	l := make([]float64, len(scan))
	for k := range scan {
		t := &scan[k]
		l[k] = weakly*(t.motion+t.absent) + t.other
		top = max(top, l[k])
	}
	var w, m, mm float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for k := range scan {
		p := math.Exp(l[k] - top)
		w += p
		m += p * scan[k].offset
		mm += p * scan[k].offset * scan[k].offset
		if l[k] > top-possible {
			lo, hi = min(lo, scan[k].offset), max(hi, scan[k].offset)
		}
	}
	mean := m / w
	r.Offset = mean
	if d.inside(0) >= enoughInside {
		r.Offset = 0
	}
	spread := mm/w - 2*mean*r.Offset + r.Offset*r.Offset
	r.Sigma = max(math.Sqrt(max(spread, 0)), (hi-r.Offset)/3, (r.Offset-lo)/3, sigmaUnset)
}

const (
	weakly       = 0.1
	possible     = 4.6  // log-likelihood: an offset a hundred times less likely is not counted with the rest
	enoughInside = 0.98 // share of the readings inside the log
	sigmaUnset   = 5.0  // s: no unknown clock is known better
)

// logPrior prefers offsets that clocks have: small ones, and small ones beside a
// whole or half hour of zone or a day. It matters only where evidence is thin.
func logPrior(offset float64) float64 {
	near := math.Abs(math.Remainder(offset, 1800))
	best := -0.3 * math.Log1p(math.Abs(offset)/60)
	return max(best, -2-0.3*math.Log1p(near/60), -9)
}

// carriedBy names the kinds of evidence that carry a good part of the lead over
// another hypothesis, or of the whole when there is none.
func (p *peak) carriedBy(other *peak) string {
	var names []string
	var lead, most float64
	gain := make([]float64, len(p.parts))
	for k, e := range p.parts {
		gain[k] = e.l
		if other != nil {
			gain[k] -= other.parts[k].l
		}
		lead += max(gain[k], 0)
		most = max(most, gain[k])
	}
	for k, e := range p.parts {
		if gain[k] > 0.2*lead || gain[k] == most {
			names = append(names, e.name)
		}
	}
	return strings.Join(names, "+")
}
