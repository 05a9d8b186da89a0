package clock

import (
	"math"
	"slices"

	"tracemap/internal/parallel"
)

// A motion is how lively the walker moved at each instant of the day, as a rank:
// 0 the stillest instant, 1 the liveliest; NaN where the track has nothing. With
// a wrong offset the readings' ranks are spread evenly; with the right one they
// crowd where readings are taken – low for a crew that stops for each.
type motion struct {
	from, step float64
	rank       []float64
	edges      [bins]float64 // upper ranks of the histogram's bins
}

// motionStep, s, is the grid of the ranks: a stop lasts a second or more.
const motionStep = 0.5

// motionWindow, s, is half of the time over which the way is measured.
const motionWindow = 0.5

func (d *day) motion() *motion {
	const stride = int(motionStep / gridStep)
	const half = int(motionWindow / gridStep)
	n := (len(d.path) + stride - 1) / stride
	m := &motion{from: d.from, step: motionStep, rank: make([]float64, n)}
	type instant struct {
		way float64
		k   int
	}
	all := make([]instant, 0, n)
	for k := range n {
		i := k * stride
		m.rank[k] = math.NaN()
		if i < half || i+half >= len(d.path) {
			continue
		}
		// The way out and the way on, so that a turn of a sweep is no stop.
		way := d.path[i-half].Dist(d.path[i]) + d.path[i].Dist(d.path[i+half])
		if !math.IsNaN(way) {
			all = append(all, instant{way, k})
		}
	}
	slices.SortFunc(all, func(a, b instant) int {
		switch {
		case a.way < b.way:
			return -1
		case a.way > b.way:
			return 1
		}
		return a.k - b.k
	})
	still := 0
	for r, i := range all {
		m.rank[i.k] = (float64(r) + 0.5) / float64(len(all))
		if i.way < stillWay {
			still = r + 1
		}
	}
	m.cut(float64(still) / float64(max(len(all), 1)))
	return m
}

// stillWay, m, is the way within the window that counts as standing: an antenna
// on a standing person sways. Instants of standing are all alike – which of them
// is the stillest is noise, and must not choose the offset.
const stillWay = 0.12

// bins of the histogram: the first for standing, the others even shares of the rest.
const bins = 8

// cut lays the bins for a day of which the given share was spent standing.
func (m *motion) cut(still float64) {
	still = min(max(still, 0.02), 0.7)
	for b := range m.edges {
		m.edges[b] = still + (1-still)*float64(b)/(bins-1)
	}
}

// at is the rank at a time, between the grid's instants; NaN outside.
func (m *motion) at(t float64) float64 {
	x := (t - m.from) / m.step
	k := int(math.Floor(x))
	if k < 0 || k+1 >= len(m.rank) {
		return math.NaN()
	}
	u := x - float64(k)
	return m.rank[k]*(1-u) + m.rank[k+1]*u
}

// bin is the bin of a rank.
func (m *motion) bin(u float64) int {
	for b, e := range m.edges {
		if u <= e {
			return b
		}
	}
	return bins - 1
}

// share is the share of all instants in a bin.
func (m *motion) share(b int) float64 {
	if b == 0 {
		return m.edges[0]
	}
	return m.edges[b] - m.edges[b-1]
}

// A law is the density of a reading's rank against the even one, by bins, and of
// a reading that falls where the track has nothing.
type law struct {
	log    [bins]float64 // at the middle of each bin
	absent float64
}

// lawOf estimates the law from counts, held back towards the even one so that a
// few readings make no strong claim.
func (m *motion) lawOf(count [bins]float64, absent float64) law {
	var l law
	const hold = 8.0 // readings' worth of the even law
	n := absent
	for _, c := range count {
		n += c
	}
	for b, c := range count {
		p := m.share(b)
		l.log[b] = math.Log((c + hold*p) / (n + hold) / p)
	}
	// A reading outside the log is a tenth as likely as one inside, at the most:
	// receivers are off now and then.
	l.absent = math.Log(min((absent+1)/(n+hold), 0.1))
	return l
}

