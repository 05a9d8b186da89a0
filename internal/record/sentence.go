package record

import (
	"bytes"
	"time"

	"tracemap/nmea"
)

// told is what the recorder needs to know of one line: whether a sentence with a
// right checksum is in it, and what time it tells. All else is read by package
// nmea.
type told struct {
	right bool // a sentence with a right checksum
	wrong bool // a sentence with a wrong one

	timed bool          // tod is there
	tod   time.Duration // time of day, UTC
	dated bool          // day is there, and the receiver vouches for it
	day   time.Time     // midnight that the day begins with

	judged bool // the sentence says whether there is a fix
	fix    bool
}

// A kind is a sentence that tells the time, with its fields numbered from 1 as in
// the standard (IEC 61162-1).
type kind struct {
	time   int
	status int    // field that tells the fix
	none   string // what it begins with where there is no fix
	date   func(field func(int) []byte) (time.Time, bool)
}

var kinds = map[string]kind{
	"GGA": {time: 1, status: 6, none: "0"},
	"GNS": {time: 1, status: 6, none: "N"},
	"GLL": {time: 5, status: 6, none: "V"},
	"RMC": {time: 1, status: 2, none: "V", date: dateRMC},
	"GST": {time: 1},
	"ZDA": {time: 1, date: dateZDA},
}

// hear reads the first sentence with a right checksum in a line, framed as package
// nmea frames a log.
func hear(line []byte) told {
	var t told
	for s := range nmea.Sentences(line) {
		switch s.Checksum {
		case nmea.ChecksumWrong:
			t.wrong = true
		case nmea.ChecksumRight:
			t.wrong, t.right = false, true
			t.read(s)
			return t
		}
	}
	return t
}

func (t *told) read(s nmea.Sentence) {
	if len(s.Address) != 5 {
		return
	}
	k, ok := kinds[string(s.Address[2:])]
	fields := bytes.Split(s.Fields, []byte{','})
	if !ok || k.time > len(fields) {
		return
	}
	field := func(n int) []byte { // from 1; empty where there are fewer
		if n > len(fields) {
			return nil
		}
		return fields[n-1]
	}
	t.tod, t.timed = timeOfDay(field(k.time))
	if k.status > 0 && k.status <= len(fields) {
		status := field(k.status)
		t.judged = true
		t.fix = len(status) > 0 && !allNone(status, k.none[0])
	}
	if k.date != nil && t.timed {
		t.day, t.dated = k.date(field)
		// A receiver without a fix may tell any date.
		if t.judged && !t.fix {
			t.dated = false
		}
	}
}

// allNone reports whether a status says no fix; GNS has a letter a system.
func allNone(status []byte, none byte) bool {
	for _, c := range status {
		if c != none {
			return false
		}
	}
	return true
}

// timeOfDay reads hhmmss or hhmmss.sss. A leap second is the midnight that
// follows.
func timeOfDay(f []byte) (time.Duration, bool) {
	if len(f) < 6 {
		return 0, false
	}
	h, okH := two(f[0:])
	m, okM := two(f[2:])
	s, okS := two(f[4:])
	if !okH || !okM || !okS || h > 23 || m > 59 || s > 60 {
		return 0, false
	}
	d := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
	if len(f) == 6 {
		return d, true
	}
	if f[6] != '.' || len(f) > 16 {
		return 0, false
	}
	unit := time.Second
	for _, c := range f[7:] {
		if c < '0' || c > '9' {
			return 0, false
		}
		unit /= 10
		d += time.Duration(c-'0') * unit
	}
	return d, true
}

func dateRMC(field func(int) []byte) (time.Time, bool) {
	f := field(9)
	if len(f) != 6 {
		return time.Time{}, false
	}
	d, okD := two(f[0:])
	m, okM := two(f[2:])
	y, okY := two(f[4:])
	if y < 80 {
		y += 100 // satellite time begins in 1980
	}
	return day(1900+y, m, d, okD && okM && okY)
}

func dateZDA(field func(int) []byte) (time.Time, bool) {
	if len(field(2)) != 2 || len(field(3)) != 2 || len(field(4)) != 4 {
		return time.Time{}, false
	}
	d, okD := two(field(2))
	m, okM := two(field(3))
	c, okC := two(field(4))
	y, okY := two(field(4)[2:])
	return day(100*c+y, m, d, okD && okM && okC && okY)
}

// day gives a day that the calendar has.
func day(y, m, d int, ok bool) (time.Time, bool) {
	t := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	return t, ok && t.Day() == d && int(t.Month()) == m && y >= 1980
}

// two reads two digits.
func two(b []byte) (int, bool) {
	if len(b) < 2 || b[0]-'0' > 9 || b[1]-'0' > 9 {
		return 0, false
	}
	return int(b[0]-'0')*10 + int(b[1]-'0'), true
}
