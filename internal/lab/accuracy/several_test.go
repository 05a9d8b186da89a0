package main

import (
	"math"
	"testing"

	"tracemap/fuse/clock"
	"tracemap/internal/lab/score"
)

// Two locators in one log, their clocks seconds to a minute and a half apart, in days
// of both generators: each clock is found within 4 σ of the truth for its own readings – beyond
// that comes once in 16,000 clocks – and within a second where it is called known.
// On days with stops the offsets of both must be found, to the second or not, on three of four, and the widths hold as they
// do on days with one locator: the mean of n days within three standard errors of
// the goal, with the spread of a day's share that bounds has.
func TestTwoLocators(t *testing.T) {
	found, stops := 0, 0
	all := &score.Score{}
	for _, m := range convertAll([]days{{"two-instruments", 8}, {"two-locators", 8}, {"two-locators-return", 6}}, false) {
		if m.err != nil {
			t.Errorf("%s seed %d: %v", m.name, m.seed, m.err)
			continue
		}
		s := score.Judge(m.day.truth, m.out.Located, m.out.Clock)
		for _, c := range s.Clocks {
			if !c.Within(4) || c.Determined && math.Abs(c.Error) > 1 {
				t.Errorf("%s seed %d: off by %.2f s, σ %.2f s (known: %v)", m.name, m.seed, c.Error, c.Sigma, c.Determined)
			}
		}
		if len(m.out.Clock.Several) != 2 {
			t.Errorf("%s seed %d: %d clocks, want 2", m.name, m.seed, len(m.out.Clock.Several))
		}
		if !m.day.traits.walked {
			stops++
			if m.out.Clock.Worst().State != clock.Unknown {
				found++
			}
		}
		all.Add(s)
	}
	if 4*found < 3*stops {
		t.Errorf("both clocks found on %d of %d days with stops", found, stops)
	}
	if got, low := all.Lateral.Coverage(), coverLow-3*bounds[0].daySpread/math.Sqrt(float64(all.Days)); got < low {
		t.Errorf("coverage %.3f on %d days, want at least %.3f", got, all.Days, low)
	}
}
