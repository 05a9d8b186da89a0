package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
	"tracemap/fuse/track"
	"tracemap/geodesy/plane"
)

// An undetermined clock slides every reading along the crew's way. Where the crew
// walked along the line the slid readings lie on it again, and nothing is in doubt but
// its ends; where they swept across it, or left it, the line would lie elsewhere. So
// for offsets over the whole spread of what is possible it is looked how far off each
// place of the line the slid readings pass. A narrow clock needs none of this: its
// small σ goes through the fit as an error that all readings share.

// slid holds what an undetermined clock adds to the variance across a part, m²,
// at stations that are step metres apart from the first on.
type slid struct {
	first, step float64
	variance    []float64
}

const (
	slidStep  = 0.5  // m between stations, unless there were more than mostSlid of them
	mostSlid  = 2000 // stations of a part
	slidReach = 5.0  // m, to either side, over which the slid readings' distances are averaged
)

// shares stand for a normal law of the offset, in σ: their mean square is 1.1. Each
// has its opposite.
var shares = []float64{-1.8, -1.2, -0.8, -0.45, -0.15, 0.15, 0.45, 0.8, 1.2, 1.8}

// at is the variance at a station, m².
func (s *slid) at(station float64) float64 {
	if s == nil {
		return 0
	}
	return interpolated(s.variance, (station-s.first)/s.step)
}

// interpolated returns evenly spaced values interpolated linearly at x, in steps from the first;
// beyond both ends the last value holds. There are two values at the least.
func interpolated(v []float64, x float64) float64 {
	x = min(max(x, 0), float64(len(v)-1))
	i := min(int(x), len(v)-2)
	return v[i] + (x-float64(i))*(v[i+1]-v[i])
}

// newSlid looks where the part's readings would lie; nil for a narrow clock and for a
// part without length.
func newSlid(ps []Placed, p *shapedPart, tr *track.Track, maxGap float64) *slid {
	if !slices.ContainsFunc(p.fit.samples, func(m sample) bool { return ps[m.i].Slide > 0 }) {
		return nil
	}
	w := newSlidWalk(ps, p, maxGap)
	if w == nil {
		return nil
	}
	own := w.pass(func(p *Placed) (plane.Pt, bool) { return p.At, true })
	var scatter float64 // of the readings as they are: which the fit knows already …
	for _, v := range own.beside {
		scatter += max(v, 0) / float64(len(own.beside))
	}
	scatter = min(scatter, w.known) // … unless the clock may have made it
	n := len(own.beside)
	beside, counts, beyond := make([]float64, n), make([]float64, n), make([]float64, n)
	passes := make([]slidPass, len(shares))
	for k, share := range shares {
		passes[k] = w.pass(func(p *Placed) (plane.Pt, bool) { return elsewhere(tr, p, share) })
		for g, v := range passes[k].beside {
			if v >= 0 {
				beside[g] += v
				counts[g]++
			}
		}
	}
	// An offset and its opposite move an end out and in: which of the two is not known.
	for k := range shares {
		one, other := &passes[k], &passes[len(shares)-1-k]
		for g := range beyond {
			beyond[g] += sq(max(one.beyond[g], other.beyond[g])) / float64(len(shares))
		}
	}
	out := &slid{first: w.station[0], step: w.step, variance: beyond}
	reach := int(slidReach / w.step)
	for g := range out.variance {
		var sum, c float64
		for i := max(g-reach, 0); i <= min(g+reach, n-1); i++ {
			sum += beside[i]
			c += counts[i]
		}
		if c > 0 {
			out.variance[g] += max(sum/c-scatter, 0)
		}
	}
	return out
}

// A slidWalk is a part as it is looked at: the line, and its readings in the order in
// which they were taken.
type slidWalk struct {
	line    plane.Polyline
	station []float64 // of the line's vertices
	step    float64
	at      []plane.Pt // of the line at stations step apart
	taken   []*Placed
	apart   []bool  // a reading and the one before belong to different passes
	known   float64 // variance, m², that the table's errors give a place between two readings
}

func newSlidWalk(ps []Placed, p *shapedPart, maxGap float64) *slidWalk {
	w := &slidWalk{}
	for _, m := range p.marks() {
		w.line, w.station = append(w.line, m.at), append(w.station, m.station)
	}
	length := 0.0
	if n := len(w.station); n > 1 {
		length = w.station[n-1] - w.station[0]
	}
	if length <= 0 {
		return nil
	}
	all := slices.Clone(p.fit.samples)
	slices.SortStableFunc(all, func(a, b sample) int { return compare(a.t, b.t) })
	apart := false
	for k := range all {
		at := &ps[all[k].i]
		if k > 0 {
			before := &ps[all[k-1].i]
			apart = apart || at.At.Dist(before.At) > maxGap || at.T-before.T > longPause
		}
		if !all[k].out {
			w.taken, w.apart = append(w.taken, at), append(w.apart, apart)
			w.known += 2.0 / 3 * (at.QuickVar + sq(noise.PinSigma(at.Reading, p.typicalDepth)))
			apart = false
		}
	}
	w.known /= float64(max(len(w.taken), 1))
	cells := min(math.Ceil(length/slidStep), mostSlid)
	w.step = length / cells
	seg := 0
	for g := range int(cells) + 1 {
		s := w.station[0] + float64(g)*w.step
		for seg+2 < len(w.station) && w.station[seg+1] < s {
			seg++
		}
		t := (s - w.station[seg]) / max(w.station[seg+1]-w.station[seg], 1e-9)
		w.at = append(w.at, w.line[seg].Lerp(w.line[seg+1], min(max(t, 0), 1)))
	}
	return w
}

