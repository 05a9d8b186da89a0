package readings

import (
	"strings"
	"time"

	"tracemap/flags"
)

// time reads a row's time. The reason is "" for a good time and for none; column
// and found are then of no meaning.
func (rd *rowReader) time(r *Reading, cells []string, line int) (column, found, reason string) {
	p := rd.plan
	clock := strings.TrimSpace(cells[p.time])
	date := ""
	if p.date >= 0 {
		date = strings.TrimSpace(cells[p.date])
	}
	if rd.mapping.isBlank(clock) {
		r.Flags |= flags.TimeMissing
		return "", "", ""
	}
	column, found = p.headers[p.time], clock
	var st stamp
	switch f := rd.mapping.format; {
	case f != nil && p.date >= 0:
		st, reason = f.parse(date + " " + clock)
		found = date + " " + clock
	case f != nil:
		st, reason = f.parse(clock)
	case p.date >= 0 && isBlank(date) && !startsWithYear(clock):
		reason = blankDate
	case p.date >= 0 && !startsWithYear(clock):
		var badDate bool
		if st, reason, badDate = parseParts(date, clock); badDate {
			column, found = p.headers[p.date], date
		}
	default:
		st, reason = parseStamp(clock)
	}
	if reason != "" {
		return column, found, reason
	}
	r.Time = rd.utc(&st, line, found)
	return "", "", ""
}

// startsWithYear tells a whole stamp from a time of day.
func startsWithYear(s string) bool {
	sc := scan{s}
	_, ok := sc.figures(4, 4)
	return ok
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
	t, fold := rd.zone.utc(wall)
	if fold == livedTwice {
		// Rows are written one after the other: where a time of the first pass would
		// go back, it is one of the second.
		if second := rd.zone.secondPass(wall); t.Before(rd.latest) && !second.Before(rd.latest) {
			t = second
		}
	}
	rd.latest = t
	if fold != plainTime {
		if c := &rd.folds[fold]; c.n == 0 {
			*c = foldCount{1, line, text}
		} else {
			c.n++
		}
	}
	return t
}
