package clock_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
)

var dawn = time.Date(2026, 5, 12, 6, 30, 0, 0, time.UTC)

// walked is the track of a walker who stands for a while now and then, with an
// epoch a second.
func walked(t testing.TB, seconds int) *track.Track {
	t.Helper()
	local := geodesy.NewLocal(geodesy.Geo{Lat: 47.5, Lon: -17.75})
	none := float32(nan)
	rng := rand.New(rand.NewPCG(1, 1))
	var epochs []nmea.Epoch
	var at plane.Pt
	standing := 0
	for k := range seconds {
		if standing == 0 && rng.IntN(8) == 0 {
			standing = 3 + rng.IntN(4)
		}
		if standing > 0 {
			standing--
		} else {
			at = at.Add(plane.Pt{E: 1, N: 0.5 * math.Sin(float64(k)/30)})
		}
		g := local.Inverse(at)
		epochs = append(epochs, nmea.Epoch{
			Nanos: dawn.Add(time.Duration(k) * time.Second).UnixNano(), Lat: g.Lat, Lon: g.Lon, Alt: 40, Sep: 30,
			SigmaN: none, SigmaE: none, SigmaU: none, HDOP: 1, VDOP: none, Age: none, Speed: none, Course: none,
			Quality: nmea.QualityRTKFixed,
		})
	}
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// every gives readings a step apart over a time of the track, by a locator's clock
// that is off.
func every(from, to, step, off float64) []readings.Reading {
	var out []readings.Reading
	for s := from; s <= to; s += step {
		out = append(out, bare(dawn.Add(time.Duration((s+off)*1e9))))
	}
	return out
}

func align(tr *track.Track, rs []readings.Reading, opt clock.Options) (*clock.Result, error) {
	return clock.Align(context.Background(), tr, rs, opt)
}

// What the user says holds.
func TestGivenAndTrusted(t *testing.T) {
	tr := walked(t, 1200)
	rs := every(100, 1000, 10, 7201.5)
	r, err := align(tr, rs, clock.Options{Mode: clock.Given, Offset: 7201500 * time.Millisecond})
	if err != nil || r.Offset != 7201.5 || r.Drift != 0 || !r.Determined || r.Method != "given" || r.Sigma <= 0 || r.Sigma > 1 {
		t.Errorf("given: %+v, %v", r, err)
	}
	if got := r.UTC(rs[0].Time); !got.Equal(dawn.Add(100 * time.Second)) {
		t.Errorf("given: UTC %v", got)
	}
	if _, err := align(tr, rs, clock.Options{Mode: clock.Given}); !errors.Is(err, clock.ErrNoOverlap) {
		t.Errorf("an offset that puts all readings after the log: %v", err)
	}
	if _, err := align(tr, rs, clock.Options{Mode: clock.Trust}); !errors.Is(err, clock.ErrNoOverlap) {
		t.Errorf("trusted, and two hours off: %v", err)
	}
	r, err = align(tr, every(100, 1000, 10, 0.4), clock.Options{Mode: clock.Trust})
	if err != nil || r.Offset != 0 || !r.Determined || r.Method != "none" || r.Sigma < 0.1 {
		t.Errorf("trusted: %+v, %v", r, err)
	}
}

// One mark gives the offset; the σ grows with the time away from it. Two give the
// drift.
func TestMarks(t *testing.T) {
	tr := walked(t, 9*3600)
	off := func(u float64) float64 { return 42 + 15e-6*u }
	mark := func(u float64) clock.Mark {
		return clock.Mark{Locator: dawn.Add(time.Duration((u + off(u)) * 1e9)), UTC: dawn.Add(time.Duration(u * 1e9))}
	}
	day := func(until float64) []readings.Reading {
		var out []readings.Reading
		for u := 60.0; u < until; u += 60 {
			out = append(out, bare(dawn.Add(time.Duration((u+off(u))*1e9))))
		}
		return out
	}
	last := 0.0
	for _, hours := range []float64{0.5, 2, 8} {
		r, err := align(tr, day(hours*3600), clock.Options{Marks: []clock.Mark{mark(30)}})
		if err != nil || r.Method != "marks" || !r.Determined {
			t.Fatalf("one mark: %+v, %v", r, err)
		}
		if r.Sigma <= last || r.Sigma < 0.3 {
			t.Errorf("one mark, %v h: σ %v s, %v s on a shorter day", hours, r.Sigma, last)
		}
		last = r.Sigma
		if e := math.Abs(r.OffsetAt(mark(30).Locator) - off(30)); e > 0.01 {
			t.Errorf("one mark: off by %.3f s at it", e)
		}
	}
	rs := day(8 * 3600)
	one, _ := align(tr, rs, clock.Options{Marks: []clock.Mark{mark(30)}})
	two, err := align(tr, rs, clock.Options{Marks: []clock.Mark{mark(30), mark(8 * 3600)}})
	if err != nil || two.Sigma >= one.Sigma {
		t.Fatalf("two marks: %+v, %v; one: %+v", two, err, one)
	}
	// Marks eight hours apart, σ half a second each, against a prior of 20 ppm.
	if two.Drift < 3 || two.Drift > 15.1 {
		t.Errorf("two marks: drift %.1f ppm, truly 15", two.Drift)
	}
	if _, err := align(tr, every(100, 900, 10, 86400), clock.Options{Marks: []clock.Mark{mark(30)}}); !errors.Is(err, clock.ErrNoOverlap) {
		t.Errorf("marks that put all readings after the log: %v", err)
	}
}

// The marks' σ covers: marks pressed by hand with σ half a second on a clock that
// drifts by σ 20 ppm, 500 days. The error at the end of the day is the worst one.
func TestMarksCover(t *testing.T) {
	tr := walked(t, 6*3600)
	rng := rand.New(rand.NewPCG(3, 3))
	for _, marks := range []int{1, 2, 3} {
		var square float64
		const days = 500
		for range days {
			start, drift := 3600*rng.NormFloat64(), 20e-6*rng.NormFloat64()
			off := func(u float64) float64 { return start + drift*u }
			var ms []clock.Mark
			for k := range marks {
				u := 60 + 20000*float64(k)/2
				ms = append(ms, clock.Mark{
					Locator: dawn.Add(time.Duration((u + off(u) + 0.5*rng.NormFloat64()) * 1e9)), UTC: dawn.Add(time.Duration(u * 1e9)),
				})
			}
			var rs []readings.Reading
			for u := 100.0; u < 21000; u += 1000 {
				rs = append(rs, bare(dawn.Add(time.Duration((u+off(u))*1e9))))
			}
			r, err := align(tr, rs, clock.Options{Marks: ms})
			if err != nil {
				t.Fatal(err)
			}
			var worst float64
			for _, u := range []float64{100, 20100} {
				worst = max(worst, math.Abs(r.OffsetAt(dawn.Add(time.Duration((u+off(u))*1e9)))-off(u)))
			}
			square += worst * worst / r.Sigma / r.Sigma / days
		}
		// The σ is that of the worst end of the day, the error that of the worse of two
		// ends: 1 and a little; 500 days know it to 3 %.
		if rms := math.Sqrt(square); rms < 0.8 || rms > 1.3 {
			t.Errorf("%d marks: errors of %.2f σ on average", marks, rms)
		}
	}
}

// Readings and log that cannot meet are an error; so are readings without times.
func TestNoOverlap(t *testing.T) {
	tr := walked(t, 600)
	none := bare(time.Time{})
	for name, rs := range map[string][]readings.Reading{
		"no readings": nil, "no times": {none, none},
		"a day later": every(100, 500, 10, 86400), "a year earlier": every(100, 500, 10, -365*86400),
	} {
		for _, opt := range []clock.Options{{}, {Mode: clock.Trust}} {
			if r, err := align(tr, rs, opt); !errors.Is(err, clock.ErrNoOverlap) {
				t.Errorf("%s: %+v, %v", name, r, err)
			}
		}
	}
}

// The same day gives the same answer, in whatever order its rows come; a clock
// that is off by so much more is found by so much more.
func TestIdentities(t *testing.T) {
	w := workedDay(t, "rtk-stopgo", 8_000_001)
	want := w.align(t, clock.Options{})
	if again := w.align(t, clock.Options{}); fmt.Sprintf("%+v", again) != fmt.Sprintf("%+v", want) {
		t.Errorf("%+v, and again %+v", want, again)
	}
	shuffled := w
	shuffled.rs = slices.Clone(w.rs)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(w.rs), func(a, b int) { shuffled.rs[a], shuffled.rs[b] = shuffled.rs[b], shuffled.rs[a] })
	if got := shuffled.align(t, clock.Options{}); math.Abs(got.Offset-want.Offset) > 0.05 || got.Determined != want.Determined {
		t.Errorf("rows in another order: %.3f ± %.3f s, was %.3f ± %.3f s", got.Offset, got.Sigma, want.Offset, want.Sigma)
	}
	for _, by := range []time.Duration{time.Second, -30 * time.Second, 3*time.Hour + 50*time.Minute} {
		moved := w
		moved.rs = slices.Clone(w.rs)
		for k := range moved.rs {
			moved.rs[k].Time = moved.rs[k].Time.Add(by)
		}
		got := moved.align(t, clock.Options{})
		// Half of the search's coarse step, and the σ's own.
		if d := got.Offset - want.Offset - by.Seconds(); math.Abs(d) > 0.35 || got.Determined != want.Determined {
			t.Errorf("%v more: %.2f s, was %.2f s, determined %v", by, got.Offset, want.Offset, got.Determined)
		}
	}
}

