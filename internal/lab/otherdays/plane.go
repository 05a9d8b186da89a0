package otherdays

import "math"

// A spot is a place in the tangent plane of the day, metres.
type spot struct{ e, n float64 }

func (p spot) plus(q spot, k float64) spot { return spot{p.e + k*q.e, p.n + k*q.n} }
func (p spot) minus(q spot) spot           { return spot{p.e - q.e, p.n - q.n} }
func (p spot) length() float64             { return math.Hypot(p.e, p.n) }
func (p spot) left() spot                  { return spot{-p.n, p.e} }

// heading returns the unit vector of an angle counted from east towards north.
func heading(a float64) spot { return spot{math.Cos(a), math.Sin(a)} }

// A plane ties east and north to latitude and longitude by the radii of
// curvature of the WGS 84 ellipsoid at the origin. A few hundred metres away
// its metre is true to 1 part in 10⁴; truth and log use the same plane, so
// nothing is lost between them.
type plane struct{ lat, lon float64 }

func (o plane) degrees(p spot) (lat, lon float64) {
	const a, e2 = 6378137.0, 0.00669437999014
	phi := o.lat * math.Pi / 180
	w := 1 - e2*math.Sin(phi)*math.Sin(phi)
	meridian, prime := a*(1-e2)/(w*math.Sqrt(w)), a/math.Sqrt(w)
	return o.lat + p.n/meridian*180/math.Pi, o.lon + p.e/(prime*math.Cos(phi))*180/math.Pi
}
