package present_test

import (
	"math"
	"testing"
	"time"

	"tracemap/present"
)

// Feet and inches are exact by definition (1 ft = 0.3048 m).
func TestUnits(t *testing.T) {
	metric, imperial := present.Units{}, present.Units{Imperial: true}
	for _, c := range []struct{ got, want string }{
		{metric.Length(12.34), "12.3 m"}, {imperial.Length(30.48), "100.0 ft"},
		{metric.Depth(1.256), "1.26 m"}, {imperial.Depth(1.2446), "4 ft 1 in"}, {imperial.Depth(0.1016), "4.0 in"},
		{imperial.Depth(0.3040), "1 ft 0 in"}, {imperial.Depth(0.6090), "2 ft 0 in"}, {imperial.Depth(-0.0254), "−1.0 in"},
		{metric.Depth(-0.05), "−0.05 m"}, {metric.Depth(math.NaN()), "–"}, {metric.Length(math.Inf(1)), "–"},
		{present.Hertz(640), "640 Hz"}, {present.Hertz(8192), "8.192 kHz"}, {present.Hertz(83078.4), "83.078 kHz"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestPeriod(t *testing.T) {
	at := func(day, hour, minute int) time.Time { return time.Date(2031, 5, day, hour, minute, 20, 0, time.UTC) }
	for _, c := range []struct {
		from, to time.Time
		want     string
	}{
		{time.Time{}, time.Time{}, "–"},
		{at(6, 7, 30), at(6, 9, 5), "2031-05-06 07:30 to 09:05 UTC"},
		{at(6, 23, 30), at(7, 0, 5), "2031-05-06 23:30 to 2031-05-07 00:05 UTC"},
		{at(6, 7, 30), at(6, 7, 30), "2031-05-06 07:30 UTC"},
		{time.Time{}, at(6, 7, 30), "until 2031-05-06 07:30 UTC"},
		{at(6, 7, 30), time.Time{}, "2031-05-06 07:30 UTC"},
	} {
		if got := present.Period(c.from, c.to); got != c.want {
			t.Errorf("%v to %v: %q, want %q", c.from, c.to, got, c.want)
		}
	}
}
