package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
)

// Another conductor's reading, against the line's own: how far off it lies, one
// σ each. Common practice, no source; they only shape how surprise in position,
// depth and current add up.
const (
	lockLateral = 0.7  // m
	lockDepth   = 0.35 // of the depth
	lockCurrent = 0.6  // of ln(current)
	lockOdds    = 3.5  // ln of the odds against a lock, before looking: 3 %
	// Position alone may speak for a lock by this much (ln of odds) where the
	// neighbours on both sides agree on the line's course and no bend is near,
	// by less where one is, and hardly where they do not: there the line may turn.
	mostLateral        = 12.0
	mostLateralBend    = 6.0
	mostLateralTurning = 2.0
	// plainLock is the score that needs no deviation in position: the shape may
	// have followed the reading.
	plainLock = 4.0
	// Farther off than this, m, no reading is a lock where the line may turn.
	lockReach = 2.0
)

// evidence is what a reading's neighbours say of it: its deviation from what
// they predict and the σ of that, in each of the three; NaN where unknown.
type evidence struct {
	lateral, depth, current             float64
	sigmaLateral, sigmaDepth, sigmaCurr float64
	depthScale                          float64 // m, the line's depth there
	// steady: the neighbours on both sides agree on the line's course.
	steady bool
	// bend is the share by which a bend nearby may make the depth read shallow.
	bend float64
}

// lockScore is the logarithm of the odds that the reading is another
// conductor's: its position, depth and current judged together.
func (e *evidence) lockScore() float64 {
	most := mostLateral
	switch {
	case !e.steady && math.Abs(e.lateral) > lockReach:
		return math.Inf(-1)
	case !e.steady:
		most = mostLateralTurning
	case e.bend > 0.1:
		most = mostLateralBend
	}
	sd, sc := e.tolerances()
	return min(logOdds(e.lateral, e.sigmaLateral, lockLateral), most) +
		logOdds(e.depth, sd, lockDepth*max(e.depthScale, 0.5)) +
		logOdds(e.current, sc, lockCurrent) - lockOdds
}

// withNeighbours holds depth and current against the plain medians of the
// readings around as well, set aside or not, and keeps the milder of the two
// deviations: a profile that has followed two locks must not condemn the
// readings that are right.
func (e *evidence) withNeighbours(ps []Placed, s []sample, m int) {
	n := len(s)
	around := append(between(max(m-screenReach, 0), m-1), between(m+1, min(m+screenReach, n-1))...)
	plain := evidence{}
	fillDepthCurrent(ps, s, around, m, &plain)
	e.depth = milder(e.depth, plain.depth)
	e.current = milder(e.current, plain.current)
}

// milder is the smaller of two deviations, 0 when they point to different sides.
func milder(a, b float64) float64 {
	switch {
	case math.IsNaN(b):
		return a
	case a*b <= 0:
		return 0
	case math.Abs(b) < math.Abs(a):
		return b
	}
	return a
}

// foreign reports whether the reading is to be set aside: the odds are against
// it, and either it lies off the shape or depth and current speak plainly.
func (e *evidence) foreign() bool {
	score := e.lockScore()
	return score > 0 && math.Abs(e.lateral) > 2*e.sigmaLateral || score > plainLock
}

// tolerances are one σ of the depth's and of the current's deviation, with what a
// bend nearby may do: it makes both read low, never high.
func (e *evidence) tolerances() (depth, current float64) {
	depth, current = e.sigmaDepth, e.sigmaCurr
	if e.depth < 0 {
		depth = math.Hypot(depth, e.bend*e.depthScale)
	}
	if e.current < 0 {
		current = math.Hypot(current, noise.BendCurrent*e.bend)
	}
	return depth, current
}

// logOdds is the logarithm of how much better a deviation r is explained by the
// wide law (other line) than by the narrow one (this line); 0 when not known.
func logOdds(r, own, other float64) float64 {
	if math.IsNaN(r) || !(own > 0) {
		return 0
	}
	wide := math.Hypot(own, other)
	return 0.5*sq(r/own) - 0.5*sq(r/wide) - math.Log(wide/own)
}

