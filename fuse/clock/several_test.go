package clock_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"tracemap/fuse/clock"
	"tracemap/readings"
)

// late returns the readings of a day with the clock of some of them set otherwise.
func late(rs []readings.Reading, by time.Duration, which func(i int, r *readings.Reading) bool) []readings.Reading {
	out := slices.Clone(rs)
	for i := range out {
		if r := &out[i]; which(i, r) {
			r.Time = r.Time.Add(by)
		}
	}
	return out
}

// worstError is the largest error of the times of those readings that have one, s, and
// the number of those that have none.
func (w *worked) worstError(t *testing.T, r *clock.Result, shifted []readings.Reading) (worst float64, without int) {
	truth := w.align(t, clock.Options{Mode: clock.Given, Offset: time.Duration(w.day.Scenario.Clock.Offset * float64(time.Second))})
	for i := range shifted {
		if shifted[i].Time.IsZero() {
			continue
		}
		own := r.Of(i)
		if own == nil {
			without++
			continue
		}
		e := own.UTC(shifted[i].Time).Sub(truth.UTC(w.rs[i].Time)).Seconds()
		worst = max(worst, math.Abs(e)-3*own.Sigma)
	}
	return worst, without
}

// Two locators in one log, two files of two locators, two files of one locator, and a
// clock that falls back to a factory date or by some hours half-way: each reading gets
// its own clock's offset, within 3 σ of the truth, and a reading that nothing ties to
// UTC gets none. The invented days have 0.2 s between stamps and the true drift of a
// quartz clock, 20 ppm, which Given leaves out: hence half a second.
func TestSeveralClocks(t *testing.T) {
	for _, c := range []struct {
		name   string
		clocks int
		change func(w *worked) []readings.Reading
	}{
		{"two instruments", 2, func(w *worked) []readings.Reading {
			other := func(_ int, r *readings.Reading) bool { return r.Line > "L02" }
			rs := late(w.rs, 23*time.Second, other)
			for i := range rs {
				rs[i].Instrument = "A"
				if other(i, &rs[i]) {
					rs[i].Instrument = "B"
				}
			}
			return rs
		}},
		{"two files of two locators", 2, func(w *worked) []readings.Reading {
			other := func(_ int, r *readings.Reading) bool { return r.Line > "L02" }
			rs := late(w.rs, -41*time.Second, other)
			for i := range rs {
				if other(i, &rs[i]) {
					rs[i].File = "other.csv"
				}
			}
			return rs
		}},
		{"two files of one locator", 0, func(w *worked) []readings.Reading {
			rs := slices.Clone(w.rs)
			for i := range rs {
				if rs[i].Line > "L02" {
					rs[i].File = "other.csv"
				}
			}
			return rs
		}},
		{"a factory date half-way", 2, func(w *worked) []readings.Reading {
			half := w.rs[len(w.rs)/2].Time
			return late(w.rs, time.Date(2000, 1, 1, 0, 0, 5, 0, time.UTC).Sub(half), func(i int, _ *readings.Reading) bool { return i >= len(w.rs)/2 })
		}},
		{"seven hours back half-way", 2, func(w *worked) []readings.Reading {
			return late(w.rs, -7*time.Hour, func(i int, _ *readings.Reading) bool { return i >= len(w.rs)/2 })
		}},
		{"a factory date for the last twelve", 2, func(w *worked) []readings.Reading {
			return late(w.rs, -9000*24*time.Hour, func(i int, _ *readings.Reading) bool { return i >= len(w.rs)-12 })
		}},
	} {
		for seed := range uint64(3) {
			w := workedDay(t, "rtk-stopgo", 8_000_010+seed)
			rs := slices.SortedStableFunc(slices.Values(w.rs), func(a, b readings.Reading) int { return a.Time.Compare(b.Time) })
			w.rs = rs
			changed := c.change(&w)
			r, err := align(w.tr, changed, clock.Options{})
			if err != nil {
				t.Errorf("%s, seed %d: %v", c.name, seed, err)
				continue
			}
			if len(r.Several) != c.clocks {
				t.Errorf("%s, seed %d: %d clocks, want %d", c.name, seed, len(r.Several), c.clocks)
			}
			worst, without := w.worstError(t, r, changed)
			if worst > 0.5 || without > 12 {
				t.Errorf("%s, seed %d: times are off by 3 σ and %.1f s; %d of %d without", c.name, seed, worst, without, len(rs))
			}
		}
	}
}

// A person's word about a clock holds until that clock falls back.
func TestStatedUntilItFallsBack(t *testing.T) {
	w := workedDay(t, "rtk-stopgo", 8_000_010)
	w.rs = slices.SortedStableFunc(slices.Values(w.rs), func(a, b readings.Reading) int { return a.Time.Compare(b.Time) })
	changed := late(w.rs, -7*time.Hour, func(i int, _ *readings.Reading) bool { return i >= len(w.rs)/2 })
	offset := time.Duration(w.day.Scenario.Clock.Offset * float64(time.Second))
	r, err := align(w.tr, changed, clock.Options{Mode: clock.Given, Offset: offset})
	if err != nil || len(r.Several) != 2 || r.Of(0).Method != "given" {
		t.Fatalf("%+v, %v; want the offset given for the first half, another for the second", r, err)
	}
	if worst, without := w.worstError(t, r, changed); worst > 0.5 || without > 0 {
		t.Errorf("times are off by 3 σ and %.1f s; %d without", worst, without)
	}
}
