package fuse

import (
	"math"

	"tracemap/geodesy/plane"
)

// angle from direction a to direction b, radians, positive to the left.
func angle(a, b plane.Pt) float64 { return math.Atan2(a.Cross(b), a.Dot(b)) }
