package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"tracemap/internal/python"
)

const krigeScript = `
import json, sys
import numpy as np
out = []
for t in json.load(sys.stdin):
    s, y, w = np.array(t["s"]), np.array(t["y"]), np.array(t["white"])
    shared, bend, common = np.array(t["shared"]), np.array(t["bend"]), np.array(t["common"])
    def matern(d, amp):  # nu = 3/2: Rasmussen & Williams, Gaussian Processes, eq. 4.17
        r = np.sqrt(3)*d/t["reach"]
        return amp*amp*(1 + r)*np.exp(-r)
    d = np.abs(np.subtract.outer(s, s))
    noise = (np.outer(shared, shared) + np.outer(bend, bend))*np.exp(-d/t["length"]) + np.outer(common, common) + np.diag(w)
    x = np.stack([np.ones_like(s), s - s[0]], 1)
    prior = np.diag([100.0, 0.2**2])   # level to 10 m, slope to one in five
    best, choice = -np.inf, None
    for amp in t["amps"]:
        c = matern(d, amp) + noise
        # Restricted likelihood up to a constant: that of y with the trend's prior in
        # the covariance differs by the prior alone, which all share.
        big = c + x @ prior @ x.T
        r = y - y.mean()
        l = -0.5*(r @ np.linalg.solve(big, r) + np.linalg.slogdet(big)[1])
        if l > best:
            best, choice = l, amp
    big = matern(d, choice) + noise + x @ prior @ x.T
    value, sigma = [], []
    for at in t["at"]:
        row = np.array([1.0, at - s[0]])
        k = matern(np.abs(at - s), choice) + x @ prior @ row
        k0 = choice*choice + row @ prior @ row
        u = np.linalg.solve(big, k)
        value.append(float(y.mean() + u @ (y - y.mean())))
        sigma.append(float(np.sqrt(k0 - u @ k)))
    out.append({"amp": choice, "value": value, "sigma": sigma})
print(json.dumps(out))
`

// A depth's profile against a dense Gaussian-process regression in numpy: the
// choice of amplitude, the value and its σ at, between and beyond the readings.
func TestProfileAgainstNumpy(t *testing.T) {
	type task struct {
		S      []float64 `json:"s"`
		Y      []float64 `json:"y"`
		White  []float64 `json:"white"`
		Shared []float64 `json:"shared"`
		Bend   []float64 `json:"bend"`
		Common []float64 `json:"common"`
		Length float64   `json:"length"`
		Reach  float64   `json:"reach"`
		Amps   []float64 `json:"amps"`
		At     []float64 `json:"at"`
	}
	rng := rand.New(rand.NewPCG(31, 32))
	var tasks []task
	var profiles []*profile
	for range 12 {
		n := 1 + rng.IntN(40)
		k := task{Length: 12, Reach: profileReach, Amps: []float64{0.03, 0.08, 0.2}}
		s, slope := 10*rng.Float64(), 0.05*rng.NormFloat64()
		phase, swing := 6*rng.Float64(), 0.2*rng.Float64()
		for range n {
			s += 0.3 + 4*rng.Float64()
			k.S = append(k.S, s)
			k.Y = append(k.Y, 1.2+slope*s+swing*math.Sin(s/8+phase)+0.04*rng.NormFloat64())
			k.White = append(k.White, sq(0.03+0.03*rng.Float64()))
			k.Shared = append(k.Shared, 0.03*rng.Float64())
			k.Bend = append(k.Bend, 0.1*rng.Float64())
			k.Common = append(k.Common, 0.03)
		}
		for at := k.S[0] - 20; at < s+20; at += 1.7 {
			k.At = append(k.At, at)
		}
		k.At = append(k.At, k.S...)
		e := profileNoise{white: k.White, shared: k.Shared, bend: k.Bend, common: k.Common, length: k.Length}
		p := fitProfile(k.S, k.Y, e, k.Amps)
		if p == nil {
			t.Fatal("no profile")
		}
		tasks, profiles = append(tasks, k), append(profiles, p)
	}
	var want []struct {
		Amp          float64
		Value, Sigma []float64
	}
	python.Ask(t, krigeScript, tasks, &want)
	for i, p := range profiles {
		if p.amp != want[i].Amp {
			t.Errorf("profile %d: amplitude %v, numpy chooses %v", i, p.amp, want[i].Amp)
			continue
		}
		for k, at := range tasks[i].At {
			v, s := p.at(at)
			// 1e-6 m: numpy's covariance with the prior in it is the worse conditioned.
			if math.Abs(v-want[i].Value[k]) > 1e-6 || math.Abs(s-want[i].Sigma[k]) > 1e-6 {
				t.Errorf("profile %d at %.1f m: %.6f ± %.6f, numpy has %.6f ± %.6f", i, at, v, s, want[i].Value[k], want[i].Sigma[k])
			}
		}
	}
	if fitProfile(nil, nil, profileNoise{}, []float64{0.1}) != nil {
		t.Error("a profile of nothing")
	}
}

