package geodesy

import (
	"math"

	"tracemap/geodesy/plane"
)

// Local is a map plane about one place: a transverse Mercator projection on
// the ellipsoid of WGS 84 with scale 1 on the meridian of its origin. East and
// north are metres from the origin. Being conformal, it keeps angles; lengths
// are long by E²/2R² where E is the distance east or west of the origin:
//
//	E       length error   over 1 km
//	1 km    1.2e-8         0.01 mm
//	5 km    3.1e-7         0.3 mm
//	10 km   1.2e-6         1.2 mm
//	25 km   7.7e-6         7.7 mm
//	50 km   3.1e-5         31 mm
//
// North or south of the origin there is no such error. Grid north leaves true
// north by the meridian convergence, about (longitude difference) × sin(lat):
// 0.07° at 10 km east of an origin at 52° north. Use one Local a site.
//
// Lengths are on the ellipsoid: at height h the ground is longer by h/R, which
// is 78 mm a kilometre at 500 m.
//
// The same plane serves ITRF, ETRS89, NAD83 and GDA2020, whose ellipsoid
// GRS 80 differs by less than 0.1 mm; it does no datum shift. A Local is safe
// for use by several goroutines.
type Local struct {
	origin Geo
	tm     *transverseMercator
}

// NewLocal gives the map plane with its origin at a place; the height of the
// origin is kept for Origin only. An origin that is not a place on earth (NaN,
// infinite, a latitude beyond ±90) makes a plane whose every answer is NaN.
func NewLocal(origin Geo) *Local {
	lat := origin.Lat
	if math.Abs(lat) > 90 || math.IsInf(origin.Lon, 0) {
		lat = math.NaN()
	}
	return &Local{origin: origin, tm: newTransverseMercator(wgs84, lat, origin.Lon, 1, 0, 0)}
}

// Origin is the place given to NewLocal.
func (l *Local) Origin() Geo { return l.origin }

// Forward gives the east and north, m, of a place; its height is ignored. The
// error is some nanometres within 1000 km. NaN in gives NaN out. Longitudes
// may be on either side of the date line. About 0.3 µs, no allocation.
func (l *Local) Forward(g Geo) plane.Pt {
	e, n := l.tm.forward(g.Lat, g.Lon)
	return plane.Pt{E: e, N: n}
}

// Inverse gives the place at an east and north; its height is NaN, for the
// plane holds none. Longitude lies in [−180, 180]. Forward(Inverse(p)) differs
// from p by less than 10 nm within 1000 km of the origin.
func (l *Local) Inverse(p plane.Pt) Geo {
	lat, lon := l.tm.inverse(p.E, p.N)
	return Geo{Lat: lat, Lon: lon, H: math.NaN()}
}
