package fuse

import (
	"math"
	"slices"

	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
)

// A locator that logs by itself, a log joined with itself, or a file made to do harm
// may have thousands of readings of a name at nearly one place and time. They share
// the errors of the fix and most of the pin-pointing, so they say no more of where
// the line lies than a few of them do, and a covariance among them all costs the
// cube of their number for nothing. Such readings are packed before anything is
// fitted: one reading at their mean, with the middle of their depths and currents,
// stands for them, and each gets its own place beside the line back at the end.
//
// What is not packed goes through unchanged: a crew's day as a rule in full.

// mostUnpacked is how many readings of one name and kind may stand close together and
// be fitted one by one. More count as so many with independent pin-pointing, and as
// one with independent quick GNSS error: never for more than they would one by one.
const mostUnpacked = 3

// A packLevel is what counts as close: within reach, m, of the first reading there,
// and within the same stretch of time, s.
type packLevel struct{ reach, time float64 }

// packLevels are gone through from fine to coarse until a name has few readings. The
// reach is several times what pin-pointing scatters: a pack must not part what lies
// left of the line from what lies right. A pack reaches half a metre along the line at
// the most, in which the sharpest arc (2 m) bends by 16 mm; twice that in the last
// resort. Passes at different times are packed together late; the slow GNSS error
// then counts as that of a single pass.
var packLevels = []packLevel{{0.25, 10}, {0.25, 60}, {0.25, 600}, {0.25, math.Inf(1)}, {0.5, math.Inf(1)}}

// fewOfName is the number of readings of a name, packed, that costs little enough.
const fewOfName = 1000

// A packing is a day's placed readings with those that lie close together packed.
type packing struct {
	log []Placed // all, in the order of the log
	ps  []Placed // to be worked with; the same slice when nothing is packed
	of  [][]int  // of each in ps: the readings of the log that it is; nil when nothing is packed
}

// pack packs the readings on lines, each name for itself.
func pack(log []Placed) *packing {
	byName := map[string][]int{}
	for i := range log {
		p := &log[i]
		if !p.OK || !p.Reading.OnLine() || p.Flags.Has(remarks.SetAsideByHand) {
			continue
		}
		name := nameKey(p.Reading.Line)
		if name == "" {
			name = "|" + kindOf(p.Reading)
		}
		byName[name] = append(byName[name], i)
	}
	packed := map[int][]int{} // first of a pack → all of it
	gone := make([]bool, len(log))
	for _, members := range byName {
		slices.SortStableFunc(members, func(a, b int) int { return compare(log[a].T, log[b].T) })
		for _, near := range crowded(log, members) {
			packed[near[0]] = near
			for _, i := range near[1:] {
				gone[i] = true
			}
		}
	}
	if len(packed) == 0 {
		return &packing{log: log, ps: log}
	}
	k := &packing{log: log}
	for i := range log {
		switch near := packed[i]; {
		case near != nil:
			k.ps, k.of = append(k.ps, packOf(log, near)), append(k.of, near)
		case !gone[i]:
			k.ps, k.of = append(k.ps, log[i]), append(k.of, []int{i})
		}
	}
	return k
}

// A packKind is what readings have in common that may be packed: a stretch of time,
// and all that their errors and their fate hang on.
type packKind struct {
	time           float64
	chain          int
	quality        nmea.Quality
	flags          remarks.Set
	response       readings.Response
	method         readings.Method
	depth, current bool // known
}

func (l packLevel) kindOf(p *Placed) packKind {
	return packKind{
		math.Floor(p.T / l.time), p.Chain, p.Quality, p.Flags,
		p.Reading.Response, p.Reading.Method, p.Reading.BestDepth() > 0, p.Reading.Current > 0,
	}
}

// crowded lists the readings of a name that lie close together and are too many, at
// the first level that leaves few. members are in order of time.
func crowded(ps []Placed, members []int) [][]int {
	var out [][]int
	for _, level := range packLevels {
		out = nil
		left := len(members)
		for _, near := range level.gather(ps, members) {
			if len(near) > mostUnpacked {
				out = append(out, near)
				left -= len(near) - 1
			}
		}
		if left <= fewOfName {
			break
		}
	}
	return out
}

