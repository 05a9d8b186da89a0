package fuse

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
	"tracemap/remarks"
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
	kept    float64 // variance that stays in every σ, whatever the readings say
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

// fitProfile chooses the amplitude of the line's own departure, of those given from
// the smallest up, by restricted likelihood and fits. It returns nil when fewer than one reading is given.
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
		l := -0.5 * (p.gls.q + p.gls.logDet)
		if l < bestL {
			break // the likelihood has one top
		}
		best, bestL = p, l
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

// at gives the estimate at a station and one σ of it, to which a share of what
// neighbours have in common is added whole: how far it reaches is not known, and a
// profile that bends with it cannot see it.
func (p *profile) at(s float64) (value, sigma float64) {
	k := make([]float64, len(p.y))
	for a := range k {
		k[a] = p.kernel(math.Abs(s - p.station[a]))
	}
	value, v := p.gls.krige(p.trend(s), k, p.kernel(0))
	return mean(p.y) + value, math.Sqrt(v + p.kept)
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

// A depths is what a part's readings and potholes say of its depth.
type depths struct {
	station, logged []float64
	placed          []*Placed // nil for a pothole
}

func (d *depths) add(station, depth float64, placed *Placed) {
	d.station, d.logged, d.placed = append(d.station, station), append(d.logged, depth), append(d.placed, placed)
}

// depthProfile fits the depth of a part from its used samples and the depths seen
// in potholes on it; nil when there is neither. rows lists the samples it rests
// on, in the profile's order; the potholes come after them.
//
// A depth's σ grows with the depth. Taken at the logged depth itself it makes the
// readings that happen to be shallow count for more, and where readings share their
// errors the fit leaves the data altogether (R. Peelle's puzzle, 1987; G. D'Agostini,
// Nucl. Instr. Meth. A 346, 1994; both from memory). So every σ is taken at the
// straight fall that the depths follow as a whole (weights from a fit: Carroll,
// Ruppert, Transformation and Weighting in Regression, 1988, from memory). A fit that
// bends with the readings' errors, as the profile does, would bring the puzzle back.
func depthProfile(ps []Placed, f *partFit, bends []bend, holes []pothole, sc *scales) (p *profile, rows []int) {
	var d depths
	for _, m := range f.own() {
		placed := &ps[f.samples[m].i]
		if v := placed.Reading.BestDepth(); v > 0 && depthCounts(placed) {
			rows = append(rows, m)
			d.add(f.station[m], v, placed)
		}
	}
	for _, h := range holes {
		d.add(h.station, h.seen, nil)
	}
	if len(d.logged) == 0 {
		return nil, nil
	}
	at := d.fall()
	p = fitProfile(d.station, d.values(at, bends), d.noise(at, bends, sc), depthAmps)
	if p != nil {
		p.kept = noise.DepthKept * dot(p.noise.shared, p.noise.shared) / float64(len(at))
	}
	return p, rows
}

// depthAmps are the sizes of the line's own departure from a steady fall, m.
var depthAmps = []float64{0.03, 0.08, 0.2, 0.5}

// levelDepths is the number of depths as much as which the assumption counts that a
// line lies level: the fall of a few depths is that of their errors.
const levelDepths = 10

// fall is the depth at each station by a straight line through all depths: that of
// least squares, the more level the fewer they are; never less than a quarter of the
// mean.
func (d *depths) fall() []float64 {
	ms, md := mean(d.station), mean(d.logged)
	var ss, sd float64
	for k, s := range d.station {
		ss += sq(s - ms)
		sd += (s - ms) * (d.logged[k] - md)
	}
	var slope float64
	if n := float64(len(d.logged)); ss > 0 {
		slope = sd / ss * n / (n + levelDepths)
	}
	out := make([]float64, len(d.logged))
	for k, s := range d.station {
		out[k] = max(md+slope*(s-ms), md/4)
	}
	return out
}

// values are the depths to be fitted where the line lies at about the given depths.
//
// A depth computed from two coils errs to both sides alike in 1/d, which is linear in
// their fields: with 1 % a coil the mean of many is 1.4 % too deep at 3 m, 1 over the
// mean of 1/d is right. So it takes part as z·(2 − z/d), which has the mean of 1/d.
// Beside a bend a depth is corrected for what the bend does to it (see shallowBeside).
func (d *depths) values(at []float64, bends []bend) []float64 {
	out := slices.Clone(d.logged)
	for k, p := range d.placed {
		if p != nil && !math.IsNaN(p.Reading.CoilDepth) {
			out[k] = at[k] * (2 - at[k]/out[k])
		}
		if p != nil {
			shallow, _ := shallowBeside(bends, d.station[k], at[k])
			out[k] /= 1 - shallow
		}
	}
	return out
}

// noise is the error model of the depths where the line lies at about the given ones.
func (d *depths) noise(at []float64, bends []bend, sc *scales) profileNoise {
	n := len(at)
	e := profileNoise{
		length: noise.DepthLength,
		white:  make([]float64, n), shared: make([]float64, n), bend: make([]float64, n), common: make([]float64, n),
	}
	for k, z := range at {
		p := d.placed[k]
		if p == nil {
			e.white[k] = sq(seenSigma)
			continue
		}
		s := noise.DepthSigma(p.Reading, z)
		if p.Flags.Has(remarks.PeakNullApart) {
			s = math.Hypot(s, noise.DepthApart*z)
		}
		e.white[k] = sq(sc.depthWhite*s) * (1 - noise.DepthShared) / p.worth()
		e.shared[k] = sc.depthShared * s * math.Sqrt(noise.DepthShared)
		_, doubt := shallowBeside(bends, d.station[k], z)
		e.bend[k] = z * doubt
		e.common[k] = noise.DepthCommon * z
	}
	return e
}

// bendShare is by what share of itself a depth may read shallow beside bends, as far as
// it tells a lock from a bend, and a bend's current from a branch's: nearer than one
// depth, where the depth itself reads right again, it stays as large as the current's.
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
