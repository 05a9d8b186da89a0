package geodesy

import "math"

// Ellipsoid is an ellipsoid of revolution, made by NewEllipsoid. Its size and
// shape never change, so one may be shared between goroutines.
type Ellipsoid struct {
	name string
	a    float64 // semi-major axis, m
	f    float64 // flattening
	e2   float64 // first eccentricity squared, f(2 − f)
	e    float64 // first eccentricity
	n    float64 // third flattening, f/(2 − f)
}

// NewEllipsoid gives the ellipsoid with semi-major axis a (metres) and inverse
// flattening invF; invF = 0 means a sphere.
func NewEllipsoid(name string, a, invF float64) Ellipsoid {
	f := 0.0
	if invF != 0 {
		f = 1 / invF
	}
	e2 := f * (2 - f)
	return Ellipsoid{name: name, a: a, f: f, e2: e2, e: math.Sqrt(e2), n: f / (2 - f)}
}

// The defining constants are those of the EPSG dataset: ellipsoids 7030 and 7019.
var (
	wgs84 = NewEllipsoid("WGS 84", 6378137, 298.257223563)
	grs80 = NewEllipsoid("GRS 1980", 6378137, 298.257222101)
)

// WGS84 gives the ellipsoid of WGS 84 (EPSG:7030).
func WGS84() Ellipsoid { return wgs84 }

// GRS80 gives the ellipsoid of NAD83, ETRS89, GDA2020 and the ITRF (EPSG:7019).
// Its surface lies within 0.1 mm of WGS84's.
func GRS80() Ellipsoid { return grs80 }

// Name is the ellipsoid's name in the EPSG dataset.
func (el Ellipsoid) Name() string { return el.name }

// SemiMajor is the equatorial radius a, m.
func (el Ellipsoid) SemiMajor() float64 { return el.a }

// InverseFlattening is 1/f, and 0 for a sphere as in well-known text.
func (el Ellipsoid) InverseFlattening() float64 {
	if el.f == 0 {
		return 0
	}
	return 1 / el.f
}

// Eccentricity2 is the first eccentricity squared, e².
func (el Ellipsoid) Eccentricity2() float64 { return el.e2 }

// Radii gives the radii of curvature, m, at a latitude in degrees: meridian is
// along the meridian, prime across it.
func (el Ellipsoid) Radii(lat float64) (meridian, prime float64) {
	s := math.Sin(lat * degree)
	w2 := 1 - el.e2*s*s
	w := math.Sqrt(w2)
	return el.a * (1 - el.e2) / (w2 * w), el.a / w
}

const degree = math.Pi / 180 // one degree in radians

// conformalTan gives the tangent of the conformal latitude from tau, the
// tangent of the geodetic latitude (Karney 2011, eqs 7 to 9).
func (el Ellipsoid) conformalTan(tau float64) float64 {
	sec := math.Hypot(1, tau)
	sigma := math.Sinh(el.e * math.Atanh(el.e*tau/sec))
	return tau*math.Hypot(1, sigma) - sigma*sec
}

// geodeticTan undoes conformalTan by Newton's method (Karney 2011, eqs 19 to
// 21). Two rounds reach rounding error everywhere for the earth's flattening.
func (el Ellipsoid) geodeticTan(conformal float64) float64 {
	tau := conformal / (1 - el.e2)
	for range 5 {
		c := el.conformalTan(tau)
		d := (conformal - c) / math.Hypot(1, c) *
			(1 + (1-el.e2)*tau*tau) / ((1 - el.e2) * math.Hypot(1, tau))
		tau += d
		if !(math.Abs(d) > 1e-12*math.Max(1, math.Abs(tau))) {
			break
		}
	}
	return tau
}

// wrapDegrees brings an angle into [−180, 180] without touching one that is
// there already.
func wrapDegrees(a float64) float64 {
	if a >= -180 && a <= 180 {
		return a
	}
	return math.Remainder(a, 360)
}
