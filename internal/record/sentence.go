package record

import (
	"bytes"
	"time"
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
	date   func(fields [][]byte) (time.Time, bool)
}

var kinds = map[string]kind{
	"GGA": {time: 1, status: 6, none: "0"},
	"GNS": {time: 1, status: 6, none: "N"},
	"GLL": {time: 5, status: 6, none: "V"},
	"RMC": {time: 1, status: 2, none: "V", date: dateRMC},
	"GST": {time: 1},
	"ZDA": {time: 1, date: dateZDA},
}

// hear reads the first sentence with a checksum in a line; prefixes are stepped
// over.
func hear(line []byte) told {
	var t told
	for rest := line; ; {
		i := bytes.IndexByte(rest, '$')
		if i < 0 {
			return t
		}
		rest = rest[i+1:]
		star := bytes.IndexByte(rest, '*')
		if star < 0 || star+2 >= len(rest) {
			return t
		}
		if next := bytes.IndexByte(rest[:star], '$'); next >= 0 {
			continue // the end of this one was lost
		}
		sum, ok := hex(rest[star+1], rest[star+2])
		if !ok {
			continue // a '*' in some text
		}
		if checksum(rest[:star]) != sum {
			t.wrong = true
			continue
		}
		t.wrong, t.right = false, true
		t.read(bytes.Split(rest[:star], []byte{','}))
		return t
	}
}

func (t *told) read(fields [][]byte) {
	addr := fields[0]
	if len(addr) != 5 {
		return
	}
	k, ok := kinds[string(addr[2:])]
	if !ok || k.time >= len(fields) {
		return
	}
	t.tod, t.timed = timeOfDay(fields[k.time])
	if k.status > 0 && k.status < len(fields) {
		status := fields[k.status]
		t.judged = true
		t.fix = len(status) > 0 && !allNone(status, k.none[0])
	}
	if k.date != nil && t.timed {
		t.day, t.dated = k.date(fields)
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

func dateRMC(fields [][]byte) (time.Time, bool) {
	if len(fields) <= 9 || len(fields[9]) != 6 {
		return time.Time{}, false
	}
	f := fields[9]
	d, okD := two(f[0:])
	m, okM := two(f[2:])
	y, okY := two(f[4:])
	if y < 80 {
		y += 100 // satellite time begins in 1980
	}
	return day(1900+y, m, d, okD && okM && okY)
}

func dateZDA(fields [][]byte) (time.Time, bool) {
	if len(fields) <= 4 || len(fields[2]) != 2 || len(fields[3]) != 2 || len(fields[4]) != 4 {
		return time.Time{}, false
	}
	d, okD := two(fields[2])
	m, okM := two(fields[3])
	c, okC := two(fields[4])
	y, okY := two(fields[4][2:])
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

func checksum(b []byte) (x byte) {
	for _, c := range b {
		x ^= c
	}
	return x
}

// hex reads two hexadecimal digits.
func hex(hi, lo byte) (byte, bool) {
	h, okH := digit(hi)
	l, okL := digit(lo)
	return h<<4 | l, okH && okL
}

func digit(c byte) (byte, bool) {
	switch {
	case c-'0' < 10:
		return c - '0', true
	case c|0x20-'a' < 6:
		return c | 0x20 - 'a' + 10, true
	}
	return 0, false
}
