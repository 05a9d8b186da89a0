package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
)

// provenCurrent is a part's current in levels between which there is a step beyond
// what its errors explain: those of each reading, those that neighbours share (the
// current inherits the error of the depth, and the field's), and the rounding of
// the log. Steps are sought as fitCurrent does, which takes errors as independent,
// and then held against all three in one generalised least-squares fit; the
// weakest goes, until all that are left stand out.
func provenCurrent(station, current []float64) currentProfile {
	p := fitCurrent(station, current)
	if len(p.levels) < 2 {
		return p
	}
	l := newLoggedCurrents(station, current)
	for _, v := range p.levels {
		l.ends = append(l.ends, l.count(v.to))
	}
	l.straighten(len(l.y))
	white, shared := l.errors(roundingOf(current))
	price := l.price(white, shared)
	for len(l.ends) > 1 {
		z2, err := l.proof(white, shared)
		if err != nil {
			break
		}
		weakest := 0
		for k := range z2 {
			if z2[k] < z2[weakest] {
				weakest = k
			}
		}
		if z2[weakest] >= price {
			break
		}
		l.ends = slices.Delete(l.ends, weakest, weakest+1)
	}
	l.straighten(len(l.y))
	return l.profile()
}

// count is how many of the currents lie up to a station.
func (l *loggedCurrents) count(station float64) int {
	n, _ := slices.BinarySearchFunc(l.s, station, func(s, at float64) int {
		if s <= at {
			return -1
		}
		return 1
	})
	return n
}

// errors returns the variances of ln(I) that each reading has of its own, and the
// one that neighbours share. Their sum shows in the differences of readings a
// correlation length apart, the former in those of neighbours; the medians leave
// out what lies across a step. A log that rounds to a unit q has an error of
// q/√12 that is new at each reading where the current varies by more than q, and
// shared by all neighbours where it does not: it counts as both.
func (l *loggedCurrents) errors(q float64) (white []float64, shared float64) {
	far := spreadAcross(l.s, l.flat, noise.PinLength)
	own := sq(spread(l.flat))
	if far > 0 {
		shared = max(0, sq(far)-own) / (1 - math.Exp(-1))
	}
	white = make([]float64, len(l.y))
	for k := range white {
		rounding := sq(q/math.Exp(l.y[k])) / 12
		white[k] = max(own, rounding)
		shared = max(shared, rounding)
	}
	return white, shared
}

// price is the square over its variance at which a step stands out: stepPrice with
// a variance that were known, and more where it is itself measured on few pieces
// of line. Variances add up their degrees of freedom as Welch and Satterthwaite
// have it; the quantile of Student's t is Wallace's of 1959, t² = ν(exp(z²/ν) − 1).
// Both from memory.
func (l *loggedCurrents) price(white []float64, shared float64) float64 {
	n := len(l.s)
	own := medianOf(slices.Clone(white))
	part := shared / (shared + own)
	free := 1 / (sq(part)*noise.PinLength/(l.s[n-1]-l.s[0]) + sq(1-part)/float64(n))
	return free * (math.Exp(stepPrice/free) - 1)
}

// spreadAcross is a robust σ of one value from the differences of values at least
// a distance apart, each with the first that is; 0 where there are too few.
func spreadAcross(s, y []float64, apart float64) float64 {
	var d []float64
	to := 0
	for from := range s {
		for to < len(s) && s[to]-s[from] < apart {
			to++
		}
		if to == len(s) {
			break
		}
		d = append(d, math.Abs(y[to]-y[from]))
	}
	if len(d) < 2*levelCount {
		return 0
	}
	return medianOf(d) / (0.6745 * math.Sqrt2) // as in spread
}

// roundingOf is the unit to which currents are rounded, mA: the largest of 10, 5,
// 2, 1 and their tenths and hundredths of which all are multiples; 0 for none.
func roundingOf(current []float64) float64 {
	for _, unit := range []float64{10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01} {
		all := true
		for _, c := range current {
			if c > 0 && math.Abs(c/unit-math.Round(c/unit)) > 1e-6 { // of the unit: a binary fraction's error is far below
				all = false
				break
			}
		}
		if all {
			return unit
		}
	}
	return 0
}

// proof returns, for each step between levels, how far it stands out: its square
// over its variance, all steps, the level and the slope estimated together. The
// shared error is a first-order Markov process along the line, so a Kalman filter
// makes errors and design independent at once (generalised least squares; Harvey,
// Forecasting, Structural Time Series Models and the Kalman Filter, 1989, section
// 3.4, from memory). A value far from its level, as of a lock, is drawn to three σ.
func (l *loggedCurrents) proof(white []float64, shared float64) ([]float64, error) {
	columns := len(l.ends) + 1 // level, slope, steps
	normal, right := newSymmetric(columns), make([]float64, columns)
	state := make([]float64, columns+1) // of the filter: for each column and for y
	row := make([]float64, columns+1)
	variance := shared
	levels := l.profile().levels
	at := 0
	for k := range l.y {
		if k == l.ends[at] {
			at++
		}
		fade := 1.0
		if k > 0 {
			fade = math.Exp(-(l.s[k] - l.s[k-1]) / noise.PinLength)
		}
		variance = sq(fade)*variance + shared*(1-sq(fade))
		total := variance + white[k]
		gain := variance / total
		middle := levels[at].ln0 + l.slope*(l.s[k]-levels[at].from)
		reach := 3 * math.Sqrt(shared+white[k])
		row[0], row[1] = 1, l.s[k]-l.s[0]
		for c := 2; c < columns; c++ {
			row[c] = 0
			if at >= c-1 {
				row[c] = 1
			}
		}
		row[columns] = middle + min(max(l.y[k]-middle, -reach), reach)
		for c := range row {
			state[c] *= fade
			was := row[c]
			row[c] = (was - state[c]) / math.Sqrt(total)
			state[c] += gain * (was - state[c])
		}
		variance *= 1 - gain
		for a := range columns {
			for b := range a + 1 {
				normal.row(a)[b] += row[a] * row[b]
			}
			right[a] += row[a] * row[columns]
		}
	}
	t, err := normal.factorize()
	if err != nil {
		return nil, err
	}
	t.solve(right)
	z2 := make([]float64, columns-2)
	for k := range z2 {
		unit := make([]float64, columns)
		unit[k+2] = 1
		t.solve(unit)
		z2[k] = sq(right[k+2]) / unit[k+2]
	}
	return z2, nil
}
