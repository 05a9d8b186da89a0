package track

import (
	"math/rand/v2"
	"testing"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// A log that is spoilt all along costs as much a fix whether it is short or long:
// sixteen times the fixes are looked at as often each. Looked at anew from every
// chain's start to the end of the log, as once was, each was looked at n/20 times.
func TestDamageCostsInProportion(t *testing.T) {
	for name, spoil := range map[string]func(k int, f *fix, rng *rand.Rand){
		"nothing":                  func(int, *fix, *rand.Rand) {},
		"a step every ten fixes":   func(k int, f *fix, _ *rand.Rand) { f.at.E += float64(k / 10 % 2 * 50) },
		"a step every fix":         func(k int, f *fix, _ *rand.Rand) { f.at.E += float64(k % 2 * 50) },
		"a break every ten fixes":  func(k int, f *fix, _ *rand.Rand) { f.t += float64(k / 10 * 5) },
		"the quality flips":        func(k int, f *fix, _ *rand.Rand) { f.quality = nmea.Quality(4 + k%2) },
		"every third fix wild":     func(k int, f *fix, _ *rand.Rand) { f.at.N += float64(k % 3 / 2 * 5000) },
		"every epoch twice":        func(k int, f *fix, _ *rand.Rand) { f.t = float64(k / 2) },
		"all at one instant":       func(_ int, f *fix, _ *rand.Rand) { f.t = 0 },
		"anywhere":                 func(_ int, f *fix, rng *rand.Rand) { f.at = plane.Pt{E: 1e4 * rng.Float64(), N: 1e4 * rng.Float64()} },
		"anywhere, within seconds": func(_ int, f *fix, rng *rand.Rand) { f.t *= 1e-4; f.at = plane.Pt{E: 1e4 * rng.Float64()} },
	} {
		var each [2]float64
		for i, n := range []int{1000, 16000} {
			rng := rand.New(rand.NewPCG(1, 5))
			raw := make([]fix, n)
			for k := range raw {
				v := plane.Pt{E: 1}
				raw[k] = fix{t: float64(k), at: plane.Pt{E: float64(k), N: 0.01 * rng.NormFloat64()}, doppler: v, quality: nmea.QualityRTKFixed, total: noise.Horizontal{EE: 1e-4, NN: 1e-4}}
				spoil(k, &raw[k], rng)
			}
			tr := smoothed(raw, 0.1, 0.01)
			each[i] = float64(tr.looks) / float64(n)
		}
		t.Logf("%s: %.2f, %.2f looks a fix", name, each[0], each[1])
		// Of the fixes set aside, as many as maxDoubted may be looked at again.
		if each[1] > 1.5*each[0] || each[1] > maxDoubted+2 {
			t.Errorf("%s: each of 1,000 fixes is looked at %.1f times, each of 16,000 %.1f times", name, each[0], each[1])
		}
	}
}
