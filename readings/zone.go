package readings

import "time"

// A fold says what a change of the clocks does to a local time.
type fold int

const (
	plainTime  fold = iota
	livedTwice      // the clocks were set back over it
	skipped         // the clocks were set forward over it
)

// A zoneClock turns local times into UTC and remembers the stretch over which
// the zone's offset stays the same, because a day's times lie in one.
type zoneClock struct {
	zone     *time.Location
	from, to time.Time // wall times between which only offset is possible
	offset   time.Duration
}

// utc turns a wall time (as if UTC) into UTC. A time that the clocks passed
// twice is taken as its first pass, one that they skipped with the offset before
// the change (RFC 5545, section 3.3.5).
func (z *zoneClock) utc(wall time.Time) (time.Time, fold) {
	if !z.from.IsZero() && wall.After(z.from) && wall.Before(z.to) {
		return wall.Add(-z.offset), plainTime
	}
	before := z.offsetAt(wall.Add(-changeReach))
	after := z.offsetAt(wall.Add(changeReach))
	if before == after {
		z.remember(wall, before)
		return wall.Add(-before), plainTime
	}
	first, second := wall.Add(-before), wall.Add(-after)
	fitsFirst, fitsSecond := z.offsetAt(first) == before, z.offsetAt(second) == after
	switch {
	case fitsFirst && fitsSecond:
		return first, livedTwice
	case fitsSecond:
		return second, plainTime
	case fitsFirst:
		return first, plainTime
	}
	return first, skipped
}

// secondPass is a wall time that the clocks passed twice, as its second pass.
func (z *zoneClock) secondPass(wall time.Time) time.Time {
	return wall.Add(-z.offsetAt(wall.Add(changeReach)))
}

// changeReach is further than any zone's offset from UTC (+14 h, −12 h), so that
// a wall time read as UTC and moved by it lies surely on one side.
const changeReach = 26 * time.Hour

func (z *zoneClock) offsetAt(t time.Time) time.Duration {
	_, s := t.In(z.zone).Zone()
	return time.Duration(s) * time.Second
}

// remember keeps the stretch round wall in which no change is near.
func (z *zoneClock) remember(wall time.Time, offset time.Duration) {
	start, end := wall.Add(-offset).In(z.zone).ZoneBounds()
	if start.IsZero() {
		start = wall.AddDate(-1, 0, 0)
	}
	if end.IsZero() {
		end = wall.AddDate(1, 0, 0)
	}
	z.offset = offset
	z.from, z.to = start.UTC().Add(changeReach), end.UTC().Add(-changeReach)
}
