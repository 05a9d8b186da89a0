package clock_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"tracemap/fuse/clock"
)

// A confident wrong clock is the worst answer there is. The bounds were set
// beforehand: over all days, none that is called determined is off by more than a
// second; an error beyond 4 σ comes once in 16,000 days of an honest σ, and not
// here; a day walked once without a halt is never determined; of days with a stop
// for every reading three in four are.

func TestWalksSayNothing(t *testing.T) {
	days, results := aligned(t, "walk-no-evidence", 20)
	for k, r := range results {
		seed := days[k].day.Scenario.Seed
		e, _ := days[k].errorOf(r)
		if r.Determined {
			t.Errorf("seed %d: determined to ± %.2f s by %s, off by %.2f s", seed, r.Sigma, r.Method, e)
		}
		if math.Abs(e) > 4*r.Sigma {
			t.Errorf("seed %d: off by %.1f s, σ %.1f s", seed, e, r.Sigma)
		}
		if r.Advice == "" {
			t.Errorf("seed %d: undetermined, and no advice", seed)
		}
	}
}

func TestStopsTellTheClock(t *testing.T) {
	days, results := aligned(t, "rtk-stopgo", 20)
	determined := 0
	var square float64
	for k, r := range results {
		seed := days[k].day.Scenario.Seed
		e, worst := days[k].errorOf(r)
		if r.Determined {
			determined++
			square += e * e / r.Sigma / r.Sigma
			if math.Abs(e) > 1 || worst > 2 {
				t.Errorf("seed %d: determined and off by %.2f s, %.2f s at the worst", seed, e, worst)
			}
			if r.Advice != "" || r.Sigma > 2 || !strings.Contains(r.Method, "stops") {
				t.Errorf("seed %d: %s ± %.2f s, advice %q", seed, r.Method, r.Sigma, r.Advice)
			}
		}
		if math.Abs(e) > 4*r.Sigma {
			t.Errorf("seed %d: off by %.2f s, %.1f σ", seed, e, math.Abs(e)/r.Sigma)
		}
	}
	if determined < 15 {
		t.Errorf("determined on %d of 20 days", determined)
	}
	// Too wide fails like too narrow: 20 days know the mean square of an honest σ
	// to a third.
	if rms := math.Sqrt(square / float64(determined)); rms < 0.15 || rms > 1.4 {
		t.Errorf("errors of %.2f σ on average", rms)
	}
}

// A clock in the wrong zone is found hours off, to the second.
func TestHoursOff(t *testing.T) {
	days, results := aligned(t, "hour-zone", 6)
	determined := 0
	for k, r := range results {
		e, _ := days[k].errorOf(r)
		if r.Determined {
			determined++
			if math.Abs(e) > 1 {
				t.Errorf("seed %d: determined and off by %.2f s", days[k].day.Scenario.Seed, e)
			}
		}
	}
	if determined < 4 {
		t.Errorf("determined on %d of 6 days", determined)
	}
}

// Lines walked both ways may tell the clock; where they are said to, they do.
func TestReturnPasses(t *testing.T) {
	days, results := aligned(t, "rtk-return", 12)
	found := 0
	for k, r := range results {
		e, _ := days[k].errorOf(r)
		seed := days[k].day.Scenario.Seed
		if r.Determined && math.Abs(e) > 1 {
			t.Errorf("seed %d: determined by %s, off by %.2f s, σ %.2f s", seed, r.Method, e, r.Sigma)
		}
		if math.Abs(e) > 4*r.Sigma {
			t.Errorf("seed %d: off by %.2f s, %.1f σ", seed, e, math.Abs(e)/r.Sigma)
		}
		// An answer within three seconds, called determined or not, is one.
		if math.Abs(e) < 3 {
			found++
		}
	}
	if found < 6 {
		t.Errorf("within three seconds on %d of 12 days", found)
	}
}

// Positions in the readings' log tell the clock: those of the same receiver – which
// may reach the locator late – to three seconds, those of a phone, metres off, to
// four, and never worse than they say.
func TestPositionsTellTheClock(t *testing.T) {
	for preset, bound := range map[string]float64{"rtk-walk": 3, "phone-positions": 4} {
		days, results := aligned(t, preset, 8)
		for k, r := range results {
			e, _ := days[k].errorOf(r)
			seed := days[k].day.Scenario.Seed
			if math.Abs(e) > bound || math.Abs(e) > 4*r.Sigma || r.Determined && math.Abs(e) > 1 {
				t.Errorf("%s seed %d: off by %.2f s, σ %.2f s, determined %v", preset, seed, e, r.Sigma, r.Determined)
			}
		}
	}
}

// With positions even the wrong day is found, years off.
func TestWrongDate(t *testing.T) {
	w := workedDay(t, "rtk-walk", 8_000_000)
	for _, off := range []time.Duration{24 * time.Hour, -3 * 24 * time.Hour, 400 * 24 * time.Hour} {
		moved := w
		moved.rs = slices.Clone(w.rs)
		for k := range moved.rs {
			moved.rs[k].Time = moved.rs[k].Time.Add(off)
		}
		r := moved.align(t, clock.Options{})
		r.Offset -= off.Seconds()
		r.Ref = r.Ref.Add(-off)
		if e, _ := moved.errorOf(r); math.Abs(e) > 3 {
			t.Errorf("%v off: found to %.1f s, ± %.1f s", off, e, r.Sigma)
		}
	}
}

// One row days late – a date mistyped – changes nothing of the clock.
func TestStrayRow(t *testing.T) {
	w := workedDay(t, "rtk-stopgo", 8_000_010)
	want := w.align(t, clock.Options{})
	moved := w
	moved.rs = slices.Clone(w.rs)
	moved.rs[len(moved.rs)-1].Time = moved.rs[len(moved.rs)-1].Time.Add(3 * 24 * time.Hour)
	got := moved.align(t, clock.Options{})
	if !want.Determined || !got.Determined {
		t.Errorf("determined %v, with a stray row %v (σ %.2f s)", want.Determined, got.Determined, got.Sigma)
	}
	a, _ := w.errorOf(want)
	if b, _ := w.errorOf(got); math.Abs(b) > 1 || math.Abs(a) > 1 {
		t.Errorf("off by %.2f s, with a stray row by %.2f s", a, b)
	}
}
