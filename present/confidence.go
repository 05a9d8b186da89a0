package present

import (
	"tracemap/fuse/noise"
)

// The factors that turn one σ into 95 %. They are applied here and nowhere
// else: whatever has _95 or half_width in its name has passed through this file.
const (
	// Line95 is the two-sided 95 % quantile of the normal distribution
	// in one dimension (1.95996): across a line, or in depth.
	Line95 = noise.K95
	// Circle95 is √χ²(2; 0.95) = 2.44775: the radius of the circle that
	// holds 95 % of a circular normal distribution in the plane.
	Circle95 = 2.448
)

// HalfWidth is the distance, m, within which the true line lies 95 % of the
// time, measured across the line on either side, from one σ across the line.
func HalfWidth(sigma float64) float64 { return Line95 * sigma }

// Depth95 is the 95 % bound, m, of a depth or a height from its one σ.
func Depth95(sigma float64) float64 { return Line95 * sigma }

// Radius95 is the radius, m, of the circle that holds a located point 95 % of
// the time, from one σ of its worse axis. For an elongated error it is on the
// safe side.
func Radius95(sigma float64) float64 { return Circle95 * sigma }
