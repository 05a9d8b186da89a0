package noise

import (
	"math"

	"tracemap/nmea"
)

// Horizontal is the covariance of a position's total horizontal error, m².
type Horizontal struct{ EE, NN, EN float64 }

// Mean is the variance of an average horizontal axis.
func (h Horizontal) Mean() float64 { return (h.EE + h.NN) / 2 }

// Plus is h with k times o added.
func (h Horizontal) Plus(o Horizontal, k float64) Horizontal {
	return Horizontal{EE: h.EE + k*o.EE, NN: h.NN + k*o.NN, EN: h.EN + k*o.EN}
}

// Of gives the covariance of an epoch's horizontal error and its vertical σ, m:
// the receiver's own GST where there is one, floored, else the table's σ for
// the fix quality times HDOP. HDOP×σ is per axis here, not the radial DRMS.
func Of(e *nmea.Epoch) (h Horizontal, vertical float64) {
	f := Fixes[e.Quality]
	if e.HasGST() {
		n := max(float64(e.SigmaN), f.Floor)
		ea := max(float64(e.SigmaE), f.Floor)
		h = Horizontal{EE: ea * ea, NN: n * n, EN: float64(e.CovNE)}
		if limit := 0.95 * ea * n; math.Abs(h.EN) > limit {
			h.EN = math.Copysign(limit, h.EN)
		}
		vertical = float64(e.SigmaU)
		if !(vertical > 0) {
			vertical = f.Vertical * math.Sqrt(h.Mean())
		}
		return h, max(vertical, f.Floor*f.Vertical)
	}
	dop := float64(e.HDOP)
	if !(dop > 0) {
		dop = 1.2
	}
	// Below 1 a DOP tells of many satellites, not of a better antenna: an RTK car
	// with 0.8 scattered 0.03 m where 0.012 m was claimed. Above 20 it tells of the
	// receiver's habits.
	s := f.Sigma * min(max(dop, 1), 20)
	s = max(s, f.Floor)
	return Horizontal{EE: s * s, NN: s * s}, s * f.Vertical
}
