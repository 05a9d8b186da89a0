package nmea

import (
	"math"
	"time"
)

// part is the share of one source in the log.
type part struct {
	drafts   span
	segments span
	dated    bool
	from, to int64 // times of its first and last valid position; of no use where valid is false
	valid    bool
}

// span is a stretch of a list, from first up to but not with end.
type span struct{ first, end int }

// writtenOn is about when this program was written. A log cannot be older than
// 1024 weeks before it without the suspicion that its weeks were miscounted.
const writtenOn = 20782 // 2026-11-25

// setDates turns each source's own count of days into dates.
func (in *intake) setDates() {
	in.repairRollover()
	in.warnOfJumps()
	for i := range in.parts {
		in.spanPart(&in.parts[i])
	}
	in.dateUndated()
	for _, p := range in.parts {
		in.datePart(p)
	}
}

// datePart dates the drafts of a source, and counts where time steps back.
func (in *intake) datePart(p part) {
	segments := in.group.dates.segments
	last := int64(math.MinInt64)
	for i := p.drafts.first; i < p.drafts.end; i++ {
		d := in.group.drafts.at(i)
		d.Nanos += int64(segments[d.segment].offset) * day
		if d.measured() {
			if d.Nanos < last {
				in.log.Stats.Backward++
			}
			last = d.Nanos
		}
	}
}

// reference gives the day known from elsewhere.
func (in *intake) reference() (date int32, told bool) {
	if in.opt.Reference.IsZero() {
		return 0, false
	}
	y, m, d := in.opt.Reference.UTC().Date()
	return daysOf(y, int(m), d), y >= 1980 && y <= 2079
}

// repairRollover adds the weeks that a receiver lost count of, where a date known
// from elsewhere or a later one in the log itself shows them.
func (in *intake) repairRollover() {
	anchor, told := in.reference()
	by := "the day known from elsewhere"
	if !told {
		anchor, by = in.latestSure(), "a date told later in the log"
	}
	var was, is int32
	suspected := false
	for i := range in.group.dates.segments {
		s := &in.group.dates.segments[i]
		if !s.known {
			continue
		}
		if k := rolled(s.date(), anchor); k > 0 || k < 0 && told {
			was = s.date()
			s.offset += k * weekRollover
			is = s.date()
		} else if !told && !suspected && s.sure() && s.date()+weekRollover <= writtenOn {
			in.warn("the receiver tells %s: if that is not the day of the work, its count of weeks has rolled over (1024 weeks), and the day was %s",
				dateText(s.date()), dateText(s.date()+weekRollover))
			suspected = true
		}
	}
	if is != was {
		in.warn("the receiver's count of weeks has rolled over (1024 weeks): %s was read as %s, by %s", dateText(was), dateText(is), by)
	}
}

// date is the day on which a segment begins.
func (s *segment) date() int32 { return s.day + s.offset }

// sure reports whether the segment's date was told together with a fix.
func (s *segment) sure() bool {
	for _, v := range s.votes {
		if v.sure > 0 {
			return true
		}
	}
	return false
}

// latestSure gives the latest date that was told together with a fix; noDate
// where there is none.
func (in *intake) latestSure() int32 {
	latest := noDate
	for _, s := range in.group.dates.segments {
		if s.known && s.sure() {
			latest = max(latest, s.date())
		}
	}
	return latest
}

// rolled gives how many times 1024 weeks must be added to a date to come near a
// reference; 0 where that would not bring it within a month, or it is near already.
func rolled(date, reference int32) int32 {
	if reference == noDate {
		return 0
	}
	k := int32(math.Round(float64(reference-date) / weekRollover))
	if off := reference - date - k*weekRollover; off < -31 || off > 31 {
		return 0
	}
	return k
}

// warnOfJumps says where a source tells dates that its times do not explain.
func (in *intake) warnOfJumps() {
	for i, p := range in.parts {
		own := in.group.dates.segments[p.segments.first:p.segments.end]
		if dates := jumps(own); len(dates) > 1 {
			in.warn("%s: the receiver's date jumps (%s); each stretch is dated by what was told most often with a fix",
				in.log.Files[i].Name, datesText(dates))
		}
	}
}

