package nmea

// weekRollover is the length, in days, of the count of weeks in the GPS
// navigation message: 1024 weeks. A receiver that does not know in which of them
// it is says a date that is early by a multiple of it.
const weekRollover = 7168

// vote is a date that sentences of a segment told, as the number of days from
// the segment's own count to 1970-01-01.
type vote struct {
	offset int32
	sure   int // told together with a valid fix
	all    int
}

// segment is a stretch of a source in which time runs on without a break: one
// offset holds for all of it.
type segment struct {
	votes  []vote
	day    int32 // where it begins, in the source's count of days
	offset int32
	known  bool // offset was told in this segment or a neighbour
}

// dater keeps the count of days of a source: from its first time on, one more
// at each midnight, whatever date the sentences tell. The dates told are votes
// on where that count begins.
type dater struct {
	segments []segment
	first    int   // where the source's segments begin
	day      int64 // of the last time, in the source's count
	clock    int64 // of the last time
	last     int64 // the last time, in nanoseconds of the source's count
	begun    bool
}

func (d *dater) startSource() {
	*d = dater{segments: d.segments, first: len(d.segments)}
}

// place gives a record's time in the source's count, and takes its date as a vote.
//
// Time that falls by more than 12 hours has passed midnight; time that rises by
// more than 23 has gone back over it, as after a reconnection that sends some
// seconds again. A step back by more than a minute, or forward by more than an
// hour, ends the segment: the date may have changed unseen.
func (d *dater) place(r *record) int64 {
	const hour = 3600 * second
	clock := min(r.clock, day-1) // in 23:59:60 it is still the old day
	if d.begun {
		switch step := clock - d.clock; {
		case step < -12*hour:
			d.day++
		case step > 23*hour:
			d.day--
		}
	}
	t := d.day*day + r.clock
	if step := t - d.last; !d.begun || step < -60*second || step > hour {
		d.segments = append(d.segments, segment{day: int32(d.day)})
	}
	d.begun, d.clock, d.last = true, clock, t
	if r.date != noDate {
		d.vote(r.date-int32(d.day), r.sure)
	}
	return t
}

func (d *dater) current() int32 { return int32(len(d.segments) - 1) }

func (d *dater) vote(offset int32, sure bool) {
	s := &d.segments[d.current()]
	for i := range s.votes {
		if v := &s.votes[i]; v.offset == offset {
			v.add(sure)
			return
		}
	}
	v := vote{offset: offset}
	v.add(sure)
	s.votes = append(s.votes, v)
}

func (v *vote) add(sure bool) {
	v.all++
	if sure {
		v.sure++
	}
}

// winner gives the offset of a segment: that told most often with a fix, and
// without one most often at all; of equals the one told later. A receiver that
// learns the week while it runs tells two dates a multiple of 1024 weeks apart:
// then the later is the one it learnt.
func (s *segment) winner() (int32, bool) {
	best := vote{}
	for i, v := range s.votes {
		switch apart := v.offset - best.offset; {
		case i == 0:
			best = v
		case (v.sure > 0) == (best.sure > 0) && apart%weekRollover == 0:
			if apart > 0 {
				best = v
			}
		case v.sure > best.sure || v.sure == best.sure && v.all >= best.all:
			best = v
		}
	}
	return best.offset, len(s.votes) > 0
}

// endSource settles the offsets of the source's segments. A
// segment in which no date was told takes that of the one before it, the first
// ones that of the one after. It reports whether there was any date at all.
func (d *dater) endSource() bool {
	own := d.segments[d.first:]
	var offset int32
	known := false
	for i := range own {
		if o, ok := own[i].winner(); ok {
			offset, known = o, true
		}
		own[i].offset, own[i].known = offset, known
	}
	for i := len(own) - 1; i >= 0 && known; i-- {
		if own[i].known {
			offset = own[i].offset
		} else {
			own[i].offset, own[i].known = offset, true
		}
	}
	return known
}