// A slidPass says how far off the line, at each of its stations, readings pass that lie
// elsewhere than they did.
type slidPass struct {
	beside []float64 // mean square of their distance, m²; −1 where none pass
	beyond []float64 // distance of the nearest, m, where none pass
}

// pass lays the readings where place says, and joins each to the next one taken.
func (w *slidWalk) pass(place func(*Placed) (plane.Pt, bool)) slidPass {
	n := len(w.at)
	out := slidPass{beside: make([]float64, n), beyond: make([]float64, n)}
	count := make([]float64, n)
	var there []plane.Pt
	var last float64 // station of the last one, in steps
	var off float64
	joined := false
	for k, p := range w.taken {
		at, ok := place(p)
		if !ok {
			joined = false
			continue
		}
		there = append(there, at)
		foot, _ := w.line.Nearest(at)
		a, b := w.station[foot.Seg], w.station[min(foot.Seg+1, len(w.station)-1)]
		s := (a + foot.T*(b-a) - w.station[0]) / w.step
		d := math.Copysign(foot.Dist, foot.Offset)
		if joined && !w.apart[k] {
			lo, hi := min(s, last), max(s, last)
			for g := int(math.Ceil(lo - 1e-9)); g <= min(int(hi+1e-9), n-1); g++ {
				t := 0.5
				if hi > lo {
					t = (float64(g) - last) / (s - last)
				}
				if v := off + t*(d-off); math.Abs(v) < farthestRival {
					out.beside[g] += v * v
					count[g]++
				}
			}
		}
		last, off, joined = s, d, true
	}
	for g := range out.beside {
		if count[g] > 0 {
			out.beside[g] /= count[g]
			continue
		}
		out.beside[g] = -1
		if len(there) > 0 {
			nearest := math.Inf(1)
			for _, q := range there {
				nearest = min(nearest, q.Dist(w.at[g]))
			}
			out.beyond[g] = nearest
		}
	}
	return out
}

// elsewhere is where a reading that the track placed would lie if it had been taken
// later by a share of its clock's σ; one with a position of its own, or on a narrow
// clock, stays.
func elsewhere(tr *track.Track, p *Placed, share float64) (plane.Pt, bool) {
	if p.Chain < 0 || p.Slide == 0 {
		return p.At, true
	}
	later := share * p.Slide
	here, ok := tr.At(p.T)
	there, ok2 := tr.At(p.T + later)
	return p.At.Add(there.At.Sub(here.At)), ok && ok2
}

// slidRadius is the root mean square way, m, by which an undetermined clock may move a
// reading; 0 for a narrow one.
func slidRadius(p *Placed, tr *track.Track) float64 {
	if p.Slide == 0 {
		return 0
	}
	var sum, n float64
	for _, share := range shares {
		if at, ok := elsewhere(tr, p, share); ok {
			sum += sq(at.Dist(p.At))
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum / n)
}

// widenRadii adds to the radii of the readings what an undetermined clock may do:
// along a line as well, for a reading stands for its place.
func widenRadii(ps []Placed, tr *track.Track) {
	for i := range ps {
		if p := &ps[i]; p.OK && !math.IsNaN(p.Radius) {
			p.Radius = math.Hypot(p.Radius, slidRadius(p, tr))
		}
	}
}

// widenPoint does the same for a part that is a single place.
func widenPoint(ps []Placed, run []int, part *Part, tr *track.Track) {
	v := &part.Vertices[0]
	with := v.Sigma
	for _, i := range run {
		with = max(with, math.Hypot(v.Sigma, slidRadius(&ps[i], tr)))
	}
	part.ClockWidth = noise.K95 * (with - v.Sigma)
	v.Sigma = with
}

// clockWidth is the most that the clock's share of the variance adds to a half-width.
func clockWidth(marks []mark) float64 {
	var most float64
	for _, m := range marks {
		most = max(most, noise.K95*(m.sigma-math.Sqrt(max(sq(m.sigma)-m.clock, 0))))
	}
	return most
}

// A clockAnswer is what the fit makes of a clock that is off by one σ, as if that had
// been its observations: the parameters, and the weights of the departure.
type clockAnswer struct{ beta, cr []float64 }

// answerClock works that out; nil where the clock moves no reading across the line.
func (f *partFit) answerClock() {
	y := make([]float64, len(f.used))
	for r, m := range f.used {
		y[r] = f.samples[m].shift.Dot(f.normal[m])
	}
	f.clock = nil
	if slices.ContainsFunc(y, func(v float64) bool { return v != 0 }) {
		beta, r := f.gls.answer(y)
		f.gls.c.rest(r)
		f.clock = &clockAnswer{beta, r}
	}
}
