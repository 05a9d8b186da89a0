package survey

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"tracemap/fuse/clock"
	"tracemap/readings"
)

// maxOffset is the largest difference between a locator's clock and UTC that is
// believed: a clock set to another year is not a clock.
const maxOffset = 20 * 365 * 24 * time.Hour

// ParseClockOffset reads how the locator's clock is tied to UTC: "auto",
// "none", or its offset as a duration with unit, as in 37.4s or -1h0m12s.
func ParseClockOffset(text string) (clock.Mode, time.Duration, error) {
	switch text {
	case "auto":
		return clock.Auto, 0, nil
	case "none":
		return clock.Trust, 0, nil
	}
	d, err := time.ParseDuration(text)
	if err != nil {
		if _, err := strconv.ParseFloat(text, 64); err == nil {
			return 0, 0, fmt.Errorf("clock offset %q has no unit: write %ss for seconds", text, text)
		}
		return 0, 0, fmt.Errorf("clock offset %q: must be auto, none or a duration such as 37.4s or -1h0m12s", text)
	}
	if d.Abs() > maxOffset {
		return 0, 0, fmt.Errorf("clock offset %s is more than %s", text, maxOffset)
	}
	return clock.Given, d, nil
}

// ParseMark reads a sync mark L=U: the locator's clock read L when UTC was U,
// both RFC 3339 with offset.
func ParseMark(text string) (clock.Mark, error) {
	l, u, ok := strings.Cut(text, "=")
	if !ok {
		return clock.Mark{}, fmt.Errorf("sync mark %q: must be L=U, the locator's clock and UTC at one moment", text)
	}
	var m clock.Mark
	for _, side := range []struct {
		to   *time.Time
		text string
	}{{&m.Locator, l}, {&m.UTC, u}} {
		t, err := time.Parse(time.RFC3339Nano, strings.TrimSpace(side.text))
		if err != nil {
			return clock.Mark{}, fmt.Errorf("sync mark %q: %q is no RFC 3339 time such as 2031-05-06T07:30:00Z", text, side.text)
		}
		*side.to = t.UTC()
	}
	return m, nil
}

// FormatMark writes a mark as ParseMark reads it.
func FormatMark(m clock.Mark) string {
	return m.Locator.UTC().Format(time.RFC3339Nano) + "=" + m.UTC.UTC().Format(time.RFC3339Nano)
}

// ParseZone reads a zone: an IANA name in any case, letters such as CEST, or an offset.
func ParseZone(name string) (*time.Location, error) { return readings.ParseZone(name) }

// ParseUnits reads the units that people are shown, metric or imperial.
func ParseUnits(text string) (imperial bool, err error) {
	switch text {
	case "metric":
		return false, nil
	case "imperial":
		return true, nil
	}
	return false, fmt.Errorf("no units %q: there are metric and imperial", text)
}