// A steady fall without noise comes back, within and a little beyond its readings.
func TestProfileKeepsSlopes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(5, 40).Draw(t, "n")
		slope := rapid.Float64Range(-0.05, 0.05).Draw(t, "slope")
		e := profileNoise{length: 12}
		var s, y []float64
		for k := range n {
			s, y = append(s, 3*float64(k)), append(y, 1.5+slope*3*float64(k))
			e.white, e.shared = append(e.white, sq(0.04)), append(e.shared, 0.02)
			e.bend, e.common = append(e.bend, 0), append(e.common, 0.03)
		}
		p := fitProfile(s, y, e, []float64{0.03, 0.08, 0.2})
		for at := -5.0; at < 3*float64(n)+5; at += 2 {
			v, sigma := p.at(at)
			// The priors on level and slope pull by less than a centimetre.
			if want := 1.5 + slope*at; math.Abs(v-want) > 0.01+0.2*sigma {
				t.Fatalf("at %v m: %v ± %v, want %v", at, v, sigma, want)
			}
			if sigma < 0.03 { // what all readings have in common stays
				t.Fatalf("at %v m: σ %v", at, sigma)
			}
		}
	})
}

// decaying is a line's logged currents: falling by so many dB/m from 60 mA, cut by
// factor at the station, with relative noise.
func decaying(rng *rand.Rand, n int, decay, station, factor, noise float64) (s, c []float64) {
	at := 0.0
	for range n {
		at += 1.5 + 3*rng.Float64()
		i := 60 * math.Pow(10, -decay*at/20)
		if at > station {
			i *= factor
		}
		s, c = append(s, at), append(c, i*math.Exp(noise*rng.NormFloat64()))
	}
	return s, c
}

// told lists the steps of a profile that are large enough to be told.
func told(p currentProfile) (station, ratio []float64) {
	for k := 1; k < len(p.levels); k++ {
		at := (p.levels[k-1].to + p.levels[k].from) / 2
		if r := p.levels[k].at(at) / p.levels[k-1].at(at); math.Abs(math.Log(r)) >= leastStep {
			station, ratio = append(station, at), append(ratio, r)
		}
	}
	return station, ratio
}

// A steady decay shows no steps: at the most one line in fifty over 400, for
// noise up to what is usual (8 %).
func TestNoStepsOnSteadyDecay(t *testing.T) {
	lines := 0
	for seed := range uint64(400) {
		rng := rand.New(rand.NewPCG(seed, 41))
		s, c := decaying(rng, 8+rng.IntN(50), 0.15*rng.Float64(), math.Inf(1), 1, 0.01+0.07*rng.Float64())
		if at, _ := told(provenCurrent(s, c)); len(at) > 0 {
			lines++
		}
	}
	if lines > 8 {
		t.Errorf("%d of 400 lines without a step show one", lines)
	}
}

