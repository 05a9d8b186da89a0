package fuse

import (
	"fmt"
	"math"
	"slices"

	"tracemap/nmea"
)

// The table of constants is where a day starts from; its own readings then say
// how large each kind of error was that day. The scales are found by restricted
// maximum likelihood (Patterson, Thompson, Biometrika 58, 1971) over all parts
// at once, with a prior that holds them near the table: what a day cannot show –
// a GNSS error common to all of it – stays as the table has it.

// How far, in ln(σ), a day may lie from the table, one σ. From memory.
const (
	spreadWhite   = 0.35
	spreadShared  = 0.45
	spreadGNSS    = 0.30
	fewestForGNSS = 25  // readings of a fix quality
	largestPart   = 160 // readings of a part that take part, for the time's sake
	smallestPart  = 6
	leastGNSS     = 0.9 // of what the receiver or the table says: an error that stays the same for the whole pass shows nowhere in it
)

// A scaledPart holds the pieces of a part's covariance, each at unit scale.
type scaledPart struct {
	y, quick, white []float64
	shared, rest    *symmetric // rest: the clock's part and the line's own departure, not scaled
	gnss            *symmetric
	quality         []nmea.Quality
	x               []stretched
	prior           []float64
}

// mostParts are asked for the scales, evenly through the day: a thousand readings
// give a scale within some per cent, more would only cost time and memory.
const mostParts = 100

// some are so many of the parts as are asked.
func some(parts []*shapedPart) []*shapedPart {
	stride := (len(parts) + mostParts - 1) / mostParts
	if stride <= 1 {
		return parts
	}
	var out []*shapedPart
	for k := 0; k < len(parts); k += stride {
		out = append(out, parts[k])
	}
	return out
}

// A poor crew's readings, judged by the table, draw a line of many bends, and hardly leave
// it: so outlines are drawn again with the scales that they have given, as long as these
// grow.
const (
	mostOutlines = 6
	grownScale   = 1.1 // by which a scale has grown
)

// grown reports whether the errors of pin-pointing are larger than the table's, and than
// before.
func (sc *scales) grown(before *scales) bool {
	return sc.white > 1 && (sc.white > grownScale*before.white || sc.shared > grownScale*before.shared)
}

// measureScales gives the day's scales, in units of the table, from parts fitted with any.
func measureScales(parts []*shapedPart) scales {
	sc := unitScales()
	var set []*scaledPart
	count := map[nmea.Quality]int{}
	for _, p := range some(parts) {
		if s := scalable(p); s != nil {
			set = append(set, s)
			for _, q := range s.quality {
				count[q]++
			}
		}
	}
	if len(set) == 0 {
		return sc
	}
	var qs []nmea.Quality
	for q, n := range count {
		if n >= fewestForGNSS {
			qs = append(qs, q)
		}
	}
	slices.Sort(qs)
	at := patternSearch(2+len(qs), func(v []float64) float64 {
		l := -0.5*sq(v[0]/spreadWhite) - 0.5*sq(v[1]/spreadShared)
		scale := map[nmea.Quality]float64{}
		for k, q := range qs {
			l -= 0.5 * sq(v[2+k]/spreadGNSS)
			scale[q] = math.Exp(v[2+k])
		}
		return l + sumOver(len(set), func(k int) float64 {
			return set[k].likelihood(math.Exp(v[0]), math.Exp(v[1]), scale)
		})
	})
	sc.white, sc.shared = math.Exp(at[0]), math.Exp(at[1])
	for k, q := range qs {
		sc.gnss[q] = max(math.Exp(at[2+k]), leastGNSS)
	}
	return sc
}

