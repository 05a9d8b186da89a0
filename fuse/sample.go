package fuse

import (
	"math"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// A sample is what the fit of a part needs of a placed reading.
type sample struct {
	i       int // index of the placed reading
	at      plane.Pt
	t       float64    // s
	quick   float64    // variance of the quick GNSS error and the tilt, m²
	white   float64    // variance across the line of what is independent, m²
	shared  float64    // σ of the pin-pointing that neighbours share, m
	slow    [3]float64 // covariance EE, NN, EN of the slow GNSS error, m²
	chain   int
	tau     float64  // s, correlation time of the slow error
	shift   plane.Pt // where the reading goes if the clock is off by one of its σ, m
	local   float64  // variance for finding the shape: what differs between near readings, m²
	unrest  float64  // variance beside all these where readings scatter more than they should, m²
	out     bool     // set aside by the robust steps
	guide   bool     // set aside, but so near that it tells roughly where the line lies
	quality nmea.Quality
}

// weight for finding the shape, m⁻².
func (s *sample) weight() float64 {
	if !s.held() {
		return 0
	}
	return 1 / (s.local + s.doubt())
}

// held reports whether the sample takes part in the fit of the shape.
func (s *sample) held() bool { return !s.out || s.guide }

// doubt is the variance beside a reading's own, m²: unrest, and for one that has
// been set aside how far off another line lies.
func (s *sample) doubt() float64 {
	if s.out {
		return s.unrest + sq(lockLateral)
	}
	return s.unrest
}

// scales multiply the prior σ of each kind of error; 1 is the table.
type scales struct {
	white, shared float64 // pin-pointing
	gnss          map[nmea.Quality]float64
	depthWhite    float64
	depthShared   float64
}

func unitScales() scales {
	return scales{white: 1, shared: 1, depthWhite: 1, depthShared: 1, gnss: map[nmea.Quality]float64{}}
}

func (sc *scales) of(q nmea.Quality) float64 {
	if k, ok := sc.gnss[q]; ok {
		return k
	}
	return 1
}

// samplesOf prepares the readings of a part, in order along it.
func samplesOf(ps []Placed, path []int, depth float64, sc *scales) []sample {
	out := make([]sample, len(path))
	pace := paceOf(ps, path)
	for k, i := range path {
		p := &ps[i]
		pin := noise.PinSigma(p.Reading, depth)
		g := sc.of(p.Quality)
		s := &out[k]
		*s = sample{i: i, at: p.At, t: p.T, chain: p.Chain, quality: p.Quality}
		s.tau = noise.Fixes[p.Quality].Tau
		s.quick = p.QuickVar
		s.white = s.quick + sq(sc.white*pin)*(1-noise.PinShared)/p.worth()
		s.shared = sc.shared * pin * math.Sqrt(noise.PinShared)
		if n := math.Abs(p.Reading.NullOffset); n > 0 {
			s.shared = math.Hypot(s.shared, noise.NullShare*n)
		}
		s.slow = [3]float64{g * g * p.SlowE, g * g * p.SlowN, g * g * p.SlowEN}
		s.shift = p.ClockShift
		// Over some twenty metres of line the slow error drifts by this much.
		drift := 1 - math.Exp(-20*pace/s.tau)
		s.local = s.white + sq(s.shared) + drift*(s.slow[0]+s.slow[1])/2
	}
	return out
}

// paceOf is the usual time the crew took for a metre of this part, s/m.
func paceOf(ps []Placed, path []int) float64 {
	var t, l float64
	for k := 1; k < len(path); k++ {
		a, b := &ps[path[k-1]], &ps[path[k]]
		if dt := math.Abs(b.T - a.T); dt < longPause {
			t += dt
			l += a.At.Dist(b.At)
		}
	}
	if l == 0 {
		return 1
	}
	return t / l
}

func sq(x float64) float64 { return x * x }

// across is the slow σ of a sample along the unit vector n.
func (s *sample) across(n plane.Pt) float64 {
	v := n.E*n.E*s.slow[0] + n.N*n.N*s.slow[1] + 2*n.E*n.N*s.slow[2]
	return math.Sqrt(max(v, 0))
}

// independent is the variance of what no other sample shares, m².
func (s *sample) independent() float64 { return s.white + (1-noise.PinShared)*s.doubt() }

// sharedWith is the covariance of pin-pointing, by the way between the stations.
func (a *sample) sharedWith(b *sample, sa, sb float64) float64 {
	return a.shared * b.shared * math.Exp(-math.Abs(sa-sb)/noise.PinLength)
}

// unrestWith is the covariance of doubt – a distorted field, another line –: neighbours
// share as much of it as of the pin-pointing.
func (a *sample) unrestWith(b *sample, sa, sb float64) float64 {
	return noise.PinShared * math.Sqrt(a.doubt()*b.doubt()) * math.Exp(-math.Abs(sa-sb)/noise.PinLength)
}

// slowWith is the covariance of the slow GNSS error, by the time between.
func (a *sample) slowWith(b *sample, na, nb plane.Pt) float64 {
	if a.quality != b.quality {
		return 0
	}
	rho := math.Exp(-math.Abs(a.t-b.t) / a.tau)
	if a.chain != b.chain {
		rho *= otherChain
	}
	return a.across(na) * b.across(nb) * na.Dot(nb) * rho
}

// otherChain is how much of the slow error two chains of one quality have in
// common: the fix was lost in between, but orbits and ionosphere stay.
const otherChain = 0.7