// A step of a third and more is found where it is – between the two readings on
// its sides, or one reading off – and no other, on 19 lines of 20; its size comes
// back to a seventh.
func TestStepsAreFound(t *testing.T) {
	missed := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 42))
		n := 14 + rng.IntN(40)
		decay, factor := 0.05*rng.Float64(), 0.3+0.35*rng.Float64()
		s, _ := decaying(rand.New(rand.NewPCG(seed, 43)), n, 0, math.Inf(1), 1, 0)
		cut := n/4 + rng.IntN(n/2)
		s, c := decaying(rand.New(rand.NewPCG(seed, 43)), n, decay, (s[cut-1]+s[cut])/2, factor, 0.03)
		at, ratio := told(provenCurrent(s, c))
		if len(at) != 1 || at[0] < s[cut-2] || at[0] > s[cut+1] || math.Abs(ratio[0]/factor-1) > 0.15 {
			missed++
			t.Logf("seed %d, %d readings: steps at %.1f by %.2f, want one at %.1f by %.2f", seed, n, at, ratio, (s[cut-1]+s[cut])/2, factor)
		}
	}
	if missed > 10 {
		t.Errorf("%d of 200 steps missed, or not alone", missed)
	}
}

// Without noise: the step at its station, the levels as they are.
func TestStepWithoutNoise(t *testing.T) {
	for _, factor := range []float64{0.3, 0.5, 0.8, 1.4} {
		s, _ := decaying(rand.New(rand.NewPCG(1, 44)), 20, 0.02, 0, 1, 0)
		mid := (s[9] + s[10]) / 2
		s, c := decaying(rand.New(rand.NewPCG(1, 44)), 20, 0.02, mid, factor, 0)
		p := fitCurrent(s, c)
		if len(p.levels) != 2 || p.levels[0].to != s[9] || p.levels[1].from != s[10] {
			t.Errorf("factor %v: levels %+v, want a step between %v and %v", factor, p.levels, s[9], s[10])
			continue
		}
		for k := range s {
			if got := p.at(s[k]); math.Abs(got/c[k]-1) > 1e-6 {
				t.Errorf("factor %v: %v mA at %v m, want %v", factor, got, s[k], c[k])
			}
		}
	}
}

// The division into levels is the best of all with at least levelCount readings a
// level: against every one of them.
func TestLevelsAreOptimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 45))
		n := rapid.IntRange(1, 14).Draw(t, "n")
		y := make([]float64, n)
		level := 0.0
		for k := range y {
			if rng.IntN(5) == 0 {
				level += rng.NormFloat64()
			}
			y[k] = level + 0.1*rng.NormFloat64()
		}
		ends := steps(y, 0.1)
		smooth := medianOfThree(y)
		cost := func(ends []int) float64 {
			c, from := stepPrice*float64(len(ends)-1), 0
			for _, to := range ends {
				m := mean(smooth[from:to])
				for _, v := range smooth[from:to] {
					c += sq((v - m) / 0.1)
				}
				from = to
			}
			return c
		}
		best := math.Inf(1)
		for mask := range 1 << (n - 1) {
			var try []int
			from, fits := 0, true
			for k := 1; k <= n; k++ {
				if k == n || mask>>(k-1)&1 == 1 {
					fits = fits && (k-from >= levelCount || from == 0 && k == n)
					try, from = append(try, k), k
				}
			}
			if fits {
				best = min(best, cost(try))
			}
		}
		if got := cost(ends); got > best+1e-9*(1+best) {
			t.Fatalf("ends %v cost %v, the best %v", ends, got, best)
		}
	})
}

// Currents that are missing, nought, or too few make no profile and no panic.
func TestCurrentsMissing(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string][]float64{
		"none": {}, "NaN": {nan, nan, nan, nan}, "nought": {0, 0, 0, 0}, "negative": {-1, -2, -3, -4}, "two": {5, nan, 6, nan},
	} {
		p := fitCurrent([]float64{0, 1, 2, 3}[:len(c)], c)
		if len(p.levels) != 0 || !math.IsNaN(p.at(1)) {
			t.Errorf("%s: %+v", name, p)
		}
	}
	p := fitCurrent([]float64{5, 5, 5, 5, 5}, []float64{10, 10, nan, 10, 10})
	if len(p.levels) != 1 || math.Abs(p.at(5)-10) > 1e-9 {
		t.Errorf("all at one station: %+v", p)
	}
}
