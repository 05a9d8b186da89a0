package nmea

import (
	"math"
	"sort"
)

// byTime sorts epochs and what is known of them.
type byTime struct {
	epochs []Epoch
	told   []told
}

func (b byTime) Len() int           { return len(b.epochs) }
func (b byTime) Less(i, j int) bool { return b.epochs[i].Nanos < b.epochs[j].Nanos }
func (b byTime) Swap(i, j int) {
	b.epochs[i], b.epochs[j] = b.epochs[j], b.epochs[i]
	b.told[i], b.told[j] = b.told[j], b.told[i]
}

// merge sorts the epochs, joins those of one time, keeps those with a valid
// position and counts the rest.
func (g *grouper) merge(stats *Stats) []Epoch {
	all := byTime{g.epochs, g.told}
	if !sort.IsSorted(all) {
		sort.Stable(all)
	}
	kept := g.epochs[:0]
	for i := 0; i < len(g.epochs); {
		e, m := g.epochs[i], g.told[i]
		for i++; i < len(g.epochs) && g.epochs[i].Nanos == e.Nanos; i++ {
			if join(&e, &m, &g.epochs[i], &g.told[i]) {
				stats.Repeated++
			}
		}
		if m.seen&positions == 0 {
			continue // a date or an error estimate without a position
		}
		if !m.valid() {
			stats.Fix[QualityNone.String()]++
			continue
		}
		stats.Fix[e.Quality.String()]++
		if e.Quality != QualityManual && e.Quality != QualitySimulator {
			kept = append(kept, e)
		}
	}
	return kept
}

// valid reports whether an epoch has a position to be used. Where GGA or GNS
// speaks, it decides: RMC and GLL know less about the fix.
func (m *told) valid() bool {
	const knowing = 1<<kindGGA | 1<<kindGNS
	if m.seen&knowing != 0 {
		return m.fixed&knowing != 0
	}
	return m.fixed != 0
}

// join adds epoch b, which has the same time, to a. It reports whether b was a
// repetition: a position from a kind that had given one already, or from far away.
// Then the first counts, unless only the second had a right checksum.
func join(a *Epoch, am *told, b *Epoch, bm *told) bool {
	if am.fixed&bm.fixed != 0 || am.fixed != 0 && bm.fixed != 0 && apart(a, b) {
		if bm.rank >= 8 && am.rank < 8 {
			*a, *am = *b, *bm
		}
		return true
	}
	am.seen |= bm.seen
	am.fixed |= bm.fixed
	if bm.rank > am.rank {
		*a, *b = *b, *a
		am.rank, am.talker, am.shape = bm.rank, bm.talker, bm.shape
	}
	if a.Quality == QualityUnknown && b.Quality != QualityNone {
		a.Quality = b.Quality
	}
	if math.IsNaN(a.Alt) {
		a.Alt, a.Sep = b.Alt, b.Sep
	}
	if !a.HasGST() {
		a.SigmaN, a.SigmaE, a.SigmaU, a.CovNE = b.SigmaN, b.SigmaE, b.SigmaU, b.CovNE
	}
	fillIn(&a.HDOP, b.HDOP)
	fillIn(&a.VDOP, b.VDOP)
	fillIn(&a.Age, b.Age)
	fillIn(&a.Speed, b.Speed)
	fillIn(&a.Course, b.Course)
	a.Sats = max(a.Sats, b.Sats)
	return false
}

// apart reports whether two positions are more than about 30 m apart, which the
// rounding of no sentence explains.
func apart(a, b *Epoch) bool {
	const degree = 111e3 // m
	north := (a.Lat - b.Lat) * degree
	east := math.Remainder(a.Lon-b.Lon, 360) * degree * math.Cos(a.Lat*math.Pi/180)
	return math.Hypot(north, east) > 30
}
