package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tracemap/present"
)

// nearly demands that two figures differ by at most a tolerance.
func nearly(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.5g, want %.5g ± %g", what, got, want, tolerance)
	}
}

func TestSumUp(t *testing.T) {
	var v []value
	for i, x := range []float64{0.1, -0.3, 0.2, 0.4} {
		v = append(v, value{station: float64(i), v: x, u95: 0.2, shared: 0.1, weight: 1})
	}
	s := sumUp(v)
	nearly(t, "mean", s.Mean, 0.1, 1e-12)
	nearly(t, "RMSE", s.RMSE, math.Sqrt(0.3/4), 1e-12)
	nearly(t, "SD", s.SD, math.Sqrt(0.26/3), 1e-12)
	nearly(t, "95th percentile", s.P95, 0.3+0.85*0.1, 1e-12) // numpy.percentile([.1,.2,.3,.4], 95) = 0.385
	nearly(t, "max", s.Max, 0.4, 0)
	nearly(t, "max station", s.MaxStation, 3, 0)
	if s = sumUp(nil); s.N != 0 || present.Known(s.Mean) || present.Known(s.Max) {
		t.Errorf("nothing sums up to %+v", s)
	}
}

// The 95 % uncertainty of a mean holds the true mean in 93 to 97 % of many lines
// of 5 stations to 500: errors that hang together over 12 m, as pin-pointing does,
// and a part that all stations of a line share, both as large as told. Where they
// hang together over half or twice of that the bounds are wider, 90 to 99 %.
func TestMeanOfCorrelatedStations(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for _, length := range []float64{6, 12, 24} { // m over which the correlation falls to 1/e
		rho := math.Exp(-1 / length)
		for _, n := range []int{5, 10, 20, 50, 100, 200, 500} {
			const lines, sigma, common = 1500, 0.05, 0.033
			inside, counted := 0, 0.0
			for range lines {
				v := make([]value, n)
				bias := common * rng.NormFloat64()
				x := rng.NormFloat64()
				for i := range v {
					v[i] = value{station: float64(i), v: bias + sigma*x, u95: present.Line95 * math.Hypot(sigma, common), shared: present.Line95 * common, weight: 1}
					x = rho*x + math.Sqrt(1-rho*rho)*rng.NormFloat64()
				}
				s := sumUp(v)
				if math.Abs(s.Mean) <= s.Mean95 {
					inside++
				}
				counted += s.Effective / lines
			}
			share := 100 * float64(inside) / lines
			t.Logf("correlation over %v m: %.1f %% inside, %d stations worth %.1f", length, share, n, counted)
			lo, hi := 93.0, 97.0
			if length != 12 {
				lo, hi = 90, 99
			}
			if share < lo || share > hi {
				t.Errorf("correlation over %v m, %d stations: the mean lies inside its 95 %% in %.1f %%", length, n, share)
			}
		}
	}
}

// Counting every 10 cm instead of every metre makes no mean better.
func TestDenseStations(t *testing.T) {
	line := func(step float64) Stats {
		var v []value
		for s := 0.0; s <= 100; s += step {
			v = append(v, value{station: s, v: 0.1 * math.Sin(s/7), u95: 0.3, shared: 0.1, weight: 1})
		}
		return sumUp(v)
	}
	coarse, dense := line(1), line(0.1)
	nearly(t, "uncertainty of the mean", dense.Mean95, coarse.Mean95, 0.02*coarse.Mean95)
	nearly(t, "effective number", dense.Effective, coarse.Effective, 0.1*coarse.Effective)
}

func TestJudge(t *testing.T) {
	for _, c := range []struct {
		d, u, tol float64
		want      Verdict
	}{
		{0.1, 0.2, 0.5, Agrees}, {-0.1, 0.2, 0.5, Agrees}, {0.8, 0.2, 0.5, Differs}, {-0.8, 0.2, 0.5, Differs},
		{0.4, 0.2, 0.5, Inconclusive}, {0, 0.6, 0.5, Inconclusive}, {5, 6, 0.5, Inconclusive},
		{0.7, 0.2, 0.5, Inconclusive}, {0.3, 0.2, 0.5, Inconclusive}, // on the bounds: neither
		{math.NaN(), 0.2, 0.5, Unjudged}, {3, math.NaN(), 0.5, Inconclusive}, {0, 0, 0, Inconclusive}, {1e-9, 0, 0, Differs},
	} {
		if got := judge(c.d, c.u, c.tol); got != c.want {
			t.Errorf("%v ± %v against %v: %q, want %q", c.d, c.u, c.tol, got, c.want)
		}
	}
	if worst(Agrees, Unjudged) != Agrees || worst(Agrees, Inconclusive) != Inconclusive || worst(Differs, Agrees) != Differs {
		t.Error("the worst of two verdicts")
	}
}

// The choice of partners is the best there is. Checks against: trying all.
func TestBestChoice(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for round := range 300 {
		n := 2 + rng.IntN(11)
		m := &matching{spans: make([]span, n), conflicts: make([][]int, n)}
		for i := range m.spans {
			m.spans[i].weight = rng.Float64()
		}
		for i := range n {
			for j := range i {
				if rng.Float64() < 0.4 {
					m.conflicts[i], m.conflicts[j] = append(m.conflicts[i], j), append(m.conflicts[j], i)
				}
			}
		}
		newSorted(m)
		best := 0.0
		for set := range 1 << n {
			sum, ok := 0.0, true
			for i := range n {
				if set>>i&1 == 0 {
					continue
				}
				sum += m.spans[i].weight
				for _, j := range m.conflicts[i] {
					ok = ok && set>>j&1 == 0
				}
			}
			if ok {
				best = max(best, sum)
			}
		}
		var got float64
		var all []int
		for _, g := range m.groups() {
			all = append(all, m.best(g)...)
		}
		for k, i := range all {
			got += m.spans[i].weight
			for _, j := range all[:k] {
				if m.anyAgainst(i, []int{j}) {
					t.Fatalf("round %d: %d and %d exclude each other", round, i, j)
				}
			}
		}
		nearly(t, "gain", got, best, 1e-9)
	}
}

func newSorted(m *matching) {
	for i := range m.conflicts {
		slices.Sort(m.conflicts[i])
	}
}