// gather puts each reading to the nearest of those within reach that came first in
// their place; where there is none it is one itself.
func (l packLevel) gather(ps []Placed, members []int) [][]int {
	type cell struct {
		kind, east, north int
	}
	kinds := map[packKind]int{}
	firsts := map[cell][]int{} // in a square: what came first in its place, by its number in out
	var out [][]int
	for _, i := range members {
		p := &ps[i]
		key := l.kindOf(p)
		kind, ok := kinds[key]
		if !ok {
			kind = len(kinds)
			kinds[key] = kind
		}
		home := cell{kind, int(math.Floor(p.At.E / l.reach)), int(math.Floor(p.At.N / l.reach))}
		best, reach := -1, l.reach
		for e := home.east - 1; e <= home.east+1; e++ {
			for n := home.north - 1; n <= home.north+1; n++ {
				for _, k := range firsts[cell{kind, e, n}] {
					if d := p.At.Dist(ps[out[k][0]].At); d < reach {
						best, reach = k, d
					}
				}
			}
		}
		if best >= 0 {
			out[best] = append(out[best], i)
			continue
		}
		firsts[home] = append(firsts[home], len(out))
		out = append(out, []int{i})
	}
	return out
}

// packOf is one reading that stands for several.
func packOf(log []Placed, near []int) Placed {
	out := log[near[0]]
	r := *out.Reading
	out.packed, out.Reading = true, &r
	var at, velocity, shift plane.Pt
	var t, quick, e, n, en, sigmaH float64
	var depth, current, diameter, height []float64
	share := 1 / float64(len(near))
	for _, i := range near {
		p := &log[i]
		at, velocity, shift = at.Add(p.At.Mul(share)), velocity.Add(p.Velocity.Mul(share)), shift.Add(p.ClockShift.Mul(share))
		t, quick, sigmaH = t+share*p.T, quick+share*p.QuickVar, sigmaH+share*p.SigmaH
		e, n, en = e+share*p.SlowE, n+share*p.SlowN, en+share*p.SlowEN
		depth, current = appendKnown(depth, p.Reading.BestDepth()), appendKnown(current, p.Reading.Current)
		diameter, height = appendKnown(diameter, p.Reading.Diameter), appendKnown(height, p.Geo.H)
		if math.Abs(p.Reading.NullOffset) > math.Abs(r.NullOffset) {
			r.NullOffset = p.Reading.NullOffset
		}
	}
	out.At, out.Velocity, out.ClockShift = at, velocity, shift
	out.T, out.QuickVar, out.SigmaH = t, quick, sigmaH
	out.SlowE, out.SlowN, out.SlowEN = e, n, en
	r.CoilDepth, r.Depth, r.Current, r.Diameter = math.NaN(), middle(depth), middle(current), middle(diameter)
	out.Geo.H = middle(height)
	return out
}

func appendKnown(to []float64, v float64) []float64 {
	if math.IsNaN(v) {
		return to
	}
	return append(to, v)
}

// worth is for how many independent pin-pointings the reading stands.
func (p *Placed) worth() float64 {
	if p.packed {
		return mostUnpacked
	}
	return 1
}

// members are the readings of the log that the working readings of a list are.
func (k *packing) members(list []int) []int {
	if k.of == nil {
		return list
	}
	var out []int
	for _, i := range list {
		out = append(out, k.of[i]...)
	}
	slices.Sort(out)
	return out
}

// count corrects what a part says of its readings, one by one in the log.
func (k *packing) count(run []int, part *Part) {
	if k.of == nil {
		return
	}
	part.Readings = 0
	for _, i := range run {
		if !k.ps[i].Used {
			continue
		}
		part.Readings += len(k.of[i])
		for _, j := range k.of[i] {
			t := k.log[j].UTC
			if t.IsZero() {
				continue
			}
			if part.From.IsZero() || t.Before(part.From) {
				part.From = t
			}
			if t.After(part.To) {
				part.To = t
			}
		}
	}
}

// unpack gives every reading of the log what became of it.
func (k *packing) unpack() {
	for i, of := range k.of {
		p := &k.ps[i]
		if !p.packed {
			k.log[of[0]] = *p
			continue
		}
		along := p.normal.Left().Mul(-1)
		for _, j := range of {
			q := &k.log[j]
			off := q.At.Sub(p.At)
			q.LineID, q.Part, q.Used, q.Radius, q.Flags = p.LineID, p.Part, p.Used, p.Radius, q.Flags|p.Flags
			q.Station, q.Offset = p.Station+along.Dot(off), p.Offset+p.normal.Dot(off)
		}
	}
}
