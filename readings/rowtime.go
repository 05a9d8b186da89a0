package readings

import (
	"math"
	"strconv"
	"strings"
	"time"

	"tracemap/remarks"
)

// time reads a row's time. The reason is "" for a good time and for none; column
// and found are then of no meaning.
func (rd *rowReader) time(r *Reading, cells []string, line int) (column, found, reason string) {
	p := rd.plan
	if p.time < 0 {
		r.Flags |= remarks.TimeMissing
		return "", "", ""
	}
	clock := bareCell(cells[p.time])
	date := ""
	if p.date >= 0 {
		date = bareCell(cells[p.date])
	}
	if rd.mapping.isBlank(clock) {
		r.Flags |= remarks.TimeMissing
		return "", "", ""
	}
	column, found = p.headers[p.time], clock
	tp := rd.times
	if tp == nil {
		tp = &timePlan{last: -1}
	}
	if rd.mapping.format == nil && tp.kind != stamps {
		week := ""
		if p.week >= 0 {
			week = bareCell(cells[p.week])
		}
		t, reason := rd.count(tp, clock, date, week, line)
		if reason != "" {
			return column, found, reason
		}
		r.Time = t
		return "", "", ""
	}
	var st stamp
	switch f := rd.mapping.format; {
	case f != nil && p.date >= 0:
		st, reason = f.parse(date + " " + clock)
		found = date + " " + clock
	case f != nil:
		st, reason = f.parse(clock)
	default:
		var badDate bool
		st, reason, badDate = rd.stamp(tp, date, clock, p.date >= 0)
		if badDate {
			column, found = p.headers[p.date], date
		}
	}
	if reason != "" {
		return column, found, reason
	}
	r.Time = rd.utc(&st, line, found)
	return "", "", ""
}

// stamp reads a time of text, with its date in a cell of its own or not.
func (rd *rowReader) stamp(tp *timePlan, date, clock string, apart bool) (st stamp, reason string, badDate bool) {
	if !apart {
		if st, reason = parseStamp(clock); reason == "" {
			return st, "", false
		}
	}
	l, why := parseLoose(clock, tp.order)
	switch {
	case why != "" && !l.open || l.open && tp.order == orderUnknown && why != "":
		if reason == "" || why == dayOrMonth || why == noSeconds || why == noSuchTime {
			reason = why
		}
		return st, reason, false
	case !l.hasClock:
		return st, blankClock, false
	case l.hasDate:
		return l.stamp, "", false
	case apart:
		if isBlank(date) {
			return st, blankDate, false
		}
		d, why := parseLoose(date, tp.order)
		if why == noSeconds || d.hasClock && (d.hour != 0 || d.min != 0 || d.sec != 0) {
			// A spreadsheet writes a date column with midnight behind it, and no other time.
			why = notDate
			if d.hasDate && d.hour == 0 && d.min == 0 {
				why = ""
			}
		}
		if v, err := strconv.ParseFloat(date, 64); why != "" && err == nil && v >= 36526 && v < 73051 && v == math.Trunc(v) {
			t := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(v)) // a spreadsheet's day number
			d, why = loose{}, ""
			d.year, d.month, d.day, d.hasDate = t.Year(), int(t.Month()), t.Day(), true
		}
		if why != "" {
			return st, why, true
		}
		if !d.hasDate {
			return st, notDate, true
		}
		l.year, l.month, l.day = d.year, d.month, d.day
		if why := l.valid(); !why {
			return st, noSuchTime, true
		}
		return l.stamp, "", false
	case tp.day.IsZero():
		return st, blankDate, false
	}
	// Times of day: past midnight the date goes on.
	seconds := l.hour*3600 + l.min*60 + l.sec
	if tp.last >= 0 && seconds < tp.last-12*3600 {
		tp.day = tp.day.AddDate(0, 0, 1)
	}
	tp.last = seconds
	l.year, l.month, l.day = tp.day.Year(), int(tp.day.Month()), tp.day.Day()
	return l.stamp, "", false
}

// gpsEpoch is where weeks of GPS time begin, and leapSince2017 by how much it is
// ahead of UTC since 2017-01-01 (IERS Bulletin C 52); earlier logs are set aside.
var (
	gpsEpoch      = time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC)
	leapSince2017 = 18 * time.Second
)

// count reads a time that is a number.
func (rd *rowReader) count(tp *timePlan, clock, date, week string, line int) (time.Time, string) {
	v, err := strconv.ParseFloat(strings.Replace(clock, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 1e15 {
		return time.Time{}, notTime
	}
	switch tp.kind {
	case unixSeconds, unixMillis:
		if tp.kind == unixMillis {
			v /= 1000
		}
		whole, part := math.Modf(v)
		t := time.Unix(int64(whole), int64(math.Round(part*1e6))*1000).UTC()
		if t.Before(earliestCount) || t.After(latestCount) {
			return t, noSuchTime
		}
		return t, ""
	case elapsedSeconds:
		return tp.start.Add(time.Duration(math.Round(v*1000)) * time.Millisecond), ""
	case gpsWeeks:
		w, err := strconv.Atoi(week)
		t := gpsEpoch.AddDate(0, 0, 7*w).Add(time.Duration(math.Round(v*1000))*time.Millisecond - leapSince2017)
		if err != nil || v < 0 || v > 7*86400 || t.Year() < 2017 || t.After(latestCount) {
			return t, "no GPS week and seconds since 2017"
		}
		return t, ""
	}
	day := tp.ref.AddDate(0, 0, int(math.Floor(v)))
	if v >= 0 && v < 1 {
		if day = tp.day; date != "" {
			d, why := parseLoose(date, tp.order)
			n, err := strconv.ParseFloat(date, 64)
			switch {
			case why == "" && d.hasDate:
				day = time.Date(d.year, time.Month(d.month), d.day, 0, 0, 0, 0, time.UTC)
			case err == nil && n > 36525 && n < 73051:
				day = tp.ref.AddDate(0, 0, int(n))
			default:
				return day, notDate
			}
		}
	} else if v < 36526 || v >= 73051 {
		return day, noSuchTime
	}
	wall := day.Add(time.Duration(math.Round((v-math.Floor(v))*86400e3)) * time.Millisecond)
	st := stamp{year: wall.Year(), month: int(wall.Month()), day: wall.Day(), hour: wall.Hour(), min: wall.Minute(), sec: wall.Second(), nano: wall.Nanosecond()}
	return rd.utc(&st, line, clock), ""
}

// utc applies the stamp's offset or the zone.
func (rd *rowReader) utc(st *stamp, line int, text string) time.Time {
	wall := st.wall()
	if st.hasZone {
		return wall.Add(-time.Duration(st.offset) * time.Second)
	}
	if rd.assumed {
		rd.noOffset++
		return wall
	}
	t, shift := rd.zone.utc(wall)
	if shift == livedTwice {
		// Rows are written one after the other: where a time of the first pass would
		// go back, it is one of the second.
		if second := rd.zone.secondPass(wall); t.Before(rd.latest) && !second.Before(rd.latest) {
			t = second
		}
	}
	rd.latest = t
	if shift != plainTime {
		if c := &rd.folds[shift]; c.n == 0 {
			*c = foldCount{1, line, text}
		} else {
			c.n++
		}
	}
	return t
}
