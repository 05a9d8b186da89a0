package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse/clock"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/remarks"
)

// A fix that a locator logged by a word, however it is written, or by GGA's number;
// what may mean less is not taken for more.
func TestOwnQuality(t *testing.T) {
	for text, want := range map[string]nmea.Quality{
		"4": nmea.QualityRTKFixed, "RTK Fixed": nmea.QualityRTKFixed, "rtk_fixed": nmea.QualityRTKFixed, "RTK-fix": nmea.QualityRTKFixed, "rtk": nmea.QualityRTKFloat, "5": nmea.QualityRTKFloat, "float": nmea.QualityRTKFloat,
		"2": nmea.QualityDGPS, "sbas": nmea.QualityDGPS, "1": nmea.QualityAutonomous, "single": nmea.QualityAutonomous,
		"6": nmea.QualityEstimated, "3": nmea.QualityPPS,
		"": nmea.QualityUnknown, "RTK??": nmea.QualityUnknown, "0": nmea.QualityUnknown,
	} {
		if got := ownQuality(text); got != want {
			t.Errorf("%q is %v, want %v", text, got, want)
		}
	}
}

// Of two qualities the weaker, whichever comes first.
func TestWorse(t *testing.T) {
	order := []nmea.Quality{
		nmea.QualityRTKFixed, nmea.QualityRTKFloat, nmea.QualityDGPS, nmea.QualityPPS, nmea.QualityAutonomous,
		nmea.QualityUnknown, nmea.QualityEstimated,
	}
	for i, a := range order {
		for _, b := range order[i:] {
			if worse(a, b) != b || worse(b, a) != b {
				t.Errorf("of %v and %v: %v and %v", a, b, worse(a, b), worse(b, a))
			}
		}
		if worse(nmea.QualityNone, a) != a {
			t.Errorf("not yet known, and %v: %v", a, worse(nmea.QualityNone, a))
		}
	}
}

// Vertices that fall together become one, with the larger σ and all flags.
func TestDropDoubles(t *testing.T) {
	got := dropDoubles([]mark{
		{at: plane.Pt{}, sigma: 1}, {at: plane.Pt{E: 5}, sigma: 1, flags: remarks.CornerInferred},
		{at: plane.Pt{E: 5.0005}, sigma: 3, flags: remarks.Gap}, {at: plane.Pt{E: 9}, sigma: 2},
	})
	if len(got) != 3 || got[1].sigma != 3 || got[1].flags != remarks.CornerInferred|remarks.Gap || got[2].at.E != 9 {
		t.Errorf("%+v", got)
	}
}

// A span of one reading is a short straight towards its neighbour, and of readings
// all at one place one as well.
func TestFirstShapeOfOne(t *testing.T) {
	samples := []sample{{at: plane.Pt{}, local: 1}, {at: plane.Pt{E: 3, N: 4}, local: 1}}
	for k := range samples {
		st := firstShape(samples, span{first: k, last: k})
		if _, o := st.project(samples[k].at); math.Abs(o) > 1e-12 || st.dir.Dist(plane.Pt{E: 0.6, N: 0.8}) > 1e-12 {
			t.Errorf("reading %d: %+v", k, st)
		}
	}
	one := []sample{{at: plane.Pt{E: 2}, local: 1}}
	if st := firstShape(one, span{}); math.Abs(st.dir.Len()-1) > 1e-12 {
		t.Errorf("alone: %+v", st)
	}
	same := []sample{{at: plane.Pt{E: 2}, local: 1}, {at: plane.Pt{E: 2}, local: 1}, {at: plane.Pt{E: 2}, local: 1}}
	if st := firstShape(same, span{last: 2}); math.Abs(st.dir.Len()-1) > 1e-12 || !(st.length() > 0) {
		t.Errorf("at one place: %+v", st)
	}
}

