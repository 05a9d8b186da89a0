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
	var s, y []float64
	order := make([]int, len(station))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return compare(station[a], station[b]) })
	for _, k := range order {
		if current[k] > 0 {
			s, y = append(s, station[k]), append(y, math.Log(current[k]))
		}
	}
	if len(y) < levelCount {
		return currentProfile{}
	}
	p := currentProfile{sigma: spread(y)}
	// A large step bends the slope at first: what it divides tells the slope anew.
	ends := []int{len(y)}
	var slope float64
	flat := make([]float64, len(y))
	reach := 8
	for range 3 {
		slope = commonSlope(s, y, ends, reach)
		for k := range y {
			flat[k] = y[k] - slope*(s[k]-s[0])
		}
		ends = steps(flat, p.sigma)
		reach = len(y)
	}
	from := 0
	for _, to := range ends {
		p.levels = append(p.levels, level{
			from: s[from], to: s[to-1], slope: slope,
			ln0: medianOf(slices.Clone(flat[from:to])) + slope*(s[from]-s[0]),
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