// jumps gives the dates told in segments, in order, if they contradict each
// other or the times: two within a segment, or the next segment on an earlier
// day, or on one more than a year later.
func jumps(segments []segment) []int32 {
	var told []int32
	odd := false
	last := noDate
	for _, s := range segments {
		for _, v := range s.votes {
			told = append(told, s.day+v.offset)
		}
		odd = odd || len(s.votes) > 1
		if len(s.votes) > 0 {
			odd = odd || last != noDate && (s.offset < last || s.offset > last+366)
			last = s.offset
		}
	}
	if !odd {
		return nil
	}
	return told
}

// spanPart finds from when to when a source has positions.
func (in *intake) spanPart(p *part) {
	for i := p.drafts.first; i < p.drafts.end; i++ {
		d := in.group.drafts.at(i)
		if !d.measured() {
			continue
		}
		t := d.Nanos + int64(in.group.dates.segments[d.segment].offset)*day
		if !p.valid {
			p.from, p.to, p.valid = t, t, true
		}
		p.from, p.to = min(p.from, t), max(p.to, t)
	}
}

// dateUndated dates the sources that tell no date: by the receiver's other
// sources, else by the day known from elsewhere. Of a log cut into files, one
// that starts where another ended after midnight is of the next day.
func (in *intake) dateUndated() {
	base, by := in.undatedDay()
	var open []*part
	for i := range in.parts {
		p := &in.parts[i]
		if p.dated || !p.valid {
			continue
		}
		shift := int64(base)*day - floorDay(p.from)
		in.shift(p, shift)
		open = append(open, p)
		in.log.DateAssumed = true
	}
	if len(open) == 0 {
		return
	}
	in.chain(open)
	if by == "" {
		in.log.DateUnknown = true
		in.warn("the log has times of day but no date, and is read as 1970-01-01; give it together with readings, which have the date")
		return
	}
	in.warn("the log, or a file of it, has no date: the date is taken from %s (%s)", by, dateText(base))
}

// undatedDay gives the day for sources without a date, and what it rests on.
func (in *intake) undatedDay() (date int32, by string) {
	for _, p := range in.parts {
		if p.dated && p.valid {
			return int32(floorDay(p.from) / day), "its other files"
		}
	}
	if date, told := in.reference(); told {
		return date, "the day known from elsewhere"
	}
	return 0, ""
}

// chain moves the undated sources that go on where another ends by a day. Where
// that would move every source, they are a ring, and stay.
func (in *intake) chain(open []*part) {
	moved := map[*part]bool{}
	for again := true; again; {
		again = false
		for _, p := range open {
			if !moved[p] && !in.follows(p, 0) && in.follows(p, day) {
				in.shift(p, day)
				moved[p], again = true, true
			}
		}
	}
	if len(moved) == len(in.parts) {
		for _, p := range open {
			in.shift(p, -day)
		}
	}
}

// follows reports whether p, moved by some days, begins within a minute after
// the end of another source.
func (in *intake) follows(p *part, by int64) bool {
	for i := range in.parts {
		other := &in.parts[i]
		if wait := p.from + by - other.to; other != p && other.valid && wait > 0 && wait <= 60*second {
			return true
		}
	}
	return false
}

// shift moves a source in time by whole days.
func (in *intake) shift(p *part, by int64) {
	p.from += by
	p.to += by
	for i := p.segments.first; i < p.segments.end; i++ {
		in.group.dates.segments[i].offset += int32(by / day)
	}
}

// floorDay gives the midnight before t.
func floorDay(t int64) int64 {
	return t - ((t%day)+day)%day
}

func dateText(days int32) string {
	return time.Unix(int64(days)*86400, 0).UTC().Format("2006-01-02")
}

// datesText lists dates as they come, at most six of them.
func datesText(days []int32) string {
	text := ""
	for i, d := range days {
		switch {
		case i == 6:
			return text + ", …"
		case i > 0:
			text += ", "
		}
		text += dateText(d)
	}
	return text
}
