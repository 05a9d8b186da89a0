package nmea

import "math"

// sameInstant is how far apart, in nanoseconds, the times of two sentences of one
// epoch may be: some receivers take the time anew for each, and round it.
const sameInstant = 10e6

// window is how many epochs back a sentence may still find its own. Sentences
// that come later than that are joined when the whole log has been read.
const window = 8

// grouper gathers the records of a log into epochs, by time and not by order.
// Until a source is dated, an epoch's Nanos count from an unknown midnight.
type grouper struct {
	drafts drafts
	dates  dater

	file    uint16
	first   int  // where the source's epochs begin
	touched int  // the epoch last spoken of; -1 for none yet
	copies  bool // some time of the source has more than one epoch

	untimed [kindCount]int // sentences of a receiver that has neither fix nor time
	odd     int            // GGA with quality 9
	signed  int            // places with a sign
}

func (g *grouper) startSource(file int) {
	g.file = uint16(file)
	g.first = g.drafts.len()
	g.touched = -1
	g.copies = false
	g.dates.startSource()
}

// add takes one record in.
func (g *grouper) add(r *record) {
	switch {
	case r.kind == kindGSA || r.kind == kindVTG || r.kind == kindHeading: // they tell no time
		if g.touched >= 0 && r.fix {
			fillUntimed(&g.drafts.at(g.touched).Epoch, r)
		}
		return
	case r.clock == noTime:
		if !r.fix {
			g.untimed[r.kind]++
		}
		return
	}
	if r.oddGGA {
		g.odd++
	}
	if r.signed {
		g.signed++
	}
	t := g.dates.place(r)
	i := g.find(t, r)
	if i < 0 {
		return
	}
	g.touched = i
	g.fill(i, t, r)
}

// find gives the epoch that a record of time t belongs to, a new one where there
// is none; -1 for a record that adds nothing.
func (g *grouper) find(t int64, r *record) int {
	best, score, heard := -1, 0, false
	bit := uint16(1) << r.kind
	oldest := max(g.first, g.drafts.len()-window)
	for i := g.drafts.len() - 1; i >= oldest; i-- {
		d := g.drafts.at(i)
		if d.Nanos != t {
			continue
		}
		heard = true
		if !d.free(r) {
			continue
		}
		if !g.copies {
			return i
		}
		s := 1
		if i == g.touched {
			s++
		}
		if d.talker == r.talker {
			s += 2
		}
		if s > score {
			best, score = i, s
		}
	}
	valid := bit&positions != 0 && r.fix && r.pos
	switch {
	case best >= 0:
		return best
	case heard && !valid:
		return -1
	case heard:
		g.copies = true
	default:
		if i := g.near(t, bit, oldest); i >= 0 {
			return i
		}
	}
	return g.open(t, r)
}

// free reports whether a record can still be taken in: its kind has not been
// heard, or only without a fix. Of several GST, one a system, that of the talker of
// the position counts.
func (d *draft) free(r *record) bool {
	bit := uint16(1) << r.kind
	if bit&positions != 0 {
		return d.fixed&bit == 0
	}
	return d.seen&bit == 0 || r.kind == kindGST && r.talker == d.talker && d.gst != d.talker
}

// near gives an epoch whose time is nearly t and in which the kind has not been
// heard; -1 where there is none.
func (g *grouper) near(t int64, bit uint16, oldest int) int {
	for i := g.drafts.len() - 1; i >= oldest; i-- {
		d := g.drafts.at(i)
		if off := d.Nanos - t; -sameInstant <= off && off <= sameInstant && d.seen&bit == 0 {
			return i
		}
	}
	return -1
}

// open begins a new epoch.
func (g *grouper) open(t int64, r *record) int {
	d := newDraft(t)
	d.File, d.Line, d.segment, d.talker = g.file, r.line, g.dates.current(), r.talker
	g.drafts.add(d)
	return g.drafts.len() - 1
}

// fill writes what a record says into epoch i.
func (g *grouper) fill(i int, t int64, r *record) {
	e := g.drafts.at(i)
	e.seen |= 1 << r.kind
	switch r.kind {
	case kindGST:
		if r.fix {
			e.SigmaN, e.SigmaE, e.SigmaU, e.CovNE, e.gst = r.sigmaN, r.sigmaE, r.sigmaU, r.covNE, r.talker
		}
		return
	case kindZDA:
		return
	}
	if !r.fix || !r.pos {
		return
	}
	e.fixed |= 1 << r.kind
	if rank := r.rank(); rank > e.rank {
		e.rank, e.talker, e.digits = rank, r.talker, r.digits
		quality := r.quality
		if quality == QualityUnknown && e.Quality != QualityNone {
			quality = e.Quality
		}
		e.Nanos, e.Lat, e.Lon, e.Quality, e.Line = t, r.lat, r.lon, quality, r.line
	} else if e.Quality == QualityUnknown {
		e.Quality = r.quality
	}
	switch r.kind {
	case kindGGA, kindGNS:
		fillHeight(&e.Epoch, r)
	case kindRMC:
		fillIn(&e.Speed, r.speed)
		fillIn(&e.Course, r.course)
	}
}

// checkedRank is the least rank of a position that a checksum vouches for.
const checkedRank = 9

// unsignedRank is added for a place that has its letter and no sign.
const unsignedRank = 4

// rank orders the positions of one epoch: a checksum counts for more than the
// kind of sentence, and so does a place without a sign beside its letter.
func (r *record) rank() uint8 {
	rank := uint8(kindGLL-r.kind) + 1
	if r.checked {
		rank += checkedRank
	}
	if !r.signed {
		rank += unsignedRank
	}
	return rank
}

// fillHeight takes what GGA and GNS have beside the position. GGA is heard
// first where both tell, but its count of satellites often stops at 12.
func fillHeight(e *Epoch, r *record) {
	if r.kind == kindGGA || math.IsNaN(e.Alt) {
		e.Alt, e.Sep = r.alt, r.sep
	}
	if r.kind == kindGGA && !isNaN(r.hdop) {
		e.HDOP = r.hdop
	}
	fillIn(&e.HDOP, r.hdop)
	fillIn(&e.Age, r.age)
	e.Sats = max(e.Sats, r.sats)
}

// fillUntimed takes GSA, VTG and headings, which belong to the epoch spoken of
// last. Of several GSA the smallest VDOP counts: no system alone is better than all.
func fillUntimed(e *Epoch, r *record) {
	switch r.kind {
	case kindVTG:
		fillIn(&e.Speed, r.speed)
		fillIn(&e.Course, r.course)
		return
	case kindHeading:
		fillIn(&e.Heading, r.course)
		return
	}
	fillIn(&e.HDOP, r.hdop)
	if isNaN(e.VDOP) || r.vdop < e.VDOP {
		e.VDOP = r.vdop
	}
}

// fillIn sets a value that is not yet known.
func fillIn(v *float32, to float32) {
	if isNaN(*v) {
		*v = to
	}
}

func isNaN(v float32) bool { return v != v }
