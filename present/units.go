package present

import (
	"fmt"
	"math"
	"time"
)

// Units writes lengths for people; files keep metres.
type Units struct{ Imperial bool }

// MetresPerFoot is the international foot, exact.
const MetresPerFoot = 0.3048

// Length writes a distance along the ground: "12.3 m", "40.4 ft"; "–" for none.
func (u Units) Length(m float64) string {
	switch {
	case !Known(m):
		return "–"
	case u.Imperial:
		return Fixed(m/MetresPerFoot, 1) + " ft"
	}
	return Fixed(m, 1) + " m"
}

// Depth writes a depth, a width or a deviation: "1.25 m", "4 ft 1 in"; "–" for none.
func (u Units) Depth(m float64) string {
	if !Known(m) {
		return "–"
	}
	sign := ""
	if m < 0 {
		sign, m = "−", -m
	}
	if !u.Imperial {
		return sign + Fixed(m, 2) + " m"
	}
	inches := m / MetresPerFoot * 12
	if inches < 11.95 {
		return sign + Fixed(inches, 1) + " in"
	}
	whole := math.Round(inches)
	return fmt.Sprintf("%s%.0f ft %.0f in", sign, math.Floor(whole/12), math.Mod(whole, 12))
}

// Scale gives the factor from metres to the unit of axes, and its symbol.
func (u Units) Scale() (factor float64, symbol string) {
	if u.Imperial {
		return 1 / MetresPerFoot, "ft"
	}
	return 1, "m"
}

// Hertz writes a frequency: "640 Hz", "8.192 kHz"; "–" for none.
func Hertz(hz float64) string {
	switch {
	case !Known(hz):
		return "–"
	case hz < 1000:
		return string(AppendNumber(nil, Round(hz, 1))) + " Hz"
	}
	return string(AppendNumber(nil, Round(hz/1000, 3))) + " kHz"
}

// Span writes a range of two lengths, one when they read the same.
func (u Units) Span(low, high float64) string {
	a, b := u.Depth(low), u.Depth(high)
	if a == b {
		return a
	}
	return a + " to " + b
}

// Period writes a stretch of time in UTC: the date once when it is one day.
func Period(from, to time.Time) string {
	switch from, to = from.UTC(), to.UTC(); {
	case from.IsZero() && to.IsZero():
		return "–"
	case to.IsZero() || to.Truncate(time.Minute).Equal(from.Truncate(time.Minute)):
		return from.Format("2006-01-02 15:04 UTC")
	case from.IsZero():
		return "until " + to.Format("2006-01-02 15:04 UTC")
	case from.Format(time.DateOnly) == to.Format(time.DateOnly):
		return from.Format("2006-01-02 15:04") + " to " + to.Format("15:04 UTC")
	}
	return from.Format("2006-01-02 15:04") + " to " + to.Format("2006-01-02 15:04 UTC")
}
