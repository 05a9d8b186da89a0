package nmea

import (
	"cmp"
	"math"
	"slices"
)

// draft is an epoch in the making.
type draft struct {
	Epoch
	seen    uint16 // kinds heard, a bit for each
	fixed   uint16 // kinds that gave a valid position
	rank    uint8  // how far the position is trusted; 0 for none
	digits  uint8  // decimals of the minutes in which the position was written
	talker  [2]byte
	gst     [2]byte // talker of the GST taken
	segment int32
}

// newDraft gives a draft in which nothing is told but its time.
func newDraft(t int64) draft {
	return draft{Epoch: Epoch{Nanos: t, Lat: math.NaN(), Lon: math.NaN(), Alt: math.NaN(), Sep: nan,
		SigmaN: nan, SigmaE: nan, SigmaU: nan, HDOP: nan, VDOP: nan, Age: nan, Speed: nan, Course: nan, Heading: nan}}
}

var nan = float32(math.NaN())

// positions is the set of the kinds that can give a position.
const positions = 1<<kindGGA | 1<<kindGNS | 1<<kindRMC | 1<<kindGLL

// valid reports whether a draft has a position to be used. Where GGA or GNS
// speaks, it decides: RMC and GLL know less about the fix.
func (d *draft) valid() bool {
	const knowing = 1<<kindGGA | 1<<kindGNS
	if d.seen&knowing != 0 {
		return d.fixed&knowing != 0
	}
	return d.fixed != 0
}

// measured reports whether a draft has a position that a receiver measured: one
// typed in by hand or made by a simulator is none.
func (d *draft) measured() bool {
	return d.valid() && d.Quality != QualityManual && d.Quality != QualitySimulator
}

// drafts is a list that grows without moving what it holds.
type drafts struct {
	blocks [][]draft
	n      int
}

const draftBlock = 1024

func (l *drafts) len() int        { return l.n }
func (l *drafts) at(i int) *draft { return &l.blocks[i/draftBlock][i%draftBlock] }

func (l *drafts) add(d draft) {
	if l.n%draftBlock == 0 {
		l.blocks = append(l.blocks, make([]draft, 0, draftBlock))
	}
	last := &l.blocks[len(l.blocks)-1]
	*last = append(*last, d)
	l.n++
}

// byTime gives the drafts' places in order of their times, those of one time as
// they came.
func (l *drafts) byTime() []int32 {
	order := make([]int32, l.n)
	sorted := true
	for i := range order {
		order[i] = int32(i)
		sorted = sorted && (i == 0 || l.at(i-1).Nanos <= l.at(i).Nanos)
	}
	if !sorted {
		slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(l.at(int(a)).Nanos, l.at(int(b)).Nanos) })
	}
	return order
}
