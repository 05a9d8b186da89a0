package survey

import (
	"fmt"
	"slices"
	"strings"

	"tracemap/fuse/clock"
	"tracemap/present"
	"tracemap/result"
)

// clockWidth returns the most that the clock adds to a half-width, m, 95 %, and whether
// it widens any part noticeably.
func (d *Day) clockWidth() (added float64, matters bool) {
	for i := range d.Located.Lines {
		for j := range d.Located.Lines[i].Parts {
			p := &d.Located.Lines[i].Parts[j]
			added = max(added, p.ClockWidth)
			matters = matters || result.WidenedByClock(p)
		}
	}
	return added, matters
}

// severalClocks says which clocks a day has that has more than one.
func (d *Day) severalClocks() []string {
	if len(d.Clock.Several) == 0 {
		return d.oneForAll()
	}
	if !d.Clock.Differ() {
		return nil
	}
	return []string{"the readings were taken on clocks that differ, and each has its own offset: " + strings.Join(result.ClockList(d.Clock), "; ")}
}

// oneForAll says that several locators share one clock offset, as stated or because some
// have too few readings.
func (d *Day) oneForAll() []string {
	var names []string
	for i := range d.Readings.Readings {
		if n := d.Readings.Readings[i].Instrument; n != "" && !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	if len(names) < 2 {
		return nil
	}
	return []string{fmt.Sprintf("the readings are from %d locators, and one clock offset is used for all: if their clocks differ, convert each locator's readings with the receiver's log on its own", len(names))}
}

// clockWarnings say what the clock costs where it costs something.
func (d *Day) clockWarnings() []string {
	added, matters := d.clockWidth()
	worst := d.Clock.Worst()
	if worst.State == clock.Known || !matters {
		return nil
	}
	return []string{fmt.Sprintf("the locator's clock is known only to within ±%s (95 %%), which adds up to %.2f m to the half-widths: %s",
		spanText(present.HalfWidth(worst.Sigma)), added, clock.Advice)}
}

// spanText writes a time span for people: "4.2 s", "12 min".
func spanText(s float64) string {
	switch {
	case s < 100:
		return fmt.Sprintf("%.1f s", s)
	case s < 6000:
		return fmt.Sprintf("%.0f min", s/60)
	}
	return fmt.Sprintf("%.1f h", s/3600)
}