// screen sets aside, before any shape is known, what looks like another
// conductor's: readings whose depth and current both leave their neighbours'
// medians in a way that no bend does, and readings that lie off their
// neighbours' course, judged together with depth and current. Where neighbours
// do not agree on a course, or are too few, the fit must judge position.
func screen(ps []Placed, s []sample) {
	n := len(s)
	out := make([]bool, n)
	for m := range s {
		around := append(between(max(m-screenReach, 0), m-1), between(m+1, min(m+screenReach, n-1))...)
		e := evidence{lateral: math.NaN(), steady: true}
		fillDepthCurrent(ps, s, around, m, &e)
		lower := e.depth < 0 && e.current < 0 // as beside a bend
		out[m] = !lower && e.lockScore() > 1
		if m < screenReach || m+screenReach >= n {
			continue
		}
		off, unrest := offCourse(s, around, m)
		e.lateral, e.sigmaLateral = off, 1.3*math.Sqrt(s[m].local)
		if unrest < e.sigmaLateral {
			out[m] = e.foreign()
		}
	}
	for m := range s {
		s[m].out = out[m]
	}
}

// screenReach is how many neighbours on each side are asked.
const screenReach = 4

// between lists the indices from a to b, inclusive; none when b < a.
func between(a, b int) []int {
	var out []int
	for k := a; k <= b; k++ {
		out = append(out, k)
	}
	return out
}

// offCourse is how far sample m lies, m, from the best of the parabolas through
// three of its neighbours – best being that from which the others' median
// distance is least – and that median. (Least median of squares: Rousseeuw,
// JASA 79, 1984: up to half of the neighbours may be wrong.)
func offCourse(s []sample, set []int, m int) (off, unrest float64) {
	first, last := s[set[0]].at, s[set[len(set)-1]].at
	along := last.Sub(first)
	if along.Len() < 1 {
		return 0, math.Inf(1)
	}
	along = along.Unit()
	x, y := make([]float64, len(set)), make([]float64, len(set))
	for k, o := range set {
		v := s[o].at.Sub(first)
		x[k], y[k] = v.Dot(along), along.Cross(v)
	}
	v := s[m].at.Sub(first)
	mx, my := v.Dot(along), along.Cross(v)
	off, unrest = 0, math.Inf(1)
	r := make([]float64, len(set))
	for a := range set {
		for b := a + 1; b < len(set); b++ {
			for c := b + 1; c < len(set); c++ {
				q, ok := parabola(x[a], y[a], x[b], y[b], x[c], y[c])
				if !ok {
					continue
				}
				for k := range set {
					r[k] = math.Abs(y[k] - q(x[k]))
				}
				slices.Sort(r)
				// The plain median would count the three that make the parabola.
				if mid := r[(len(r)+3)/2]; mid < unrest {
					unrest, off = mid, math.Abs(my-q(mx))
				}
			}
		}
	}
	return off, unrest
}

// parabola through three points, unless two are almost above one another.
func parabola(x0, y0, x1, y1, x2, y2 float64) (func(float64) float64, bool) {
	if min(math.Abs(x1-x0), math.Abs(x2-x1), math.Abs(x2-x0)) < 0.3 {
		return nil, false
	}
	d01, d12 := (y1-y0)/(x1-x0), (y2-y1)/(x2-x1)
	d012 := (d12 - d01) / (x2 - x0)
	return func(x float64) float64 { return y0 + (x-x0)*(d01+(x-x1)*d012) }, true
}

func fillDepthCurrent(ps []Placed, s []sample, set []int, m int, e *evidence) {
	e.depth, e.current = math.NaN(), math.NaN()
	var d, c []float64
	for _, k := range set {
		r := ps[s[k].i].Reading
		if v := r.BestDepth(); v > 0 {
			d = append(d, v)
		}
		if r.Current > 0 {
			c = append(c, math.Log(r.Current))
		}
	}
	own := ps[s[m].i].Reading
	if v := own.BestDepth(); v > 0 && len(d) >= 3 {
		e.depthScale = medianOf(d)
		e.depth = v - e.depthScale
		e.sigmaDepth = 1.3 * noise.DepthSigma(own, e.depthScale)
	}
	if own.Current > 0 && len(c) >= 3 {
		e.current = math.Log(own.Current) - medianOf(c)
		e.sigmaCurr = 1.5 * noise.CurrentRel
	}
}

// medianOf sorts its argument.
func medianOf(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

// middle is the median, NaN of nothing; it sorts its argument.
func middle(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	return medianOf(v)
}
