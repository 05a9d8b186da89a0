package nmea

import (
	"fmt"
	"math"
	"slices"

	"tracemap/internal/parallel"
)

// Two receivers in one log would make a track that leaps from one antenna to the
// other. They are told apart by something that differs between them (the file,
// the talker with the way numbers are written, the fraction of the second, or the
// order at equal times) and only where the positions differ by more than one
// receiver's own unrest. Then the receiver with the better fixes is kept.

// leastPairs is how many epochs of one receiver must lie between two of the
// other before they are believed to be two.
const leastPairs = 10

// maxBracket is how far apart, in nanoseconds, two epochs may be between which
// an epoch of the other receiver is looked for.
const maxBracket = 5 * second

// sample is how many epochs of a receiver are looked at, at most: a day has far
// more than a judgement needs.
const sample = 2000

// mostGroups is how many groups are compared with each other: only rubbish has more.
const mostGroups = 64

// splits is the table of what may tell two receivers apart: its name, and what
// gives each draft its key, which is 0 beforehand. The drafts come in order of time.
var splits = []struct {
	name string
	keys func(list []*draft, keys []uint32)
}{
	{"file", byFile},
	{"talker and digits", byTalker},
	{"order at equal times", byOccurrence},
	{"fraction of the second", byPhase},
}

// tellReceiversApart takes the drafts of all receivers but one out of the log.
func (in *intake) tellReceiversApart(order []int32) {
	list := make([]*draft, 0, len(order))
	for _, i := range order {
		if d := in.group.drafts.at(int(i)); d.measured() {
			list = append(list, d)
		}
	}
	// As a rule there is one receiver, and all ways to tell find that side by side.
	found := make([]divided, len(splits))
	side := parallel.Group{Part: "telling receivers apart"}
	for k := range splits {
		side.Go(func() { found[k] = divide(list, k) })
	}
	side.Wait()
	dropped := false
	for k, split := range splits {
		d := found[k]
		if dropped {
			list = slices.DeleteFunc(list, func(d *draft) bool { return d.seen == 0 })
			d = divide(list, k)
		}
		for d.apart {
			worse := in.dropWorse(d.groups[d.a], d.groups[d.b], split.name)
			d.groups = slices.DeleteFunc(d.groups, func(g []*draft) bool { return &g[0] == &worse[0] })
			d.a, d.b, d.apart = interleavedPair(d.groups)
			dropped = true
		}
	}
}

// divided are drafts parted in one of the ways, and the first two groups that come
// from two antennas.
type divided struct {
	groups [][]*draft
	a, b   int
	apart  bool
}

// divide parts the drafts in way k.
func divide(list []*draft, k int) (d divided) {
	keys := make([]uint32, len(list))
	splits[k].keys(list, keys)
	if uniform(keys) {
		return d
	}
	d.groups = groupBy(list, keys)
	d.a, d.b, d.apart = interleavedPair(d.groups)
	return d
}

func byFile(list []*draft, keys []uint32) {
	for i, d := range list {
		keys[i] = uint32(d.File)
	}
}

// byTalker keeps kinds apart as well: the digits of one kind say nothing of
// another's.
func byTalker(list []*draft, keys []uint32) {
	for i, d := range list {
		keys[i] = uint32(d.rank)<<24 | uint32(d.digits)<<16 | uint32(d.talker[0])<<8 | uint32(d.talker[1])
	}
}

// byOccurrence numbers the drafts of one time in one file.
func byOccurrence(list []*draft, keys []uint32) {
	for i := 1; i < len(list); i++ {
		if list[i].Nanos == list[i-1].Nanos && list[i].File == list[i-1].File {
			keys[i] = keys[i-1] + 1
		}
	}
}

// byPhase parts the drafts by where their times fall in the usual step from one
// to the next but one: near that of the first, or not.
func byPhase(list []*draft, keys []uint32) {
	var steps []int64
	for i := 2; i < len(list); i += 1 + len(list)/5000 {
		steps = append(steps, list[i].Nanos-list[i-2].Nanos)
	}
	if len(steps) == 0 {
		return
	}
	slices.Sort(steps)
	period := steps[len(steps)/2]
	if period == 0 {
		return
	}
	for i, d := range list {
		if phase := (d.Nanos - list[0].Nanos) % period; phase > period/8 && phase < period*7/8 {
			keys[i] = 1
		}
	}
}

func uniform(keys []uint32) bool {
	for _, k := range keys {
		if k != keys[0] {
			return false
		}
	}
	return true
}

// groupBy parts the list by key, the largest group first, and of equals the one
// heard first.
func groupBy(list []*draft, keys []uint32) [][]*draft {
	place := map[uint32]int{}
	var counts []int
	runs(keys, func(from, to int) {
		at, ok := place[keys[from]]
		if !ok {
			at = len(counts)
			place[keys[from]] = at
			counts = append(counts, 0)
		}
		counts[at] += to - from
	})
	groups := make([][]*draft, len(counts))
	for k, n := range counts {
		groups[k] = make([]*draft, 0, n)
	}
	runs(keys, func(from, to int) {
		at := place[keys[from]]
		groups[at] = append(groups[at], list[from:to]...)
	})
	slices.SortStableFunc(groups, func(a, b []*draft) int { return len(b) - len(a) })
	return groups[:min(len(groups), mostGroups)]
}

// runs calls f with each run of equal keys, from its first to behind its last.
func runs(keys []uint32, f func(from, to int)) {
	for i := 0; i < len(keys); {
		n := i + 1
		for n < len(keys) && keys[n] == keys[i] {
			n++
		}
		f(i, n)
		i = n
	}
}

