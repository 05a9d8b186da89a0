package readings

import (
	"strings"
	"time"
)

// Reasons why a cell is not a time.
const (
	notTime      = "not a time: wanted 2006-01-02 15:04:05 or RFC 3339"
	notDate      = "not a date: wanted 2006-01-02"
	notClock     = "not a time of day: wanted 15:04:05"
	dayOrMonth   = "day or month first is not told from the figures: state the format in --columns"
	noSeconds    = "no seconds: a reading's time needs them"
	noSuchTime   = "no such date or time of day"
	notMapped    = "not in the time format that --columns states"
	blankClock   = "date without a time of day"
	blankDate    = "time of day without a date"
	earliestYear = 1900
)

// A stamp is a date and time of day as written, before a zone is applied.
type stamp struct {
	year, month, day int
	hour, min, sec   int
	nano             int
	hasZone          bool
	offset           int // seconds east of UTC, when hasZone
}

// valid reports whether the stamp is a date of the calendar and a time of day.
// Second 60 is allowed in the last second of an hour: a leap second.
func (s *stamp) valid() bool {
	if s.year < earliestYear || s.month < 1 || s.month > 12 || s.day < 1 || s.hour > 23 || s.min > 59 {
		return false
	}
	if s.sec > 60 || s.sec == 60 && s.min != 59 {
		return false
	}
	return s.day <= time.Date(s.year, time.Month(s.month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// wall is the stamp read as if it were UTC.
func (s *stamp) wall() time.Time {
	return time.Date(s.year, time.Month(s.month), s.day, s.hour, s.min, s.sec, s.nano, time.UTC)
}

// A scan walks through a text.
type scan struct{ rest string }

// figures takes between lo and hi figures.
func (s *scan) figures(lo, hi int) (v int, ok bool) {
	n := 0
	for n < len(s.rest) && n < hi && s.rest[n] >= '0' && s.rest[n] <= '9' {
		v = v*10 + int(s.rest[n]-'0')
		n++
	}
	s.rest = s.rest[n:]
	return v, n >= lo
}

// one takes one byte of the set and gives it, or 0.
func (s *scan) one(set string) byte {
	if s.rest == "" || strings.IndexByte(set, s.rest[0]) < 0 {
		return 0
	}
	b := s.rest[0]
	s.rest = s.rest[1:]
	return b
}

// spaces skips blanks.
func (s *scan) spaces() { s.rest = strings.TrimLeft(s.rest, " ") }

// parseStamp reads a year-first date and a time of day in one text: RFC 3339,
// its local form with a blank or T between, and the same with / or . in the
// date or without leading zeros.
func parseStamp(text string) (st stamp, reason string) {
	s := scan{text}
	if reason := s.date(&st); reason != "" {
		if reason == notDate {
			reason = notTime
		}
		return st, reason
	}
	if s.rest == "" {
		return st, blankClock
	}
	if s.one("Tt ") == 0 {
		return st, notTime
	}
	s.spaces()
	if reason := s.clock(&st); reason != "" {
		return st, reason
	}
	if !st.valid() {
		return st, noSuchTime
	}
	return st, ""
}

// date takes year, month and day in this order.
func (s *scan) date(st *stamp) (reason string) {
	whole := s.rest
	var ok bool
	if st.year, ok = s.figures(4, 4); !ok {
		if looksDayFirst(whole) {
			return dayOrMonth
		}
		return notDate
	}
	sep := s.one("-/.")
	if sep == 0 {
		return notDate
	}
	if st.month, ok = s.figures(1, 2); !ok || s.one(string(sep)) == 0 {
		return notDate
	}
	if st.day, ok = s.figures(1, 2); !ok {
		return notDate
	}
	return ""
}

// looksDayFirst reports whether a text starts like 3/4/2026 or 03.04.26.
func looksDayFirst(text string) bool {
	s := scan{text}
	_, ok := s.figures(1, 2)
	sep := s.one("-/. ")
	if !ok || sep == 0 {
		return false
	}
	return s.rest != "" && s.rest != text
}

// clock takes the time of day and, where there is one, the offset: to the end
// of the text.
func (s *scan) clock(st *stamp) (reason string) {
	var ok bool
	if st.hour, ok = s.figures(1, 2); !ok || s.one(":") == 0 {
		return notClock
	}
	if st.min, ok = s.figures(2, 2); !ok {
		return notClock
	}
	if s.one(":") == 0 {
		return noSeconds
	}
	if st.sec, ok = s.figures(2, 2); !ok {
		return notClock
	}
	if s.one(".,") != 0 && !s.fraction(st) {
		return notClock
	}
	s.spaces()
	if !s.half(st) || !s.zone(st) || s.rest != "" {
		return notClock
	}
	return ""
}

// fraction takes the figures behind the seconds; below a nanosecond they are
// dropped.
func (s *scan) fraction(st *stamp) bool {
	n, scale := 0, 100_000_000
	for n < len(s.rest) && s.rest[n] >= '0' && s.rest[n] <= '9' {
		st.nano += int(s.rest[n]-'0') * scale
		scale /= 10
		n++
	}
	s.rest = s.rest[n:]
	return n > 0
}

// half takes AM or PM where it is written, and turns the hour.
func (s *scan) half(st *stamp) bool {
	if len(s.rest) < 2 {
		return true
	}
	pm := strings.EqualFold(s.rest[:2], "pm")
	if !pm && !strings.EqualFold(s.rest[:2], "am") {
		return true
	}
	if st.hour < 1 || st.hour > 12 {
		return false
	}
	st.hour %= 12
	if pm {
		st.hour += 12
	}
	s.rest = s.rest[2:]
	s.spaces()
	return true
}

// zone takes Z, UTC, GMT or an offset such as +02:00, +0200 or +02.
func (s *scan) zone(st *stamp) bool {
	if s.rest == "" {
		return true
	}
	if strings.EqualFold(s.rest, "z") || strings.EqualFold(s.rest, "utc") || strings.EqualFold(s.rest, "gmt") {
		st.hasZone, s.rest = true, ""
		return true
	}
	sign := s.one("+-")
	if sign == 0 {
		return false
	}
	h, ok := s.figures(2, 2)
	m := 0
	if ok && s.rest != "" {
		s.one(":")
		m, ok = s.figures(2, 2)
	}
	if !ok || h > 15 || m > 59 {
		return false
	}
	st.hasZone, st.offset = true, h*3600+m*60
	if sign == '-' {
		st.offset = -st.offset
	}
	return true
}
