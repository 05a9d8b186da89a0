package fuse

import (
	"math"

	"tracemap/flags"
	"tracemap/fuse/noise"
)

// A profile is a quantity along a part, estimated by universal kriging: a linear
// trend in the station, a smooth random departure from it (what the line really
// does), errors shared by neighbours, and independent errors.
// (Matheron 1969; Cressie, Statistics for Spatial Data, §3.4.)
type profile struct {
	station []float64
	y       []float64
	gls     *glsFit
	amp     float64 // σ of the line's own departure, in the quantity's unit
	reach   float64 // m, over which it goes
	scale   float64 // trend's unit of length, m
	noise   profileNoise
}

// profileReach is the distance, m, over which a utility's depth changes from
// its trend. From memory: laid to the surface or to fall, with dips at crossings.
const profileReach = 15.0

// An error model of a profile: each reading's independent variance and its
// shared σ with the length over which neighbours share it.
// bend is what bends nearby may add, shared likewise; common is the σ of what all
// readings of the part have in common, whatever their distance.
type profileNoise struct {
	white, shared, bend, common []float64
	length                      float64
}

// fitProfile chooses the amplitude of the line's own departure by restricted
// likelihood and fits. It returns nil when fewer than one reading is given.
func fitProfile(station, y []float64, e profileNoise, amps []float64) *profile {
	if len(y) == 0 {
		return nil
	}
	var best *profile
	bestL := math.Inf(-1)
	for _, amp := range amps {
		p := &profile{station: station, y: y, amp: amp, reach: profileReach, scale: 50, noise: e}
		if p.solve(e) != nil {
			continue
		}
		if l := -0.5 * (p.gls.q + p.gls.logDet); l > bestL {
			best, bestL = p, l
		}
	}
	return best
}

func (p *profile) solve(e profileNoise) error {
	n := len(p.y)
	x := [][]float64{make([]float64, n), make([]float64, n)}
	for a := range n {
		t := p.trend(p.station[a])
		x[0][a], x[1][a] = t[0], t[1]
	}
	near, far := make([]float64, n), make([]float64, n)
	for a, s := range p.station {
		near[a], far[a] = s/e.length, s*(math.Sqrt(3)/p.reach)
	}
	shared, own := newDecay(near), newDecay(far)
	c, err := newCovariance(n, func(a, from int, to []float64) {
		for k := range to {
			b := from + k
			to[k] = sq(p.amp)*own.matern(a, b) + (e.shared[a]*e.shared[b]+e.bend[a]*e.bend[b])*shared.of(a, b) + e.common[a]*e.common[b]
		}
		to[a-from] += e.white[a]
	})
	if err != nil {
		return err
	}
	// A level is known to within metres and a slope to within one in five
	// beforehand: this only matters for one or two readings.
	p.gls, err = solveGLS(p.centred(), []stretched{{v: x[0]}, {v: x[1]}}, c, []float64{1.0 / 100, 1 / sq(0.2*p.scale)})
	return err
}

// centred takes the mean off, so that the weak prior on the level is about it.
func (p *profile) centred() []float64 {
	m := mean(p.y)
	out := make([]float64, len(p.y))
	for k, v := range p.y {
		out[k] = v - m
	}
	return out
}

func (p *profile) trend(s float64) []float64 {
	return []float64{1, (s - p.station[0]) / p.scale}
}

// kernel is Matérn's with ν = 3/2: once differentiable, as a bent pipe is.
func (p *profile) kernel(d float64) float64 {
	r := math.Sqrt(3) * d / p.reach
	if r > 40 {
		return 0 // less than rounding
	}
	return p.amp * p.amp * (1 + r) * math.Exp(-r)
}

// at gives the estimate at a station and one σ of it.
func (p *profile) at(s float64) (value, sigma float64) {
	k := make([]float64, len(p.y))
	for a := range k {
		k[a] = p.kernel(math.Abs(s - p.station[a]))
	}
	value, v := p.gls.krige(p.trend(s), k, p.kernel(0))
	return mean(p.y) + value, math.Sqrt(v)
}

func mean(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// seenSigma, m, is one σ of a depth seen in a pothole: a tape, and the surface
// beside the hole. Common practice, no source.
const seenSigma = 0.03

// depthProfile fits the depth of a part from its used samples and the depths seen
// in potholes on it; nil when there is neither. rows lists the samples it rests
// on, in the profile's order; the potholes come after them.
func depthProfile(ps []Placed, f *partFit, bends []bend, holes []pothole, sc *scales) (p *profile, rows []int) {
	var st, y []float64
	e := profileNoise{length: noise.DepthLength}
	add := func(station, depth, white, shared, bend, common float64) {
		st, y = append(st, station), append(y, depth)
		e.white, e.shared = append(e.white, white), append(e.shared, shared)
		e.bend, e.common = append(e.bend, bend), append(e.common, common)
	}
	for _, m := range f.own() {
		placed := &ps[f.samples[m].i]
		r := placed.Reading
		d := r.BestDepth()
		if !(d > 0) || !depthCounts(placed) {
			continue
		}
		s := noise.DepthSigma(r, d)
		if placed.Flags.Has(flags.PeakNullApart) {
			s = math.Hypot(s, noise.DepthApart*d)
		}
		rows = append(rows, m)
		add(f.station[m], d, sq(sc.depthWhite*s)*(1-noise.DepthShared)/placed.worth(),
			sc.depthShared*s*math.Sqrt(noise.DepthShared), d*bendShare(bends, f.station[m], d), 1)
	}
	for _, h := range holes {
		add(h.station, h.seen, sq(seenSigma), 0, 0, 0)
	}
	for k := range e.common {
		e.common[k] *= noise.DepthCommon * mean(y)
	}
	return fitProfile(st, y, e, []float64{0.03, 0.08, 0.2}), rows
}

// bendShare is by what share of itself a depth may read shallow beside bends:
// the field of a conductor that ends there (Biot–Savart, two coils 0.4 m apart
// over a line 1 m deep) reads 22, 13, 7 and 4.5 % shallow at 1, 2, 3 and 4
// depths; an exponential meets these within 1 %. A bend by less than a right
// angle ends its leg only in part.
func bendShare(bends []bend, station, depth float64) float64 {
	var worst float64
	for _, b := range bends {
		ended := min((1-math.Cos(b.turn))+0.2*math.Abs(math.Sin(b.turn)), 1)
		worst = max(worst, 0.36*ended*math.Exp(-0.526*math.Abs(station-b.station)/max(depth, 0.2)))
	}
	return worst
}