// interleavedPair gives the first two groups that come from two antennas.
func interleavedPair(groups [][]*draft) (a, b int, ok bool) {
	for b := range groups {
		for a := range b {
			if interleaved(groups[a], groups[b]) {
				return a, b, true
			}
		}
	}
	return 0, 0, false
}

// interleaved reports whether as and bs come from two antennas: single epochs of
// one lie between two of the other in time, and further off the line between them
// than epochs of one receiver lie off the line between their neighbours.
func interleaved(as, bs []*draft) bool {
	if as[0].Nanos > bs[len(bs)-1].Nanos || bs[0].Nanos > as[len(as)-1].Nanos {
		return false
	}
	if 2*min(len(as), len(bs)) < leastPairs {
		return false // each lies between two others at most, and is one of two with another between
	}
	between, asked := strangers(as, bs)
	if len(between) < leastPairs || len(between) < asked/5 {
		return false
	}
	return median(between) > 0.05+4*max(median(unrest(as)), median(unrest(bs)))
}

// strangers gives, for single epochs of one list between two of the other, how
// far they lie off the line between these, m; and how many of the shorter list
// were looked at. A receiver that merely changes its talker now and then has none.
func strangers(as, bs []*draft) (found []float64, asked int) {
	stride := 1 + min(len(as), len(bs))/sample
	asked = min(len(as), len(bs)) / stride
	var last [2]*draft // the two epochs before, with the list each is from
	var from [2]int
	for n := 0; len(as)+len(bs) > 0; {
		d, list := next(&as, &bs)
		if last[0] != nil && from[0] == list && from[1] != list && d.Nanos-last[0].Nanos <= maxBracket {
			if n%stride == 0 {
				found = append(found, deviation(last[0], d, last[1]))
			}
			n++
		}
		last, from = [2]*draft{last[1], d}, [2]int{from[1], list}
	}
	return found, asked
}

// next takes the earlier of two lists' first epochs, and says from which.
func next(as, bs *[]*draft) (d *draft, list int) {
	if len(*bs) == 0 || len(*as) > 0 && (*as)[0].Nanos <= (*bs)[0].Nanos {
		d, *as = (*as)[0], (*as)[1:]
		return d, 0
	}
	d, *bs = (*bs)[0], (*bs)[1:]
	return d, 1
}

// unrest gives how far the epochs of one receiver lie off the line between their
// neighbours, m.
func unrest(list []*draft) []float64 {
	var found []float64
	for i := 1; i+1 < len(list); i += 1 + len(list)/sample {
		if list[i+1].Nanos-list[i-1].Nanos <= 2*maxBracket {
			found = append(found, deviation(list[i-1], list[i+1], list[i]))
		}
	}
	return found
}

// deviation gives how far d lies from where the way from a to b is at its time, m.
func deviation(a, b, d *draft) float64 {
	share := 0.5
	if b.Nanos > a.Nanos {
		share = float64(d.Nanos-a.Nanos) / float64(b.Nanos-a.Nanos)
	}
	north, east := offset(&a.Epoch, b.Lat, b.Lon)
	n, e := offset(&a.Epoch, d.Lat, d.Lon)
	return math.Hypot(n-share*north, e-share*east)
}

// median gives the middle of v, which it sorts; 0 for none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[len(v)/2]
}

// fairPart: epochs fewer than one in so many of the other's do not displace it, however
// good their fixes: they would leave a day without positions.
const fairPart = 20

// dropWorse takes the receiver with the worse fixes out of the log, and gives its
// drafts: one of hardly any epochs, else the one that, while both ran, had the
// smaller share of RTK fixed solutions, of equals that of RTK float, of differential
// and so on, and last the one with fewer epochs in all.
func (in *intake) dropWorse(a, b []*draft, by string) []*draft {
	from, to := max(a[0].Nanos, b[0].Nanos), min(a[len(a)-1].Nanos, b[len(b)-1].Nanos)
	sharesA, sharesB := shares(a, from, to), shares(b, from, to)
	better, worse := a, b // the larger group first
	for _, q := range []Quality{QualityRTKFixed, QualityRTKFloat, QualityDGPS, QualityPPS, QualityAutonomous, QualityUnknown} {
		if sharesA[q] != sharesB[q] {
			if sharesA[q] < sharesB[q] && len(b)*fairPart >= len(a) {
				better, worse = b, a
			}
			break
		}
	}
	in.log.Stats.OtherReceiver += len(worse)
	in.warn("two receivers are in the log, told apart by %s: that with the better fixes is used (first at %s), "+
		"%s left out (first at %s); give only the log of the receiver that went with the locator",
		by, in.spot(better[0]), many(len(worse), "epoch of the other is", "epochs of the other are"), in.spot(worse[0]))
	for _, d := range worse {
		*d = newDraft(d.Nanos)
	}
	return worse
}

// shares gives the share of each quality among the drafts from one time to another.
func shares(list []*draft, from, to int64) (share [256]float64) {
	n := 0.0
	for _, d := range list {
		if d.Nanos >= from && d.Nanos <= to {
			share[d.Quality]++
			n++
		}
	}
	for q := range share {
		share[q] /= max(n, 1)
	}
	return share
}

// spot says where in the log a draft stands.
func (in *intake) spot(d *draft) string {
	return fmt.Sprintf("%s line %d, talker %s", in.log.Files[d.File].Name, d.Line, d.talker)
}
