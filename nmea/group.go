package nmea

import "math"

// sameInstant is how far apart, in nanoseconds, the times of two sentences of one
// epoch may be: some receivers take the time anew for each, and round it.
const sameInstant = 10e6

// window is how many epochs back a sentence may still find its own. Sentences
// that come later than that are joined when the whole log has been read.
const window = 8

// told is what is known of an epoch beside its values: a set of kinds is a bit
// for each.
type told struct {
	seen    uint16 // kinds heard
	fixed   uint16 // kinds that gave a valid position
	rank    uint8  // how far the position is trusted; 0 for none
	shape   uint8  // how the position was written
	talker  [2]byte
	segment int32
}

// positions is the set of the kinds that can give a position.
const positions = 1<<kindGGA | 1<<kindGNS | 1<<kindRMC | 1<<kindGLL

// grouper gathers the records of a log into epochs, by time and not by order.
// Until a source is dated, an epoch's Nanos count from an unknown midnight.
type grouper struct {
	epochs []Epoch
	told   []told
	dates  dater

	file     uint16
	first    int  // where the source's epochs begin
	touched  int  // the epoch last spoken of; -1 for none yet
	copies   bool // some time of the source has more than one epoch
	previous int64

	untimed  [kindCount]int // sentences of a receiver that has neither fix nor time
	backward int
	odd      int // GGA with quality 9
}

func (g *grouper) startSource(file int) {
	g.file = uint16(file)
	g.first = len(g.epochs)
	g.touched = -1
	g.copies = false
	g.previous = math.MinInt64
	g.dates.startSource()
}

// add takes one record in.
func (g *grouper) add(r *record) {
	switch {
	case r.kind == kindGSA || r.kind == kindVTG: // they tell no time
		if g.touched >= 0 && r.fix {
			g.fillUntimed(&g.epochs[g.touched], r)
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
	oldest := max(g.first, len(g.epochs)-window)
	for i := len(g.epochs) - 1; i >= oldest; i-- {
		if g.epochs[i].Nanos != t {
			continue
		}
		heard = true
		free := g.told[i].seen&bit == 0
		if bit&positions != 0 {
			free = g.told[i].fixed&bit == 0
		}
		if !free {
			continue
		}
		if !g.copies {
			return i
		}
		s := 1
		if i == g.touched {
			s++
		}
		if g.told[i].talker == r.talker {
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

// near gives an epoch whose time is nearly t and in which the kind has not been
// heard; -1 where there is none.
func (g *grouper) near(t int64, bit uint16, oldest int) int {
	for i := len(g.epochs) - 1; i >= oldest; i-- {
		d := g.epochs[i].Nanos - t
		if -sameInstant <= d && d <= sameInstant && g.told[i].seen&bit == 0 {
			return i
		}
	}
	return -1
}

// open begins a new epoch.
func (g *grouper) open(t int64, r *record) int {
	if t < g.previous && 1<<r.kind&positions != 0 {
		g.backward++
	}
	if 1<<r.kind&positions != 0 {
		g.previous = t
	}
	g.epochs = append(g.epochs, Epoch{Nanos: t, File: g.file, Line: r.line, Quality: QualityNone,
		Lat: math.NaN(), Lon: math.NaN(), Alt: math.NaN(), Sep: nan, SigmaN: nan, SigmaE: nan, SigmaU: nan,
		HDOP: nan, VDOP: nan, Age: nan, Speed: nan, Course: nan})
	g.told = append(g.told, told{segment: g.dates.current(), talker: r.talker})
	return len(g.epochs) - 1
}

var nan = float32(math.NaN())

// fill writes what a record says into epoch i.
func (g *grouper) fill(i int, t int64, r *record) {
	e, m := &g.epochs[i], &g.told[i]
	m.seen |= 1 << r.kind
	switch r.kind {
	case kindGST:
		if r.fix {
			e.SigmaN, e.SigmaE, e.SigmaU, e.CovNE = r.sigmaN, r.sigmaE, r.sigmaU, r.covNE
		}
		return
	case kindZDA:
		return
	}
	if !r.fix || !r.pos {
		return
	}
	m.fixed |= 1 << r.kind
	if rank := r.rank(); rank > m.rank {
		m.rank, m.talker, m.shape = rank, r.talker, r.shape
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
		g.fillHeight(e, r)
	case kindRMC:
		fillIn(&e.Speed, r.speed)
		fillIn(&e.Course, r.course)
	}
}

// rank orders the positions of one epoch: a checksum counts for more than the
// kind of sentence.
func (r *record) rank() uint8 {
	rank := uint8(kindGLL-r.kind) + 1
	if r.checked {
		rank += 8
	}
	return rank
}

// fillHeight takes what GGA and GNS have beside the position. GGA is heard
// first where both tell, but its count of satellites often stops at 12.
func (g *grouper) fillHeight(e *Epoch, r *record) {
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

// fillUntimed takes GSA and VTG, which belong to the epoch spoken of last. Of
// several GSA the smallest VDOP counts: no system alone is better than all.
func (g *grouper) fillUntimed(e *Epoch, r *record) {
	if r.kind == kindVTG {
		fillIn(&e.Speed, r.speed)
		fillIn(&e.Course, r.course)
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
