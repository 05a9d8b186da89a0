package fuse

import (
	"math"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
)

// A laid line leaves the straights and arcs that it is drawn with: a pipe by a
// centimetre or two, a cable by as much as its trench is wide. The departure is a
// smooth random function of the station on its stretch; its size is chosen for
// each part by restricted likelihood, and the line drawn follows its estimate.
// (Universal kriging, as for the depth.)

// wanders are the sizes to choose from, m, one σ.
var wanders = []float64{noise.Wander, 0.03, 0.06, 0.12, 0.24}

const (
	wanderReach = 6.0 // m, over which a departure goes: a few trench widths
	// wanderGain is what a larger size must gain in log-likelihood over a smaller.
	wanderGain = 1.0
)

// wanderKernel is Matérn's with ν = 3/2, for unit σ.
func wanderKernel(d float64) float64 {
	r := math.Sqrt(3) * math.Abs(d) / wanderReach
	return (1 + r) * math.Exp(-r)
}

// chooseWander sets the part's size of departure and solves with it.
func (f *partFit) chooseWander() error {
	best, top := f.wander, math.Inf(-1)
	for _, w := range wanders {
		if w < wanders[1] && f.curved() {
			continue // nothing that bends is laid to the arcs of a drawing
		}
		f.wander = w
		if f.step() != nil {
			continue
		}
		l := -0.5 * (f.gls.q + f.gls.logDet)
		if l > top+wanderGain {
			best, top = w, l
		}
	}
	f.wander = best
	err := f.solve()
	if err == nil {
		f.answerClock()
	}
	return err
}

// across estimates how far left of stretch k the line lies at a local station, m, one
// σ of the line's place across itself, and by how much a clock moves it that is off by
// one of its σ: that is in the first σ.
func (f *partFit) acrossAt(k int, s float64) (u, sigma, clock float64) {
	kv := make([]float64, len(f.used))
	for r, m := range f.used {
		if f.on[m] == k {
			kv[r] = sq(f.wander) * wanderKernel(f.local[m]-s)
		}
	}
	row := f.row(k, s)
	_, v := f.gls.krige(row, kv, sq(f.wander))
	if f.clock != nil {
		clock = dot(row, f.clock.beta) + dot(kv, f.clock.cr)
	}
	return dot(kv, f.gls.cr), math.Sqrt(v + noise.SharedKept*f.sharedNear(k, s)), clock
}

// sharedNear is the variance of pin-pointing and unrest that readings share, at the
// sample nearest to a local station of stretch k, m².
func (f *partFit) sharedNear(k int, s float64) float64 {
	best, v := math.Inf(1), 0.0
	for m := f.stretches[k].first; m <= f.stretches[k].last; m++ {
		if d := math.Abs(f.local[m] - s); d < best && !f.samples[m].out {
			best, v = d, sq(f.samples[m].shared)+noise.PinShared*f.samples[m].unrest
		}
	}
	return v
}

// curved reports whether a stretch of the part has an arc.
func (f *partFit) curved() bool {
	for k := range f.stretches {
		for _, p := range f.stretches[k].pieces {
			if p.curvature != 0 {
				return true
			}
		}
	}
	return false
}

// pointOn is the estimated place of the line at a local station of stretch k, with what
// acrossAt says of it.
func (f *partFit) pointOn(k int, s float64) (at plane.Pt, sigma, clock float64) {
	p, dir := f.stretches[k].at(s)
	u, sigma, clock := f.acrossAt(k, s)
	return p.Add(dir.Left().Mul(u)), sigma, clock
}
