package track

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
	"tracemap/nmea"
)

// The density of the walker's acceleration, m²/s³, as a rule: least and most from
// standing about to sweeping a locator (a change of velocity of 1 m/s within 1 s is 1),
// and the usual one where a log has too few epochs to tell. Starts and stops are no
// part of the rule: see expect.
const (
	minAccel, maxAccel = 0.02, 3.0
	usualAccel         = 0.3
)

// measureQuick finds, for each fix quality, the quick σ of one axis, and for the
// day the density q of the walker's acceleration, from second differences of the
// positions over one and over two steps h:
//
//	E d² = 6σ² + (2/3)·q·h³     (white noise, integrated Wiener process)
//
// so the two spans tell σ and q apart. Medians stand in for means: jumps are
// rare and gross. With too few epochs the table's share of the total holds.
func (tr *Track) measureQuick(raw []fix) {
	h := usualStep(raw)
	var accels []float64
	for _, q := range qualitiesOf(raw) {
		f := noise.Fixes[q]
		prior := f.Sigma * math.Sqrt(f.Quick)
		one, total := secondDifferences(raw, q, 1, h)
		two, _ := secondDifferences(raw, q, 2, h)
		if len(one) < 60 || len(two) < 60 {
			tr.Quick[q] = prior
			continue
		}
		// Squared length of a two-axis difference has the median 2·ln2·var.
		m1 := median(one) / (2 * math.Ln2)
		m2 := median(two) / (2 * math.Ln2)
		accel := (m2 - m1) / ((2.0 / 3) * 7 * h * h * h)
		accels = append(accels, accel)
		sigma2 := (m1 - (2.0/3)*clamp(accel, 0, maxAccel)*h*h*h) / 6
		// A walker's own unrest must not pass for noise, nor the receiver's
		// smoothing for truth: stay within the total, and above a millimetre.
		limit := total * math.Sqrt(min(f.Quick+0.3, 0.8))
		tr.Quick[q] = clamp(math.Sqrt(max(sigma2, 0)), max(0.001, 0.02*total), limit)
	}
	tr.Accel = usualAccel
	if len(accels) > 0 {
		// The median is that of an hour's quiet half; readings are taken in both.
		tr.Accel = clamp(2*slices.Max(accels), minAccel, maxAccel)
	}
}

// usualStep is the median time between fixes, s.
func usualStep(raw []fix) float64 {
	var d []float64
	for i := 1; i < len(raw) && len(d) < 5000; i++ {
		d = append(d, raw[i].t-raw[i-1].t)
	}
	if len(d) == 0 {
		return 1
	}
	return max(median(d), 0.01)
}

// secondDifferences gives squared lengths of x(t+kh) − 2x(t) + x(t−kh) within
// runs of one quality without a gap, and the typical total σ of that quality.
func secondDifferences(raw []fix, q nmea.Quality, k int, h float64) (sq []float64, total float64) {
	stride := max(1, len(raw)/20000)
	var sum float64
	var n int
	for i := k; i+k < len(raw); i += stride {
		a, b, c := &raw[i-k], &raw[i], &raw[i+k]
		if a.quality != q || b.quality != q || c.quality != q {
			continue
		}
		sum += math.Sqrt(b.total.Mean())
		n++
		if d := float64(k) * h; math.Abs(b.t-a.t-d) > 0.2*h || math.Abs(c.t-b.t-d) > 0.2*h {
			continue
		}
		e := a.at.E - 2*b.at.E + c.at.E
		m := a.at.N - 2*b.at.N + c.at.N
		sq = append(sq, e*e+m*m)
	}
	if n == 0 {
		return nil, noise.Fixes[q].Sigma
	}
	return sq, sum / float64(n)
}

func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}

func clamp(x, lo, hi float64) float64 { return min(max(x, lo), max(lo, hi)) }
