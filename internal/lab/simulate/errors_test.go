package simulate_test

import (
	"iter"
	"math"
	"testing"

	"tracemap/internal/lab/simulate"
)

// stats gathers a mean and a root mean square.
type stats struct {
	n         int
	sum, sum2 float64
}

func (s *stats) add(v float64) { s.n++; s.sum += v; s.sum2 += v * v }

func (s *stats) mean() float64 { return s.sum / float64(s.n) }
func (s *stats) rms() float64  { return math.Sqrt(s.sum2 / float64(s.n)) }

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.4g, want %.4g ± %.2g", what, got, want, tolerance)
	}
}

// quiet is a day on which nothing goes wrong beside the plain errors.
func quiet(seed uint64) simulate.Scenario {
	s := simulate.New("quiet", seed)
	s.Mount.Tilt = 0
	s.Locate.Locks = 0
	return s
}

// idle is fifty minutes with hardly any work in them.
func idle(seed uint64) simulate.Scenario {
	s := quiet(seed)
	s.World.Pipes, s.World.Curves, s.World.Cables = 1, 0, 0
	s.Work.Readings, s.Work.Duration = 2, 3000
	return s
}

// The σ of one horizontal axis that was asked for: 1.8 m without corrections,
// 0.6 m differential, 0.015 m fixed, at HDOP 1; what an epoch says of its σ must
// be the σ that it has.
func TestSatelliteErrorsAreAsLargeAsAsked(t *testing.T) {
	cases := []struct {
		profile simulate.Profile
		sigma   float64
		model   simulate.SlowModel
	}{
		{simulate.RTKFixed, 0.015, simulate.GaussMarkov},
		{simulate.SBAS, 0.6, simulate.TwoScale},
		{simulate.Autonomous, 1.8, simulate.BoundedWalk},
	}
	for _, k := range cases {
		var z [3]stats
		var perAxis, correlated stats
		for seed := range uint64(40) {
			s := idle(seed)
			s.GNSS.Profile, s.GNSS.Slow, s.GNSS.Tau = k.profile, k.model, 60
			for e := range simulate.Invent(s).Epochs() {
				for i := range 3 {
					z[i].add(e.Error[i] / e.Sigma[i])
				}
				perAxis.add(math.Hypot(e.Error[0], e.Error[1]) / e.HDOP / math.Sqrt2)
				correlated.add((e.Error[0]*e.Error[1] - e.CovEN) / (e.Sigma[0] * e.Sigma[1]))
			}
		}
		// 40 days of 50 minutes with τ = 60 s, or parts of 180 s, hold some 500
		// independent values: the rms is good to 3 %, the mean to 4.5 %; times three.
		for i := range 3 {
			within(t, "error ÷ its σ", z[i].rms(), 1, 0.09)
			within(t, "mean error ÷ its σ", z[i].mean(), 0, 0.14)
		}
		within(t, "σ an axis ÷ asked, HDOP 1", perAxis.rms()/k.sigma, 1, 0.09)
		within(t, "covariance", correlated.mean(), 0, 0.14)
	}
}

// Two seconds apart the error is nearly the same, τ apart it is e⁻¹ of itself
// (exactly so for the first-order process), 8 τ apart it is forgotten.
func TestSlowErrorsLast(t *testing.T) {
	const tau = 40
	for _, model := range []simulate.SlowModel{simulate.GaussMarkov, simulate.TwoScale, simulate.BoundedWalk} {
		lags := map[int]*stats{2: {}, tau: {}, 8 * tau: {}}
		var all stats
		for seed := range uint64(40) {
			s := idle(seed)
			s.GNSS.Profile, s.GNSS.Slow, s.GNSS.Tau = simulate.Autonomous, model, tau
			var z []float64
			for e := range simulate.Invent(s).Epochs() {
				z = append(z, e.Error[0]/e.Sigma[0])
			}
			for i, v := range z {
				all.add(v)
				for lag, st := range lags {
					if i+lag < len(z) {
						st.add(v * z[i+lag])
					}
				}
			}
		}
		for lag, want := range map[int][2]float64{ // between
			2:       {0.85, 0.97}, // 2 % of the variance is new at every epoch
			tau:     {0.30, 0.50},
			8 * tau: {-0.08, 0.13},
		} {
			got := lags[lag].mean() / (all.rms() * all.rms())
			if got < want[0] || got > want[1] {
				t.Errorf("model %d: correlation %d s apart is %.3f, want between %.2f and %.2f", model, lag, got, want[0], want[1])
			}
			if model == simulate.GaussMarkov && lag == tau {
				within(t, "first order at τ", got, 0.98*math.Exp(-1), 0.05)
			}
		}
	}
}

