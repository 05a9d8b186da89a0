package export

import (
	"math"

	"tracemap/fuse/noise"
	"tracemap/nmea"
)

// The factors that turn one σ into 95 %. They are applied here and nowhere
// else: whatever has _95 or half_width in its name has passed through this file.
const (
	// ninetyFiveLine is the two-sided 95 % quantile of the normal distribution
	// in one dimension (1.95996): across a line, or in depth.
	ninetyFiveLine = noise.K95
	// ninetyFiveCircle is √χ²(2; 0.95) = 2.44775: the radius of the circle that
	// holds 95 % of a circular normal distribution in the plane.
	ninetyFiveCircle = 2.448
)

// HalfWidth is the distance, m, within which the true line lies 95 % of the
// time, measured across the line on either side, from one σ across the line.
func HalfWidth(sigma float64) float64 { return ninetyFiveLine * sigma }

// Depth95 is the 95 % bound, m, of a depth or a height from its one σ.
func Depth95(sigma float64) float64 { return ninetyFiveLine * sigma }

// Radius95 is the radius, m, of the circle that holds a located point 95 % of
// the time, from one σ of its worse axis. For an elongated error it is on the
// safe side.
func Radius95(sigma float64) float64 { return ninetyFiveCircle * sigma }

// strength orders fix qualities from the weakest to the strongest.
var strength = map[nmea.Quality]int{
	nmea.QualityNone: 0, nmea.QualitySimulator: 1, nmea.QualityUnknown: 2, nmea.QualityManual: 3,
	nmea.QualityEstimated: 4, nmea.QualityAutonomous: 5, nmea.QualityDGPS: 6, nmea.QualityPPS: 7,
	nmea.QualityRTKFloat: 8, nmea.QualityRTKFixed: 9,
}

// Weaker gives the weaker of two fix qualities.
func Weaker(a, b nmea.Quality) nmea.Quality {
	if strength[b] < strength[a] {
		return b
	}
	return a
}

// known reports whether a measurement is there and finite.
func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// round rounds v to a number of decimals; halves away from zero, no minus zero.
func round(v float64, decimals int) float64 {
	k := math.Pow10(decimals)
	if r := math.Round(v*k) / k; r != 0 {
		return r
	}
	return 0
}

// FixName is a fix quality before people.
func FixName(q nmea.Quality) string {
	switch q {
	case nmea.QualityRTKFixed:
		return "RTK fixed"
	case nmea.QualityRTKFloat:
		return "RTK float"
	case nmea.QualityDGPS:
		return "differential"
	case nmea.QualityPPS:
		return "PPS"
	case nmea.QualityNone:
		return "no fix"
	}
	return q.String()
}
