package record

import "time"

const (
	dayLong = 24 * time.Hour
	// A receiver whose firmware counts the weeks of satellite time in ten bits takes
	// today for a day 1024 weeks ago (IS-GPS-200, week number).
	rollover = 1024 * 7 * dayLong
)

// Stamp is one instant on both clocks.
type Stamp struct {
	// UTC is the receiver's latest time plus what has passed since it came, or the
	// machine's where the receiver has told none. The sentence took its way through
	// the receiver and the line first, so that it lags behind by what that takes:
	// mostly 0.05 s to 0.5 s (common practice, no source).
	UTC time.Time
	// Receiver is the time in the receiver's latest sentence; zero where there is none.
	Receiver time.Time
	// Age is how long ago that sentence came.
	Age time.Duration
	// Machine is this computer's clock.
	Machine time.Time
}

// Known reports whether UTC is the receiver's.
func (s Stamp) Known() bool { return !s.Receiver.IsZero() }

// clock is UTC as the receiver tells it.
type clock struct {
	utc     time.Time // of the latest time tag; zero before the first
	arrived time.Time // when that came, on the machine's clock
	dated   bool      // the receiver has told a date, or counts on from one
	fix     bool      // the latest sentence that says so
}

// take adds what a line told at an instant of the machine's clock. It gives
// the UTC of the line's time tag, and false where it has none.
func (c *clock) take(t told, at time.Time) (time.Time, bool) {
	if t.judged {
		c.fix = t.fix
	}
	if !t.timed {
		return time.Time{}, false
	}
	switch {
	case t.dated && c.fix:
		c.utc = t.day.Add(t.tod)
		if d := at.Sub(c.utc.Add(rollover)); d.Abs() < 7*dayLong {
			c.utc = c.utc.Add(rollover)
		}
		c.dated = true
	case c.dated:
		c.utc = nearest(t.tod, c.utc.Add(max(0, at.Sub(c.arrived))))
	default:
		c.utc = nearest(t.tod, at)
	}
	c.arrived = at
	return c.utc, true
}

// stamp puts an instant of the machine's clock on the receiver's.
func (c *clock) stamp(at time.Time) Stamp {
	s := Stamp{UTC: at.UTC().Round(0), Machine: at.UTC().Round(0)}
	if !c.utc.IsZero() {
		s.Receiver = c.utc
		s.Age = at.Sub(c.arrived)
		s.UTC = c.utc.Add(s.Age)
	}
	return s
}

// nearest gives the time with that time of day which lies nearest to t.
func nearest(tod time.Duration, t time.Time) time.Time {
	t = t.UTC().Round(0)
	midnight := time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
	near := midnight.Add(tod)
	switch d := near.Sub(t); {
	case d > dayLong/2:
		near = near.Add(-dayLong)
	case d < -dayLong/2:
		near = near.Add(dayLong)
	}
	return near
}
