// Package plane holds the geometry of metric polylines in a local map plane:
// stations, offsets, crossings, simplification and corridors. It knows nothing
// of utilities or of the earth. All lengths are metres; azimuths are degrees
// clockwise from north; offsets are positive to the left of the drawn direction.
package plane

import "math"

// Pt is a point or a vector in the plane: east and north, metres.
type Pt struct{ E, N float64 }

// Add gives p + q.
func (p Pt) Add(q Pt) Pt { return Pt{p.E + q.E, p.N + q.N} }

// Sub gives p − q.
func (p Pt) Sub(q Pt) Pt { return Pt{p.E - q.E, p.N - q.N} }

// Mul gives k·p.
func (p Pt) Mul(k float64) Pt { return Pt{k * p.E, k * p.N} }

// Dot is the scalar product.
func (p Pt) Dot(q Pt) float64 { return p.E*q.E + p.N*q.N }

// Cross is the third component of the vector product p × q: positive when q
// lies to the left of p.
func (p Pt) Cross(q Pt) float64 { return p.E*q.N - p.N*q.E }

// Len is the length of p as a vector.
func (p Pt) Len() float64 { return math.Hypot(p.E, p.N) }

// Dist is the distance between p and q.
func (p Pt) Dist(q Pt) float64 { return p.Sub(q).Len() }

// Unit gives p with length 1, and p itself when it is the zero vector.
func (p Pt) Unit() Pt {
	if l := p.Len(); l > 0 {
		return p.Mul(1 / l)
	}
	return p
}

// Left is p turned a quarter turn to the left.
func (p Pt) Left() Pt { return Pt{-p.N, p.E} }

// Lerp is the point at fraction t of the way from p to q.
func (p Pt) Lerp(q Pt, t float64) Pt { return Pt{p.E + t*(q.E-p.E), p.N + t*(q.N-p.N)} }