// A trial is an offset of the wide scan with what speaks for it.
type trial struct {
	offset float64
	motion float64 // log-likelihood ratio of the ranks' best law to the even one
	absent float64 // log-likelihood of the readings that fall where there is no track
	other  float64 // positions, prior
}

func (t *trial) total() float64 { return t.motion + t.absent + t.other }

// scanReadings is how many readings the wide scan asks, evenly through the day:
// enough to see a peak, few enough to try a hundred thousand offsets.
const scanReadings = 400

// scan gives, for every offset on the grid, how much better the readings' ranks
// are explained by the law that fits them best there than by the even one, and
// what the readings outside the track cost.
func (m *motion) scan(times []float64, lo, hi float64) []trial {
	first, last := int(math.Ceil(lo/m.step)), int(math.Floor(hi/m.step))
	if last < first {
		return nil
	}
	stride := (len(times) + scanReadings - 1) / scanReadings
	asked := make([]int, 0, scanReadings) // grid instants at the first offset
	for r := 0; r < len(times); r += stride {
		asked = append(asked, int(math.Round((times[r]-m.from)/m.step))-first)
	}
	hits := m.hits()
	gain := m.gains(len(asked))
	whole := float64(len(times)) / float64(len(asked))
	out := make([]trial, last-first+1)
	all := parallel.Group{Part: "wide search"}
	for o := 0; o < len(out); o += scanBlock {
		all.Go(func() {
			block := out[o:min(o+scanBlock, len(out))]
			var counts [scanBlock]tallies
			hits.count(counts[:len(block)], asked, o)
			for i := range block {
				c := &counts[i]
				absent, g := len(asked), 0.0
				for b := range bins {
					absent -= int(c[b])
					g += gain[b][c[b]]
				}
				block[i] = trial{offset: float64(first+o+i) * m.step, motion: whole * g, absent: whole * float64(absent) * math.Log(0.1)}
			}
		})
	}
	all.Wait()
	return out
}

// scanBlock is how many offsets are counted at a time: their counts stay in the
// cache.
const scanBlock = 2048

// tallies count readings by the bin that their instant falls into.
type tallies [bins]uint16

// hits says for each instant, the last first, into which bin it falls: a one in
// that bin's byte of a word, so that words can be added; no bin where the track
// has nothing.
type hits []uint64

func (m *motion) hits() hits {
	h := make(hits, len(m.rank))
	for k, u := range m.rank {
		if !math.IsNaN(u) {
			h[len(h)-1-k] = 1 << (8 * m.bin(u))
		}
	}
	return h
}

// count adds the readings, each asked for at an instant, under the offsets from o
// on, each of which moves it back by one instant more.
func (h hits) count(counts []tallies, asked []int, o int) {
	var sums [scanBlock]uint64
	held := 0
	spill := func() {
		for i := range counts {
			for b := range bins {
				counts[i][b] += uint16(sums[i] >> (8 * b) & 0xff)
			}
		}
		clear(sums[:len(counts)])
		held = 0
	}
	for _, at := range asked {
		from := len(h) - 1 - (at - o) // of h, for the first of the counts
		lo, hi := max(0, -from), min(len(counts), len(h)-from)
		if lo >= hi {
			continue
		}
		s, t := sums[lo:hi], h[from+lo:from+hi]
		for i := range s {
			s[i] += t[i]
		}
		if held++; held == 255 { // a byte holds no more
			spill()
		}
	}
	spill()
}

// gains gives what so many of n readings in a bin add to the log-likelihood ratio
// of the law that fits them best to the even one.
func (m *motion) gains(n int) (gain [bins][]float64) {
	for b := range gain {
		gain[b] = make([]float64, n+1)
		for c := range gain[b] {
			var count [bins]float64
			count[b] = float64(c)
			gain[b][c] = float64(c) * m.lawOf(count, float64(n-c)).log[b]
		}
	}
	return gain
}
