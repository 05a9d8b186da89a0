package track_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tracemap/fuse/noise"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/remarks"
)

var (
	nan    = math.NaN()
	here   = geodesy.Geo{Lat: 47.5, Lon: -17.75}
	origin = geodesy.NewLocal(here)
	dawn   = time.Date(2026, 5, 12, 6, 30, 0, 0, time.UTC)
)

// epochAt is an RTK fix at a place of the plane about here, t seconds after dawn.
func epochAt(t float64, at plane.Pt) nmea.Epoch {
	g := origin.Inverse(at)
	none := float32(nan)
	return nmea.Epoch{
		Nanos: dawn.UnixNano() + int64(math.Round(t*1e9)), Lat: g.Lat, Lon: g.Lon, Alt: 40, Sep: 30,
		SigmaN: none, SigmaE: none, SigmaU: none, HDOP: 1, VDOP: none, Age: none, Speed: none, Course: none,
		Quality: nmea.QualityRTKFixed,
	}
}

// stroll is a walk to and fro with an epoch a second at n times step, seen with
// white noise of σ r.
func stroll(seed uint64, n int, step, r float64) []nmea.Epoch {
	rng := rand.New(rand.NewPCG(seed, 7))
	out := make([]nmea.Epoch, n)
	for k := range out {
		t := step * float64(k)
		at := strolled(t).Add(plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(r))
		out[k] = epochAt(t, at)
	}
	return out
}

// strolled is where the walker of stroll is: 1 m/s eastward, in slow bends.
func strolled(t float64) plane.Pt { return plane.Pt{E: t, N: 20 * math.Sin(t/40)} }

