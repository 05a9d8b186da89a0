package record

import "time"

// steadyTags is how many times in a row must lie in another hour before it is
// believed, where it is not the hour that follows. One sentence garbled in such
// a way that its checksum is right must not open a file.
const steadyTags = 10

// hours tells which hour's log a line belongs to.
type hours struct {
	current time.Time // zero before the first
	other   time.Time // an hour that was told and is not yet believed
	tags    int       // how many different times in it in a row
	last    time.Time
}

// at takes the UTC of a line and reports whether a new hour begins with it.
func (h *hours) at(utc time.Time) bool {
	hour := utc.Truncate(time.Hour)
	switch {
	case hour.Equal(h.current):
		h.other = time.Time{}
		return false
	case h.current.IsZero(), hour.Equal(h.current.Add(time.Hour)):
		h.begin(hour)
		return true
	}
	if !hour.Equal(h.other) {
		h.other, h.tags, h.last = hour, 0, time.Time{}
	}
	if !utc.Equal(h.last) {
		h.tags++
		h.last = utc
	}
	if h.tags < steadyTags {
		return false
	}
	h.begin(hour)
	return true
}

func (h *hours) begin(hour time.Time) { *h = hours{current: hour} }
