package compare

import (
	"math"

	"tracemap/present"
)

// A line is looked at in many places, and one of them in twenty lies outside its
// 95 % by chance: what holds for a station does not hold for the line. A line
// differs as a whole where its mean difference does, and in a stretch of the
// length over which errors hang together where the mean over the stretch exceeds
// its uncertainty by stretchFactor.
const (
	// stretchFactor: lines of 40 to 200 m have 3 to 17 such stretches; of normal
	// errors the largest of so many stays below 1.2 to 1.5 times the 95 % bound in 95
	// of 100 lines (Šidák's bound: 2.39 to 2.96 σ). On invented days with true records
	// 1.5 held false verdicts to 0 to 4 % of the lines at a tolerance of 0.
	stretchFactor = 1.5
	// enough is the share of a line's compared length that must agree for the whole
	// to agree.
	enough = 0.8
)

// A look is one of the two differences of a station.
type look struct {
	value   func(*Station) (difference, u95 float64) // NaN where it is not judged
	verdict func(*Station) Verdict
	off     func(*Station) *bool // the line differs there
}

func (l *Line) looks(opt *Options) [2]look {
	return [2]look{
		{func(s *Station) (float64, float64) { return s.Lateral, s.Lateral95 + opt.Tolerance },
			func(s *Station) Verdict { return s.LateralVerdict }, func(s *Station) *bool { return &s.lateralOff }},
		{func(s *Station) (float64, float64) {
			if s.half > opt.Search { // it is not sure that this is the line
				return math.NaN(), math.NaN()
			}
			return s.DepthDiff, s.Depth95 + opt.depthTolerance()
		}, func(s *Station) Verdict { return s.DepthVerdict }, func(s *Station) *bool { return &s.depthOff }},
	}
}

// judge finds out where the line differs and gives its verdicts.
func (l *Line) judge(opt *Options) {
	for i, k := range l.looks(opt) {
		tolerance := []float64{opt.Tolerance, opt.depthTolerance()}[i]
		l.markWhole(k)
		l.markStretches(k, tolerance)
	}
	l.LateralVerdict, l.DepthVerdict, l.Verdict = verdicts(l.stations)
}

// markWhole marks the stations beyond their own uncertainty where the mean of the
// line is beyond its own.
func (l *Line) markWhole(k look) {
	var sum, bound, weight float64
	for i := range l.stations {
		s := &l.stations[i]
		if d, u := k.value(s); present.Known(d + u) {
			w := max(s.Weight, 1e-6)
			sum, bound, weight = sum+w*d, bound+w*u, weight+w
		}
	}
	if weight == 0 || math.Abs(sum) <= bound {
		return
	}
	for i := range l.stations {
		s := &l.stations[i]
		if d, u := k.value(s); math.Abs(d) > u && (d > 0) == (sum > 0) {
			*k.off(s) = true
		}
	}
}

// markStretches marks the stations of every stretch, blockLength long, whose mean
// is beyond stretchFactor times its uncertainty and the tolerance.
func (l *Line) markStretches(k look, tolerance float64) {
	var sum, bound, weight float64
	add := func(s *Station, sign float64) {
		d, u := k.value(s)
		w := sign * max(s.Weight, 1e-6)
		sum, weight = sum+w*d, weight+w
		bound += w * (stretchFactor*(u-tolerance) + tolerance)
	}
	fit := func(i int) bool { d, u := k.value(&l.stations[i]); return present.Known(d + u) }
	for from := 0; from < len(l.stations); {
		if !fit(from) {
			from++
			continue
		}
		// A run without a gap, and in it a window that is pushed along.
		to := from + 1
		for to < len(l.stations) && fit(to) && l.stations[to].chain == l.stations[from].chain {
			to++
		}
		sum, bound, weight = 0, 0, 0
		first := from
		for last := from; last < to; last++ {
			add(&l.stations[last], 1)
			for weight-l.stations[first].Weight >= blockLength {
				add(&l.stations[first], -1)
				first++
			}
			if (weight >= blockLength-1e-6 || last == to-1 && first == from) && math.Abs(sum) > bound {
				for i := first; i <= last; i++ {
					*k.off(&l.stations[i]) = true
				}
			}
		}
		from = to
	}
}

// verdicts are those on stations that are a line, or a record's share of one.
func verdicts(stations []Station) (lateral, depth, both Verdict) {
	verdict := func(of func(*Station) Verdict, off func(*Station) bool) Verdict {
		var shares [4]float64
		for i := range stations {
			s := &stations[i]
			if off(s) {
				return Differs
			}
			shares[of(s)] += max(s.Weight, 1e-6)
		}
		judged := shares[Agrees] + shares[Inconclusive] + shares[Differs]
		switch {
		case judged == 0:
			return Unjudged
		case shares[Differs] == 0 && shares[Agrees] >= enough*judged:
			return Agrees
		}
		return Inconclusive
	}
	lateral = verdict(func(s *Station) Verdict { return s.LateralVerdict }, func(s *Station) bool { return s.lateralOff })
	depth = verdict(func(s *Station) Verdict { return s.DepthVerdict }, func(s *Station) bool { return s.depthOff })
	return lateral, depth, verdict((*Station).Verdict, func(s *Station) bool { return s.lateralOff || s.depthOff })
}
