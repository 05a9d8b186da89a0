package track

import (
	"math"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
)

// A stepper finds steps of the position that the receiver's own velocity does not
// know of. Speed and course come from the Doppler shift, which wrong integers and
// reflected signals leave alone: where the position goes by more than the velocity
// says, it has jumped, even if by less than a person might have walked.
type stepper struct {
	limit float64 // m; +Inf when the receiver gives no velocity
}

// The least step that is looked for, m, and by how many times the usual difference
// between way and velocity it must stand out. Wrong integers move a position by
// decimetres at the least (a wavelength is 0.19 m).
const (
	leastStep  = 0.2
	standsOut  = 7.0
	fewestWays = 60
)

func newStepper(raw []fix) *stepper {
	var ways []float64
	stride := max(1, len(raw)/20000)
	for k := stride; k < len(raw); k += stride {
		if d, ok := wayOff(&raw[k-1], &raw[k]); ok {
			ways = append(ways, d.Len())
		}
	}
	if len(ways) < fewestWays {
		return &stepper{limit: math.Inf(1)}
	}
	return &stepper{limit: max(standsOut*median(ways), leastStep)}
}

// between gives the step from a to b, if there is one.
func (s *stepper) between(a, b *fix) (plane.Pt, bool) {
	d, ok := wayOff(a, b)
	// A turn between the two epochs may come early or late in the interval.
	turn := b.doppler.Sub(a.doppler).Len() * (b.t - a.t) / 2
	return d, ok && d.Len() > s.limit+turn
}

// wayOff is what the way from a to b has over the mean of both velocities.
func wayOff(a, b *fix) (plane.Pt, bool) {
	dt := b.t - a.t
	if a.quality != b.quality || dt > noise.MaxBridge/2 || dt <= 0 {
		return plane.Pt{}, false
	}
	v := a.doppler.Add(b.doppler).Mul(0.5)
	if math.IsNaN(v.E) || math.IsNaN(v.N) {
		return plane.Pt{}, false
	}
	return b.at.Sub(a.at).Sub(v.Mul(dt)), true
}