// A few rows with a wild time do not lead the search astray.
func TestWildTimes(t *testing.T) {
	w := workedDay(t, "rtk-stopgo", 8_000_002)
	want := w.align(t, clock.Options{})
	w.rs = slices.Clone(w.rs)
	for k, at := range []time.Time{time.Unix(0, 0), time.Date(2080, 1, 1, 0, 0, 0, 0, time.UTC), {}} {
		w.rs[20*k].Time = at
	}
	got := w.align(t, clock.Options{})
	if math.Abs(got.Offset-want.Offset) > 0.35 || got.Determined != want.Determined {
		t.Errorf("%.2f ± %.2f s (%v), without them %.2f ± %.2f s", got.Offset, got.Sigma, got.Determined, want.Offset, want.Sigma)
	}
}

// A log that holds another day's work as well, years away, changes nothing, and
// takes no memory for the time in between.
func TestOldWorkInTheLog(t *testing.T) {
	for _, c := range []struct {
		preset string
		years  int
	}{{"rtk-stopgo", -12}, {"rtk-stopgo", 3}, {"rtk-walk", -12}} {
		w, years := workedDay(t, c.preset, 8_000_003), c.years
		want := w.align(t, clock.Options{})
		s := w.day.Scenario
		var epochs []nmea.Epoch
		log := w.epochs
		for _, e := range log {
			e.Nanos += s.Start.AddDate(years, 0, 0).Sub(s.Start).Nanoseconds()
			epochs = append(epochs, e)
		}
		if years < 0 {
			epochs = append(epochs, log...)
		} else {
			epochs = append(slices.Clone(log), epochs...)
		}
		tr, err := track.Build(context.Background(), epochs)
		if err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		got, err := align(tr, w.rs, clock.Options{})
		runtime.ReadMemStats(&after)
		// The day's own measures come from twice as many epochs: what is determined may
		// not move by it, what is not by no more than its σ.
		if err != nil || math.Abs(got.Offset-want.Offset) > max(0.35, want.Sigma) || got.Determined != want.Determined {
			t.Errorf("%d years: %+v, %v, want %.2f s", years, got, err, want.Offset)
		}
		if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > 200 {
			t.Errorf("%d years: %d MB", years, mb)
		}
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	tr := walked(t, 1200)
	if _, err := clock.Align(ctx, tr, every(100, 1000, 10, 0), clock.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// OffsetAt and UTC say the same.
func TestResult(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := clock.Result{
			Offset: rapid.Float64Range(-5e4, 5e4).Draw(t, "offset"), Drift: rapid.Float64Range(-60, 60).Draw(t, "drift"), Ref: dawn,
		}
		at := dawn.Add(time.Duration(rapid.Float64Range(-4e4, 4e4).Draw(t, "s") * 1e9))
		if d := at.Sub(r.UTC(at)).Seconds() - r.OffsetAt(at); math.Abs(d) > 1e-6 {
			t.Fatalf("UTC and offset differ by %v s", d)
		}
		want := r.Offset + r.Drift*1e-6*at.Sub(dawn).Seconds()
		if math.Abs(r.OffsetAt(at)-want) > 1e-9 {
			t.Fatalf("offset %v, want %v", r.OffsetAt(at), want)
		}
	})
}

// Any readings give an answer or ErrNoOverlap, with a σ, and the evidence in
// order.
func TestAnyReadings(t *testing.T) {
	tr := walked(t, 900)
	local := geodesy.NewLocal(geodesy.Geo{Lat: 47.5, Lon: -17.75})
	rapid.Check(t, func(t *rapid.T) {
		var rs []readings.Reading
		for range rapid.IntRange(1, 40).Draw(t, "readings") {
			r := bare(dawn.Add(time.Duration(rapid.Float64Range(-500, 1500).Draw(t, "t") * 1e9)))
			if rapid.IntRange(0, 20).Draw(t, "wild") == 0 {
				r.Time = rapid.SampledFrom([]time.Time{{}, time.Unix(0, 0), dawn.AddDate(1, 0, 0)}).Draw(t, "time")
			}
			r.Line = rapid.SampledFrom([]string{"A", "B", ""}).Draw(t, "line")
			r.Depth = rapid.SampledFrom([]float64{nan, 0, 1, 1.3}).Draw(t, "depth")
			r.Current = rapid.SampledFrom([]float64{nan, 0, 40, 44}).Draw(t, "current")
			r.Feature = rapid.SampledFrom([]string{"", "", "", "valve"}).Draw(t, "feature")
			if rapid.IntRange(0, 3).Draw(t, "own") == 0 {
				g := local.Inverse(plane.Pt{E: rapid.Float64Range(-50, 900).Draw(t, "east"), N: rapid.Float64Range(-20, 20).Draw(t, "north")})
				r.Lat, r.Lon = g.Lat, g.Lon
			}
			rs = append(rs, r)
		}
		r, err := align(tr, rs, clock.Options{})
		if err != nil {
			if !errors.Is(err, clock.ErrNoOverlap) {
				t.Fatal(err)
			}
			return
		}
		if !(r.Sigma > 0) || math.IsInf(r.Sigma, 0) || math.IsNaN(r.Offset) || math.IsNaN(r.Drift) || r.Method == "" {
			t.Fatalf("%+v", r)
		}
		if r.Determined != (r.Advice == "") {
			t.Fatalf("determined %v, advice %q", r.Determined, r.Advice)
		}
		for k, c := range r.Evidence {
			if k > 0 && c.Offset <= r.Evidence[k-1].Offset || c.LogLikelihood > 0 || math.IsNaN(c.LogLikelihood) {
				t.Fatalf("evidence %d: %+v", k, c)
			}
		}
	})
}
