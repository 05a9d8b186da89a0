package fuse

import (
	"math"
	"slices"
)

// A level is a run of a part over which the current changes steadily:
// ln(I) = ln0 + slope·(s − from).
type level struct {
	from, to   float64 // stations, m
	ln0, slope float64
}

// at is the current at a station, mA.
func (l *level) at(s float64) float64 { return math.Exp(l.ln0 + l.slope*(s-l.from)) }

// currentProfile is a part's current in levels, in order; empty when too few
// currents were logged.
type currentProfile struct {
	levels []level
	sigma  float64 // σ of one reading's ln(I) about it
}

// Steps of the current.
const (
	stepPrice  = 14.0 // χ² that a step must explain: two places and a level, chosen from many
	takenBack  = 25.0 // log-likelihood against a step that is taken back, for one of ln(I)
	leastStep  = 0.10 // of ln(I): smaller steps are not worth a person's walk
	levelCount = 3    // readings a level needs
	slopeShare = 3    // a pair that tells the slope spans so large a part of its level: a third
)

// fitCurrent divides the logged currents into levels with steps between, by the
// same exact search as the shape's (see segment): about one common slope of
// ln(I), since attenuation is a property of the line and its frequency.
func fitCurrent(station, current []float64) currentProfile {
	l := newLoggedCurrents(station, current)
	if len(l.y) < levelCount {
		return currentProfile{}
	}
	// A large step distorts the first slope; the levels that it divides give a better one.
	l.ends = []int{len(l.y)}
	reach := 8
	for range 3 {
		l.straighten(reach)
		l.ends = steps(l.flat, l.sigma)
		reach = len(l.y)
	}
	return l.profile()
}

// loggedCurrents are a part's currents in the order of their stations, divided
// into levels.
type loggedCurrents struct {
	s, y  []float64 // stations, m; ln(I), I in mA
	flat  []float64 // y without the common slope
	slope float64   // of ln(I), 1/m
	sigma float64   // of one value, from its neighbours
	ends  []int     // of the levels, exclusive
}

func newLoggedCurrents(station, current []float64) *loggedCurrents {
	l := &loggedCurrents{}
	order := make([]int, len(station))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return compare(station[a], station[b]) })
	for _, k := range order {
		if current[k] > 0 {
			l.s, l.y = append(l.s, station[k]), append(l.y, math.Log(current[k]))
		}
	}
	if len(l.y) >= levelCount {
		l.sigma = spread(l.y)
	}
	return l
}

// straighten takes the slope that the levels have in common out of the currents.
func (l *loggedCurrents) straighten(reach int) {
	l.slope = commonSlope(l.s, l.y, l.ends, reach)
	l.flat = make([]float64, len(l.y))
	for k := range l.y {
		l.flat[k] = l.y[k] - l.slope*(l.s[k]-l.s[0])
	}
}

func (l *loggedCurrents) profile() currentProfile {
	p := currentProfile{sigma: l.sigma}
	from := 0
	for _, to := range l.ends {
		p.levels = append(p.levels, level{
			from: l.s[from], to: l.s[to-1], slope: l.slope,
			ln0: medianOf(slices.Clone(l.flat[from:to])) + l.slope*(l.s[from]-l.s[0]),
		})
		from = to
	}
	return p
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// spread is a robust σ of one value from the differences of neighbours.
func spread(y []float64) float64 {
	d := make([]float64, 0, len(y))
	for k := 1; k < len(y); k++ {
		d = append(d, math.Abs(y[k]-y[k-1]))
	}
	// Median of |N(0, 2σ²)| is 0.6745·√2·σ.
	return max(medianOf(d)/(0.6745*math.Sqrt2), 0.02)
}

// commonSlope is the median slope between readings some way apart on one level,
// but at most reach readings; the levels are given by their ends. Locks are few
// among the pairs. A current does not grow along its line, so the slope's sign
// follows the direction of drawing and is left free.
func commonSlope(s, y []float64, ends []int, reach int) float64 {
	var v []float64
	from := 0
	for _, to := range ends {
		gap := max(1, min((to-from)/slopeShare, reach))
		for k := from; k+gap < to; k++ {
			if d := s[k+gap] - s[k]; d > 1 {
				v = append(v, (y[k+gap]-y[k])/d)
			}
		}
		from = to
	}
	if len(v) < 3 {
		return 0
	}
	return medianOf(v)
}

// steps gives the ends (exclusive) of the runs of constant level that explain y
// with the fewest steps. A median of three goes first, so that a lock on a
// neighbour makes no step.
func steps(y []float64, sigma float64) []int {
	n := len(y)
	sum, sum2 := make([]float64, n+1), make([]float64, n+1)
	for k, v := range medianOfThree(y) {
		sum[k+1], sum2[k+1] = sum[k]+v, sum2[k]+v*v
	}
	best, prev := make([]float64, n+1), make([]int, n+1)
	best[0] = -stepPrice
	for j := 1; j <= n; j++ {
		best[j] = math.Inf(1)
		for i := range j {
			if j-i < levelCount && !(i == 0 && j == n) || math.IsInf(best[i], 1) {
				continue
			}
			d := sum[j] - sum[i]
			cost := (sum2[j] - sum2[i] - d*d/float64(j-i)) / (sigma * sigma)
			if c := best[i] + cost + stepPrice; c < best[j] {
				best[j], prev[j] = c, i
			}
		}
	}
	var ends []int
	for j := n; j > 0; j = prev[j] {
		ends = append(ends, j)
	}
	slices.Reverse(ends)
	return ends
}

func medianOfThree(y []float64) []float64 {
	out := slices.Clone(y)
	for k := 1; k+1 < len(y); k++ {
		out[k] = medianOf([]float64{y[k-1], y[k], y[k+1]})
	}
	return out
}

// price is the improbability of the levels, as a log-likelihood: a large step that
// is taken back – the current falls at a branch and never grows again – is what a
// run of readings on another line looks like.
func (p *currentProfile) price() float64 {
	var price, last float64
	for k := 1; k < len(p.levels); k++ {
		a, b := &p.levels[k-1], &p.levels[k]
		s := (a.to + b.from) / 2
		step := math.Log(b.at(s) / a.at(s))
		if math.Abs(step) < dipStep {
			continue
		}
		if step*last < 0 {
			price += takenBack * min(math.Abs(step), math.Abs(last))
		}
		last = step
	}
	return price
}

// at is the fitted current at a station, mA; NaN without levels.
func (p *currentProfile) at(s float64) float64 {
	if len(p.levels) == 0 {
		return math.NaN()
	}
	for k := range p.levels {
		if k+1 == len(p.levels) || s < (p.levels[k].to+p.levels[k+1].from)/2 {
			return p.levels[k].at(s)
		}
	}
	return math.NaN()
}