// A second-order process has the correlation (1 + t/T)·e^(−t/T), 1/e at τ: after
// 2 s, a twentieth of τ, nothing has happened.
func TestSmoothErrorsAreSmooth(t *testing.T) {
	const tau = 40
	const T = tau / 2.1462
	want := func(lag float64) float64 { return (1 + lag/T) * math.Exp(-lag/T) }
	lags := map[int]*stats{1: {}, 2: {}, tau: {}, 4 * tau: {}}
	var all stats
	for seed := range uint64(40) {
		s := idle(seed)
		s.GNSS.Profile, s.GNSS.Slow, s.GNSS.Tau, s.GNSS.Quick = simulate.Autonomous, simulate.Smooth, tau, 1e-6
		var z []float64
		for e := range simulate.Invent(s).Epochs() {
			z = append(z, e.Error[0]/e.Sigma[0])
		}
		for i, v := range z {
			all.add(v)
			for lag, st := range lags {
				if i+lag < len(z) {
					st.add((v - z[i+lag]) * (v - z[i+lag]) / 2)
				}
			}
		}
	}
	within(t, "σ", all.rms(), 1, 0.09) // as for the other processes
	for lag, st := range lags {
		// Half the squared difference is 1 − ρ in the mean. 40 days of 75 τ: 3 %,
		// times three.
		within(t, "1 − correlation", st.mean(), 1-want(float64(lag)), 0.1*(1-want(float64(lag))))
	}
}

// What a restless receiver tells of its σ goes up and down by as much as asked
// about what it should tell, and the positions are those of a quiet one.
func TestRestlessReceiverTellsOnly(t *testing.T) {
	s := quiet(5)
	r := s
	r.GNSS.Restless = 0.25
	var told []float64
	for e := range simulate.Invent(r).Epochs() {
		told = append(told, math.Log(e.Told))
	}
	k := 0
	for e := range simulate.Invent(s).Epochs() {
		if e.Told != 1 {
			t.Fatalf("a quiet receiver tells %v", e.Told)
		}
		k++
	}
	var st stats
	for _, v := range told {
		st.add(v)
	}
	if k != len(told) {
		t.Fatalf("%d and %d epochs", k, len(told))
	}
	within(t, "σ of ln(told)", st.rms(), 0.25, 0.05) // some 30 independent times or more
	a, b := simulate.Invent(s), simulate.Invent(r)
	next, stop := iter.Pull(b.Epochs())
	defer stop()
	for e := range a.Epochs() {
		if o, _ := next(); o.Geo != e.Geo || o.Sigma != e.Sigma {
			t.Fatalf("at %v s the position or its true σ differs", e.Time)
		}
	}
}

func TestBoundedWalkStaysInBounds(t *testing.T) {
	s := quiet(3)
	s.GNSS.Profile, s.GNSS.Slow = simulate.SBAS, simulate.BoundedWalk
	for e := range simulate.Invent(s).Epochs() {
		// √3 σ for the slow part, and 5 σ of the new part, 3 % of the variance; the
		// axes of the ellipse are mixed in east and north, so √2.
		if z := math.Abs(e.Error[2] / e.Sigma[2]); z > math.Sqrt(3)+5*math.Sqrt(0.03) {
			t.Fatalf("height error of %.2f σ", z)
		}
	}
}

// located gathers the position and depth errors of readings on long straights,
// in units of the σ that was asked for, by line in order of station.
func located(change func(*simulate.Scenario), days int, each func(line *simulate.Line, station, point, depth float64)) {
	for seed := range uint64(days) {
		s := quiet(seed)
		s.Locate.Plain, s.World.Steps = true, 0
		change(&s)
		for _, r := range simulate.Invent(s).Readings {
			if r.Line == nil || r.Feature != "" || r.Lock {
				continue
			}
			left := r.Line.Path.Along(r.Station).Left()
			point := r.At.Sub(r.True).Dot(left) / math.Hypot(s.Locate.PointFloor, s.Locate.PointShare*r.Depth)
			depth := (r.DepthRead - r.Depth) / math.Hypot(s.Locate.DepthFloor, s.Locate.DepthShare*r.Depth)
			each(r.Line, r.Station, point, depth)
		}
	}
}