// The log-odds of a lock: nought or less where a reading is where it should be,
// growing with every deviation, and nothing for what was not read.
func TestLogOdds(t *testing.T) {
	last := math.Inf(-1)
	for r := 0.0; r < 3; r += 0.05 {
		l := logOdds(r, 0.1, 0.5)
		if l <= last || l != logOdds(-r, 0.1, 0.5) {
			t.Errorf("at %v: %v after %v", r, l, last)
		}
		// ln of the ratio of two centred normal densities.
		wide := math.Hypot(0.1, 0.5)
		want := (-0.5*sq(r/wide) - math.Log(wide)) - (-0.5*sq(r/0.1) - math.Log(0.1))
		if math.Abs(l-want) > 1e-9 {
			t.Errorf("at %v: %v, want %v", r, l, want)
		}
		last = l
	}
	if logOdds(0, 0.1, 0.5) >= 0 || logOdds(math.NaN(), 0.1, 0.5) != 0 || logOdds(1, 0, 0.5) != 0 {
		t.Error("no deviation speaks for a lock, or an unknown one speaks")
	}
	for _, v := range [][3]float64{{1, 2, 1}, {2, 1, 1}, {-1, -3, -1}, {1, -1, 0}, {1, math.NaN(), 1}, {0, 5, 0}} {
		if got := milder(v[0], v[1]); got != v[2] {
			t.Errorf("milder of %v and %v is %v", v[0], v[1], got)
		}
	}
}

// The course through eight neighbours of which two are wrong: more than ([n/2] − p +
// 1) = 2 the least median of squares does not bear (Rousseeuw, JASA 79, 1984).
func TestOffCourse(t *testing.T) {
	var s []sample
	for k := range 9 {
		x := 3 * float64(k-4)
		s = append(s, sample{at: plane.Pt{E: x, N: 0.01 * x * x}, local: 0.01})
	}
	around := append(between(0, 3), between(5, 8)...)
	if off, unrest := offCourse(s, around, 4); off > 1e-9 || unrest > 1e-9 {
		t.Errorf("a parabola: %v off, unrest %v", off, unrest)
	}
	s[4].at.N += 0.7
	for _, k := range []int{2, 7} {
		s[k].at.N -= 1
	}
	if off, _ := offCourse(s, around, 4); math.Abs(off-0.7) > 1e-6 {
		t.Errorf("0.7 m off, with two wrong neighbours: %v", off)
	}
}

// A clock's error of one σ moves a reading by the way walked in that time, and a
// standing one not at all; near the log's end by what is known.
func TestClockShift(t *testing.T) {
	tr := straightTrack(t, 200)
	for _, sigma := range []float64{0.1, 1, 20} {
		s, _ := tr.At(100)
		if got := clockShift(tr, 100, s, sigma); got.Dist(plane.Pt{E: sigma}) > 0.01*sigma+1e-6 {
			t.Errorf("σ %v s at 1 m/s: %v", sigma, got)
		}
		s, _ = tr.At(199)
		if got := clockShift(tr, 199, s, sigma); math.Abs(got.E-sigma) > 0.05*sigma+1e-3 {
			t.Errorf("σ %v s at the log's end: %v", sigma, got)
		}
	}
	cl := &clock.Result{Determined: true}
	if !cl.Narrow() {
		t.Error("a determined clock is not narrow")
	}
}

// The circle of 2.448 σ of the worse axis holds 95 % of an error and more, however long
// and whichever way its ellipse lies, the clock's share with it: held against errors
// drawn along the ellipse's own axes.
func TestWorseAxisIsOnTheSafeSide(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, ratio := range []float64{1, 0.5, 0.2} {
		for _, turn := range []float64{0, math.Pi / 4, 2} {
			for _, shift := range []plane.Pt{{}, {E: 0.7, N: -0.7}} {
				sin, cos := math.Sincos(turn)
				long, short := plane.Pt{E: cos, N: sin}, plane.Pt{E: -sin * ratio, N: cos * ratio}
				slow := [3]float64{sq(long.E) + sq(short.E), sq(long.N) + sq(short.N), long.E*long.N + short.E*short.N}
				radius := 2.448 * math.Sqrt(worseAxis(slow, shift))
				const n = 20000
				in := 0
				for range n {
					e := long.Mul(rng.NormFloat64()).Add(short.Mul(rng.NormFloat64())).Add(shift.Mul(rng.NormFloat64()))
					if e.Len() <= radius {
						in++
					}
				}
				// By chance 0.15 % of 95 %.
				if share := float64(in) / n; share < 0.9455 || share > 0.99 {
					t.Errorf("axes 1 : %v turned by %.1f, clock %v: %.1f %% inside", ratio, turn, shift, 100*share)
				}
			}
		}
	}
}