func build(t *testing.T, epochs []nmea.Epoch) *track.Track {
	t.Helper()
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// place brings a state into the plane about here.
func place(tr *track.Track, s track.State) plane.Pt { return origin.Forward(tr.Plane.Inverse(s.At)) }

func TestTrackFollowsTheWalker(t *testing.T) {
	for _, step := range []float64{0.1, 0.2, 1} {
		tr := build(t, stroll(1, int(600/step), step, 0.008))
		for u := 3.0; u < 590; u += 0.37 {
			s, ok := tr.At(u)
			if !ok || s.Flags != 0 || s.Quality != nmea.QualityRTKFixed {
				t.Fatalf("%v s: ok %v, flags %v, quality %v", u, ok, s.Flags, s.Quality)
			}
			// 8 mm of noise, five times; between epochs a second apart the walker's
			// bend (1/80 m/s²) adds a millimetre.
			if d := place(tr, s).Dist(strolled(u)); d > 0.04 {
				t.Errorf("step %v, %v s: %.3f m off", step, u, d)
			}
			want := strolled(u + 0.01).Sub(strolled(u - 0.01)).Mul(50)
			if d := s.Velocity.Dist(want); d > 0.3 {
				t.Errorf("step %v, %v s: velocity off by %.3f m/s", step, u, d)
			}
			if h := s.H; math.Abs(h-70) > 1e-6 {
				t.Errorf("height %v, want 40 + 30 m", h)
			}
		}
		if tr.Rejected != 0 || len(tr.Steps) != 0 {
			t.Errorf("step %v: %d rejected, steps %v", step, tr.Rejected, tr.Steps)
		}
	}
}

// The quick σ is measured, not believed: known noise on a known walk comes back,
// for qualities whose table says something else.
func TestQuickNoiseIsMeasured(t *testing.T) {
	for _, c := range []struct {
		quality nmea.Quality
		r       float64
	}{
		{nmea.QualityRTKFixed, 0.003}, {nmea.QualityRTKFixed, 0.008}, {nmea.QualityRTKFloat, 0.03},
		{nmea.QualityDGPS, 0.05}, {nmea.QualityAutonomous, 0.2}, {nmea.QualityAutonomous, 0.05},
	} {
		for _, step := range []float64{0.1, 1} {
			if step == 1 && c.r < 0.008 {
				continue // the bends of the walk are larger within a second
			}
			epochs := stroll(3, 6000, step, c.r)
			for k := range epochs {
				epochs[k].Quality = c.quality
			}
			tr := build(t, epochs)
			// The median of 6000 squares is good to 2 %; σ and acceleration are told
			// apart from two of them, which makes it some 5 %.
			if got := tr.Quick[c.quality]; got < 0.85*c.r || got > 1.15*c.r {
				t.Errorf("%v at %v s: quick σ %.4f m, put in %.4f m", c.quality, step, got, c.r)
			}
		}
	}
}

// The quick part never exceeds the total, and what is not quick is slow.
func TestQuickAndSlowMakeTheTotal(t *testing.T) {
	for _, r := range []float64{0, 0.001, 0.01, 0.1} {
		tr := build(t, stroll(5, 2000, 1, r))
		s, _ := tr.At(1000)
		total := math.Pow(noise.Fixes[nmea.QualityRTKFixed].Sigma, 2)
		quick := tr.Quick[nmea.QualityRTKFixed]
		if slow := s.Slow.Mean(); slow <= 0 || quick*quick > total || slow+quick*quick < 0.999*total || slow > total*(1+1e-9) {
			t.Errorf("noise %v m: quick %v m², slow %v m², total %v m²", r, quick*quick, slow, total)
		}
	}
}

// No silence longer than noise.MaxBridge is bridged, and shorter ones are.
func TestSilence(t *testing.T) {
	for _, gap := range []float64{1, 2, 2.9, noise.MaxBridge, 3.1, 4, 10, 100, 40000} {
		epochs := stroll(8, 100, 1, 0.005)
		for k := 50; k < 100; k++ {
			g := origin.Inverse(strolled(49 + gap + float64(k-50)))
			epochs[k].Lat, epochs[k].Lon = g.Lat, g.Lon
			epochs[k].Nanos = dawn.UnixNano() + int64((49+gap+float64(k-50))*1e9)
		}
		tr := build(t, epochs)
		s, ok := tr.At(49 + gap/2)
		if gap <= noise.MaxBridge {
			if !ok {
				t.Errorf("%v s of silence: not bridged", gap)
			} else if d := place(tr, s).Dist(strolled(49 + gap/2)); d > 0.2 {
				t.Errorf("%v s of silence: %.2f m off in it", gap, d)
			}
		} else if ok || s.Flags != remarks.InOutage {
			t.Errorf("%v s of silence: bridged, or without its flag: %v", gap, s.Flags)
		}
		for _, u := range []float64{49, 49.3, 49 + gap - 0.3, 49 + gap} {
			if _, ok := tr.At(u); !ok {
				t.Errorf("%v s of silence: nothing at %v, right beside a fix", gap, u)
			}
		}
	}
}

// σ grows within a gap, and with its length.
func TestSigmaGrowsInGaps(t *testing.T) {
	last := 0.0
	for _, gap := range []float64{1, 1.5, 2, 2.5, 3} {
		epochs := stroll(9, 100, 0.5, 0.005)
		for k := 50; k < 100; k++ {
			epochs[k] = epochAt(24.5+gap+0.5*float64(k-50), strolled(24.5+gap+0.5*float64(k-50)))
		}
		tr := build(t, epochs)
		beside, _ := tr.At(24.5)
		mid, ok := tr.At(24.5 + gap/2)
		if !ok || mid.QuickVar <= beside.QuickVar || mid.QuickVar <= last {
			t.Errorf("gap of %v s: variance %g in its middle, %g at its end, %g in a shorter one", gap, mid.QuickVar, beside.QuickVar, last)
		}
		last = mid.QuickVar
	}
}

func TestOutsideTheLog(t *testing.T) {
	tr := build(t, stroll(1, 60, 1, 0.005))
	from, to := tr.Span()
	if from != 0 || math.Abs(to-59) > 1e-9 {
		t.Errorf("span %v to %v s", from, to)
	}
	if !tr.Start.Equal(dawn) || tr.Seconds(dawn.Add(90*time.Second)) != 90 {
		t.Errorf("start %v", tr.Start)
	}
	for _, u := range []float64{-1e9, -1, 60, 1e9, math.Inf(1), math.Inf(-1)} {
		if s, ok := tr.At(u); ok || s.Flags != remarks.OutsideLog {
			t.Errorf("%v s: ok %v, flags %v", u, ok, s.Flags)
		}
	}
}

// Each quality has its flag, and the path is not smoothed across a change.
func TestQualities(t *testing.T) {
	want := map[nmea.Quality]remarks.Set{
		nmea.QualityRTKFixed: 0, nmea.QualityRTKFloat: remarks.FloatFix, nmea.QualityDGPS: remarks.CodeFix,
		nmea.QualityPPS: remarks.CodeFix, nmea.QualityAutonomous: remarks.AutonomousFix,
		nmea.QualityEstimated: remarks.EstimatedFix, nmea.QualityUnknown: remarks.AutonomousFix,
	}
	for q, flag := range want {
		epochs := stroll(1, 120, 1, 0)
		for k := 40; k < 80; k++ {
			epochs[k].Quality = q
		}
		tr := build(t, epochs)
		s, ok := tr.At(60)
		before, _ := tr.At(20)
		if !ok || s.Flags != flag || s.Quality != q {
			t.Errorf("%v: ok %v, flags %q", q, ok, s.Flags)
		}
		if q != nmea.QualityRTKFixed && s.Chain == before.Chain {
			t.Errorf("%v: in one chain with the RTK fixes before", q)
		}
	}
	for _, q := range []nmea.Quality{nmea.QualityNone, nmea.QualityManual, nmea.QualitySimulator} {
		epochs := stroll(1, 120, 1, 0)
		for k := 40; k < 80; k++ {
			epochs[k].Quality = q
		}
		tr := build(t, epochs)
		if _, ok := tr.At(60); ok || tr.Unusable != 40 {
			t.Errorf("%v: used, or not counted: %d unusable", q, tr.Unusable)
		}
	}
}

// The same day on the antimeridian, at the equator and far south is the same
// track.
func TestDayAnywhere(t *testing.T) {
	base := stroll(11, 300, 1, 0.005)
	want := build(t, base)
	for _, to := range []geodesy.Geo{{Lat: 12, Lon: 180}, {Lat: -17, Lon: -179.9995}, {Lat: 0, Lon: 0}, {Lat: -80, Lon: 100}} {
		there := geodesy.NewLocal(to)
		moved := make([]nmea.Epoch, len(base))
		for k, e := range base {
			g := there.Inverse(origin.Forward(geodesy.Geo{Lat: e.Lat, Lon: e.Lon}))
			e.Lat, e.Lon = g.Lat, g.Lon
			moved[k] = e
		}
		got := build(t, moved)
		for u := 0.0; u < 299; u += 3.3 {
			a, _ := want.At(u)
			b, ok := got.At(u)
			p, q := place(want, a), there.Forward(got.Plane.Inverse(b.At))
			if !ok || p.Dist(q) > 0.002 { // m: two planes with other middles, 300 m
				t.Errorf("%v: %v s: %v, want %v", to, u, q, p)
			}
		}
	}
}

// Without heights there is a track all the same, and no height.
func TestNoHeights(t *testing.T) {
	with, without := stroll(1, 100, 1, 0.005), stroll(1, 100, 1, 0.005)
	some := stroll(1, 100, 1, 0.005)
	for k := range without {
		without[k].Alt = nan
		if k%7 == 0 {
			some[k].Sep = float32(nan)
		}
	}
	a, b, c := build(t, with), build(t, without), build(t, some)
	for u := 0.0; u < 99; u += 0.7 {
		x, _ := a.At(u)
		y, _ := b.At(u)
		z, _ := c.At(u)
		if !math.IsNaN(y.H) || x.At != y.At || x.At != z.At {
			t.Fatalf("%v s: height %v, at %v and %v", u, y.H, x.At, y.At)
		}
		// Before the first height nothing is known of it.
		if u >= 1 && math.Abs(z.H-70) > 1e-6 || u == 0 && !math.IsNaN(z.H) {
			t.Fatalf("%v s: height %v with some heights missing, want 70", u, z.H)
		}
	}
}

func TestNoUsableEpoch(t *testing.T) {
	none := stroll(1, 5, 1, 0)
	for k := range none {
		none[k].Quality = nmea.QualityNone
	}
	for name, epochs := range map[string][]nmea.Epoch{"nothing": nil, "no fix": none} {
		if _, err := track.Build(context.Background(), epochs); !errors.Is(err, track.ErrNoFix) {
			t.Errorf("%s: %v", name, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := track.Build(ctx, stroll(1, 50, 1, 0)); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// Any epochs in order of time give a track without a panic, finite where it has
// something; the same epochs give the same track.
func TestAnyEpochs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		epochs := make([]nmea.Epoch, n)
		var now float64
		var at plane.Pt
		for k := range epochs {
			now += rapid.SampledFrom([]float64{0.05, 0.1, 1, 1, 1, 2.9, 3.1, 500}).Draw(t, "pause")
			step := rapid.SampledFrom([]float64{0, 0, 0.5, 0.5, 30, 5000}).Draw(t, "step")
			at = at.Add(plane.Pt{E: step, N: step * rapid.Float64Range(-1, 1).Draw(t, "aside")})
			e := epochAt(now, at)
			e.Quality = nmea.Quality(rapid.SampledFrom([]uint8{0, 1, 2, 4, 4, 4, 5, 6, 8, 255}).Draw(t, "quality"))
			e.HDOP = rapid.SampledFrom([]float32{0.5, 1, 30, float32(nan)}).Draw(t, "hdop")
			if rapid.Bool().Draw(t, "gst") {
				e.SigmaN = rapid.Float32Range(0, 20).Draw(t, "σ north")
				e.SigmaE = rapid.Float32Range(0, 20).Draw(t, "σ east")
				e.CovNE = rapid.Float32Range(-400, 400).Draw(t, "cov")
			}
			if rapid.Bool().Draw(t, "velocity") {
				e.Speed, e.Course = rapid.Float32Range(0, 3).Draw(t, "speed"), rapid.Float32Range(0, 360).Draw(t, "course")
			}
			if rapid.Bool().Draw(t, "no height") {
				e.Alt = nan
			}
			epochs[k] = e
		}
		a, errA := track.Build(context.Background(), epochs)
		b, errB := track.Build(context.Background(), epochs)
		if errA != nil {
			if !errors.Is(errA, track.ErrNoFix) || errB == nil {
				t.Fatal(errA, errB)
			}
			return
		}
		if fmt.Sprint(a.Quick, a.Accel, a.Rejected, a.Unusable, a.Steps) != fmt.Sprint(b.Quick, b.Accel, b.Rejected, b.Unusable, b.Steps) {
			t.Fatal("two answers")
		}
		from, to := a.Span()
		for u := from - 1; u <= to+1; u += max((to-from)/200, 0.1) {
			s, ok := a.At(u)
			if twin, _ := b.At(u); fmt.Sprint(s) != fmt.Sprint(twin) { // as text: NaN is NaN
				t.Fatalf("%v s: %+v and %+v", u, s, twin)
			}
			if !ok {
				if s.Flags&(remarks.InOutage|remarks.OutsideLog) == 0 {
					t.Fatalf("%v s: nothing, and no word why", u)
				}
				continue
			}
			for _, x := range []float64{s.At.E, s.At.N, s.Velocity.E, s.Velocity.N, s.QuickVar, s.Slow.EE, s.Slow.NN, s.Slow.EN, s.SigmaH} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("%v s: %+v", u, s)
				}
			}
			if s.QuickVar <= 0 || s.Slow.EE <= 0 || s.Slow.NN <= 0 || s.Slow.EE*s.Slow.NN <= s.Slow.EN*s.Slow.EN {
				t.Fatalf("%v s: variances %+v", u, s)
			}
		}
	})
}

// Samples are what At gives, over an outage and beyond the ends.
func TestSamplesAreWhatAtGives(t *testing.T) {
	epochs := stroll(11, 4000, 0.2, 0.01)
	tr := build(t, append(epochs[:1500:1500], epochs[1700:]...))
	from, to := tr.Span()
	const step = 0.07
	for k, got := range tr.Sample(from-5, step, int((to-from+10)/step)) {
		s, ok := tr.At(from - 5 + float64(k)*step)
		if !ok {
			s.At = plane.Pt{E: nan, N: nan}
		}
		if got != s.At && !(math.IsNaN(got.E) && math.IsNaN(s.At.E)) {
			t.Fatalf("sample %d is %v, want %v", k, got, s.At)
		}
	}
}