// scalable takes a part's matrices at unit scale; nil when it is too small to
// say anything.
func scalable(p *shapedPart) *scaledPart {
	if p == nil || len(p.fit.used) < smallestPart {
		return nil
	}
	f := p.fit
	x, prior := f.design()
	used := f.used
	if len(used) > largestPart {
		used = used[:largestPart]
		for c := range x {
			x[c].v = x[c].v[:min(len(x[c].v), max(largestPart-x[c].from, 0))]
			x[c].from = min(x[c].from, largestPart)
		}
	}
	n := len(used)
	s := &scaledPart{
		y: make([]float64, n), quick: make([]float64, n), white: make([]float64, n),
		quality: make([]nmea.Quality, n), shared: newSymmetric(n),
		rest: newSymmetric(n), gnss: newSymmetric(n), x: x, prior: prior,
	}
	for a := range n {
		ma := used[a]
		sa := &f.samples[ma]
		s.y[a], s.quality[a] = f.offset[ma], sa.quality
		s.quick[a], s.white[a] = sa.independent()-(sa.white-sa.quick), (sa.white-sa.quick)/sq(p.scales.white)
		for b := range a + 1 {
			mb := used[b]
			sb := &f.samples[mb]
			na, nb := f.normal[ma], f.normal[mb]
			s.shared.row(a)[b] = sa.sharedWith(sb, f.station[ma], f.station[mb]) / sq(p.scales.shared)
			s.gnss.row(a)[b] = sa.slowWith(sb, na, nb) / (p.scales.of(sa.quality) * p.scales.of(sb.quality))
			rest := sa.unrestWith(sb, f.station[ma], f.station[mb]) + sa.shift.Dot(na)*sb.shift.Dot(nb)
			if f.on[ma] == f.on[mb] {
				rest += sq(f.wander) * wanderKernel(f.local[ma]-f.local[mb])
			}
			s.rest.row(a)[b] = rest
		}
	}
	return s
}

// likelihood is the restricted log-likelihood of the part's offsets.
func (s *scaledPart) likelihood(white, shared float64, gnss map[nmea.Quality]float64) float64 {
	n := len(s.y)
	g := make([]float64, n)
	for a, q := range s.quality {
		g[a] = 1
		if k, ok := gnss[q]; ok {
			g[a] = k
		}
	}
	c, err := newCovariance(n, func(a, from int, to []float64) {
		pin, fix, rest := s.shared.row(a)[from:], s.gnss.row(a)[from:], s.rest.row(a)[from:]
		for k := range to {
			to[k] = shared*shared*pin[k] + g[a]*g[from+k]*fix[k] + rest[k]
		}
		to[a-from] += s.quick[a] + white*white*s.white[a]
	})
	if err != nil {
		return -1e9
	}
	fit, err := solveGLS(s.y, s.x, c, s.prior)
	if err != nil {
		return -1e9
	}
	return -0.5 * (fit.q + fit.logDet)
}

// sumOver adds f(0) … f(n−1), worked out side by side, in their order.
func sumOver(n int, f func(k int) float64) float64 {
	terms := make([]float64, n)
	sideBySide(n, func(k int) { terms[k] = f(k) })
	var s float64
	for _, t := range terms {
		s += t
	}
	return s
}

// A pattern search begins with the widest step and ends with the finest.
const (
	finestStep = 0.05
	widestStep = 8 // times the finest
)

// patternSearch climbs f from zero by steps along each of n axes, halved when none
// leads up, until they are too small to matter. It needs no derivatives and gives
// the same answer everywhere.
func patternSearch(n int, f func([]float64) float64) []float64 {
	values := func(at []int) []float64 {
		v := make([]float64, n)
		for k := range v {
			v[k] = finestStep * float64(at[k])
		}
		return v
	}
	asked := map[string]float64{} // the way back to where a step came from is asked for often
	height := func(at []int) float64 {
		key := fmt.Sprint(at)
		h, ok := asked[key]
		if !ok {
			h = f(values(at))
			asked[key] = h
		}
		return h
	}
	at := make([]int, n)
	best := height(at)
	for step := widestStep; step >= 1; {
		moved := false
		for k := range at {
			for _, d := range []int{step, -step} {
				try := slices.Clone(at)
				try[k] += d
				if h := height(try); h > best {
					at, best, moved = try, h, true
					break
				}
			}
		}
		if !moved {
			step /= 2
		}
	}
	return values(at)
}
