package track

import (
	"math"
	"slices"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// A stepper tells a step of the position – wrong integers, a reflected signal –
// from a person who starts and stops. What a step has and a person has not is a way
// from one fix to the next that lies outside all that lies between the velocities
// before and after. Of velocities there are two kinds: those that the receiver
// tells, from the Doppler shift, which wrong integers leave alone; and those of the
// way from fix to fix. How far people's ways lie outside is for each day to show:
// a pole that is planted and swung leaves a tail that a cart does not.
type stepper struct {
	usual float64 // s, from fix to fix
	lag   lag
	by    [256]*tails // by fix quality; nil where there is none
}

// tails are those of the excess over told velocities and over velocities from fix
// to fix, on fixes of one quality, and the least step that matters there, m.
type tails struct {
	told, gone tail
	least      float64
}

// between gives the step from fix a to fix b, if that is more likely than a person's
// doing, and the odds of it, 0 to 1. before is the fix that was used before a, next
// the one behind b; either may be missing.
func (s *stepper) between(before, a, b, next *fix) (by plane.Pt, odds float64, stepped bool) {
	t := s.by[b.quality]
	dt := b.t - a.t
	if a.quality != b.quality || dt <= 0 || t == nil {
		return plane.Pt{}, 0, false
	}
	longer := max(dt/s.usual, 1)
	told, turn, hasTold := s.overTold(a, b, next)
	// Of the two velocities, those that tell steps better on this day.
	if hasTold && t.told.limit() < min(t.gone.limit(), bodily(s.usual)) {
		p := t.told.odds(told.Len() / math.Pow(longer, 1.5))
		return told, p, p > 0.5 && told.Len() > turn+t.least*longer
	}
	gone, turn := overGone(before, a, b, next)
	x := gone.Len()
	// What two fixes close together say of the pace is mostly noise.
	if before != nil && a.t > before.t {
		longer = max(longer, dt/(a.t-before.t))
	}
	if next != nil && next.t > b.t {
		longer = max(longer, dt/(next.t-b.t))
	}
	if x <= turn+t.least*longer || hasTold && told.Dot(gone) < x*x/2 {
		return gone, 0, false // within reach, or what the receiver says has most of it
	}
	if x > turn+bodily(dt) {
		return gone, 1, true
	}
	p := t.gone.odds(x / (longer * longer))
	return gone, p, p > 0.5
}

// bodily is the farthest, m, that a person takes an antenna in dt seconds out of the
// way between the velocities before and after: pushed at full strength one half of
// the time and braked the other, up to the pace of an arm.
func bodily(dt float64) float64 {
	return min(noise.HandAccel*dt*dt/4, noise.HandSpeed*dt/2)
}

// overTold is how far the way from a to b lies outside all ways between the two
// velocities that the receiver tells. Those of a receiver that filters them come
// late by what the day shows.
func (s *stepper) overTold(a, b, next *fix) (d plane.Pt, turn float64, ok bool) {
	dt := b.t - a.t
	if dt > noise.MaxBridge/2 || math.IsNaN(a.doppler.E) || math.IsNaN(b.doppler.E) {
		return plane.Pt{}, 0, false
	}
	late := s.lag.late(a, b, next)
	d, turn = outside(b.at.Sub(a.at).Sub(late), a.doppler, b.doppler, dt)
	return d, turn, true
}

// overGone is the same for the velocities of the ways before and after.
func overGone(before, a, b, next *fix) (d plane.Pt, turn float64) {
	dt := b.t - a.t
	v0, known := pace(before, a)
	v1, knownAfter := pace(b, next)
	if !known && !knownAfter {
		return d, 0 // two fixes alone say nothing
	}
	if known && v1.Dist(v0) > 2*noise.HandSpeed { // a wild fix behind
		v1 = v0
	}
	return outside(b.at.Sub(a.at), v0, v1, dt)
}

// pace is the velocity of the way from a to b; none where one is missing, for the
// person may have stood.
func pace(a, b *fix) (v plane.Pt, known bool) {
	if a == nil || b == nil || a.quality != b.quality || b.t <= a.t || b.t-a.t > noise.MaxBridge {
		return plane.Pt{}, false
	}
	return b.at.Sub(a.at).Mul(1 / (b.t - a.t)), true
}

// outside is by how much a way of dt seconds leaves all mixtures of the velocities v0
// before and v1 after, and by how much of that at the most who turns or starts may
// have slowed down for it, m.
func outside(way, v0, v1 plane.Pt, dt float64) (d plane.Pt, turn float64) {
	change := v1.Sub(v0)
	u := 0.0
	if l := change.Dot(change); l > 0 {
		u = min(max(way.Mul(1/dt).Sub(v0).Dot(change)/l, 0), 1)
	}
	return way.Sub(v0.Lerp(v1, u).Mul(dt)), change.Len() * dt / 2
}

// newStepper asks a day's fixes how late told velocities come and how far people's
// ways lie outside what velocities allow.
func newStepper(raw []fix, quick map[nmea.Quality]float64) *stepper {
	s := &stepper{usual: usualStep(raw)}
	s.lag = measureLag(raw, s.usual)
	for k := range raw {
		if q := raw[k].quality; s.by[q] == nil {
			s.by[q] = &tails{least: max(noise.LeastStep, 3*math.Sqrt(raw[k].total.Mean()), math.Sqrt(2*gate)*quick[q])}
		}
	}
	stride := max(1, len(raw)/100000)
	told, gone := map[nmea.Quality][]float64{}, map[nmea.Quality][]float64{}
	for k := 2; k+1 < len(raw); k += stride {
		before, a, b, next := &raw[k-2], &raw[k-1], &raw[k], &raw[k+1]
		q := b.quality
		if before.quality != q || a.quality != q || next.quality != q || !s.regular(before, a, b, next) {
			continue
		}
		d, _ := overGone(before, a, b, next)
		gone[q] = append(gone[q], d.Len())
		if d, _, ok := s.overTold(a, b, next); ok {
			told[q] = append(told[q], d.Len())
		}
	}
	for q, t := range s.by {
		if t != nil {
			hours := s.usual * float64(stride) / 3600
			t.told = tailOf(told[nmea.Quality(q)], hours)
			t.gone = tailOf(gone[nmea.Quality(q)], hours)
		}
	}
	return s
}

// regular reports whether fixes follow each other at the usual step.
func (s *stepper) regular(fixes ...*fix) bool {
	for k := 1; k < len(fixes); k++ {
		if math.Abs(fixes[k].t-fixes[k-1].t-s.usual) > 0.2*s.usual {
			return false
		}
	}
	return true
}

// A tail is the upper end of a day's excesses: rate of them an hour lie beyond u, and
// fall off exponentially from there, e-fold each m. (Peaks over a threshold: Davison,
// Smith, J. R. Stat. Soc. B 52, 1990, with shape 0.) The zero tail is unknown.
type tail struct{ u, m, rate float64 }

// A tail begins where tailRate excesses an hour lie beyond, many more than receivers
// step, and its fall is taken from there to four times as many.
const tailRate = 100

// tailOf gives the tail of a sample, each of whose values stands for so many hours.
func tailOf(sample []float64, hours float64) tail {
	const fewest = 60
	n := len(sample)
	if n < fewest {
		return tail{}
	}
	slices.Sort(sample)
	few := min(max(int(tailRate*hours*float64(n)), 6), n/10)
	u, wide := sample[n-1-few], sample[n-1-4*few]
	return tail{u: u, m: max((u-wide)/math.Log(4), u/10, 1e-3), rate: float64(few) / (hours * float64(n))}
}

// odds are those of an excess x being a step, against a person's doing.
func (t tail) odds(x float64) float64 {
	if t.rate == 0 {
		return 0
	}
	person := t.rate / t.m * math.Exp(-(x-t.u)/t.m)
	return noise.StepRate / (noise.StepRate + person)
}

// limit is the excess, m, beyond which the odds are in favour of a step.
func (t tail) limit() float64 {
	if t.rate == 0 {
		return math.Inf(1)
	}
	return t.u + t.m*math.Log(t.rate/(t.m*noise.StepRate))
}

// A lag says by how much told velocities come late: the way from a fix a to the next
// one, b, has own times the change of velocity over it, and then times the change
// after it, more than the mean of both velocities says, s. A receiver that filters
// with the time constant τ has own = τ.
type lag struct{ own, then float64 }

// late is what a lag adds to the way from a to b.
func (l lag) late(a, b, next *fix) plane.Pt {
	d := b.doppler.Sub(a.doppler).Mul(l.own)
	if next == nil || l.then == 0 || math.IsNaN(next.doppler.E) {
		return d
	}
	return d.Add(next.doppler.Sub(b.doppler).Mul(l.then))
}

// measureLag finds the lag by least squares over the day, twice: the second time
// without the ways that the first leaves far off.
func measureLag(raw []fix, usual float64) lag {
	var l lag
	limit := math.Inf(1)
	stride := max(1, len(raw)/50000)
	var left []float64
	for range 2 {
		var aa, ab, bb, aw, bw float64
		left = left[:0]
		for k := 1; k+1 < len(raw); k += stride {
			a, b, next := &raw[k-1], &raw[k], &raw[k+1]
			if a.quality != b.quality || b.quality != next.quality || b.t-a.t > 1.5*usual || next.t-b.t > 1.5*usual || b.t <= a.t {
				continue
			}
			x, y := b.doppler.Sub(a.doppler), next.doppler.Sub(b.doppler)
			w := b.at.Sub(a.at).Sub(a.doppler.Add(b.doppler).Mul((b.t - a.t) / 2))
			if math.IsNaN(x.E) || math.IsNaN(y.E) {
				continue
			}
			r := w.Sub(l.late(a, b, next)).Len()
			left = append(left, r)
			if r > limit {
				continue
			}
			aa, ab, bb = aa+x.Dot(x), ab+x.Dot(y), bb+y.Dot(y)
			aw, bw = aw+x.Dot(w), bw+y.Dot(w)
		}
		if det := aa*bb - ab*ab; len(left) >= 60 && det > 1e-9*aa*bb {
			l = lag{own: (aw*bb - bw*ab) / det, then: (bw*aa - aw*ab) / det}
			limit = 5 * median(left)
		}
	}
	return l
}