// σ = √((2 cm)² + (5 % of depth)²) across the line, √((3 cm)² + (5 %)²) in depth.
func TestLocatingErrorsAreAsLargeAsAsked(t *testing.T) {
	for _, tails := range []int{0, 4} {
		for _, style := range []simulate.Style{simulate.StopAndGo, simulate.Walking} {
			var point, depth stats
			located(func(s *simulate.Scenario) {
				s.Work.Style, s.Locate.Tails, s.Locate.DepthCalibration = style, tails, 0
				s.Work.Corners = 0
			}, 60, func(_ *simulate.Line, _, p, d float64) { point.add(p); depth.add(d) })
			// 10,000 readings, of which 40–50 % of the variance is common to 4–5: some
			// 4,000 independent ones. t with 4 degrees has no fourth moment: wider.
			tolerance := 0.04
			if tails > 0 {
				tolerance = 0.08
			}
			// Sway of 1 cm comes on top of a σ of some 6 cm: 2 %.
			within(t, "position error ÷ σ", point.rms(), 1.02, tolerance)
			within(t, "mean position error ÷ σ", point.mean(), 0, 0.05)
			within(t, "depth error ÷ σ", depth.rms(), 1, tolerance)
		}
	}
}

// With all of the error correlated over 15 m, neighbours 5 m apart share e^(−1/3)
// of it; with none correlated they share nothing.
func TestLocatingErrorsAreCorrelatedAsAsked(t *testing.T) {
	for white, want := range map[float64]float64{1: 0, 0: math.Exp(-5.0 / 15)} {
		var product, square stats
		var last struct {
			line         *simulate.Line
			point, depth float64
		}
		located(func(s *simulate.Scenario) {
			s.Locate.PointWhite, s.Locate.PointLength = white, simulate.Range{15, 15}
			s.Locate.DepthWhite, s.Locate.DepthCalibration = white, 0
			s.Work.Spacing, s.Work.Corners = simulate.Range{5, 5}, 0
			s.World.Cables, s.World.Curves = 0, 0
		}, 60, func(l *simulate.Line, _, p, d float64) {
			if l == last.line {
				product.add((p*last.point + d*last.depth) / 2)
			}
			square.add(math.Sqrt((p*p + d*d) / 2))
			last.line, last.point, last.depth = l, p, d
		})
		within(t, "correlation 5 m apart", product.mean()/(square.rms()*square.rms()), want, 0.06)
	}
}

// The calibration of a day is one bias: it differs between days by its share
// and not within one.
func TestCalibrationIsOneBiasADay(t *testing.T) {
	var between stats
	for seed := range uint64(80) {
		s := quiet(seed)
		s.Locate.Plain = true
		s.Locate.DepthWhite, s.Locate.DepthCalibration = 0, 1
		var day stats
		for _, r := range simulate.Invent(s).Readings {
			day.add((r.DepthRead - r.Depth) / math.Hypot(s.Locate.DepthFloor, s.Locate.DepthShare*r.Depth))
		}
		if spread := math.Sqrt(max(0, day.rms()*day.rms()-day.mean()*day.mean())); spread > 1e-6 {
			t.Fatalf("day %d: calibration varies by %.3g σ", seed, spread)
		}
		between.add(day.mean())
	}
	within(t, "calibration ÷ σ over days", between.rms(), 1, 0.25) // 80 days: 8 %, times three
}

func TestLockShare(t *testing.T) {
	var locks stats
	for seed := range uint64(60) {
		s := quiet(seed)
		s.Locate.Locks, s.Locate.Plain = 0.05, true
		for _, r := range simulate.Invent(s).Readings {
			v := 0.0
			if r.Lock {
				v = 1
				if d := r.At.Dist(r.True); d < 0.05 {
					t.Errorf("a lock only %.2f m off the line", d)
				}
			}
			locks.add(v)
		}
	}
	within(t, "share of locks", locks.mean(), 0.05, 0.008) // 10,000 readings in runs of 1.4: 0.26 %, times three
}
