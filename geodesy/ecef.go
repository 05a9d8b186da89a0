package geodesy

import "math"

// XYZ is a geocentric position, metres: Z to the north pole, X to latitude 0
// longitude 0, Y to longitude 90° east.
type XYZ struct{ X, Y, Z float64 }

// ToXYZ gives the geocentric position of a place on or off the ellipsoid. The
// height must be known: NaN in gives NaN out. Exact to rounding, a nanometre.
func (el Ellipsoid) ToXYZ(g Geo) XYZ {
	sinLat, cosLat := math.Sincos(g.Lat * degree)
	sinLon, cosLon := math.Sincos(g.Lon * degree)
	n := el.a / math.Sqrt(1-el.e2*sinLat*sinLat)
	return XYZ{
		X: (n + g.H) * cosLat * cosLon,
		Y: (n + g.H) * cosLat * sinLon,
		Z: (n*(1-el.e2) + g.H) * sinLat,
	}
}

// ToGeo gives latitude, longitude and height of a geocentric position, with
// errors below 1e-9 m + 1e-15 of the distance from the centre, for heights from
// −5,000 km up. At the poles the longitude is that of atan2; at the centre of
// the earth the answer has no meaning but is finite.
//
// Bowring's iteration on the reduced latitude (Survey Review 28, 1985, 202–206)
// gains five digits a round near the ground.
func (el Ellipsoid) ToGeo(p XYZ) Geo {
	r := math.Hypot(p.X, p.Y)
	b := el.a * (1 - el.f)
	ep2 := el.e2 / (1 - el.e2)
	sinB, cosB := unitVector(p.Z*(1-el.f)*(1+ep2*b/math.Hypot(r, p.Z)), r)
	var sinLat, cosLat float64
	for range 10 {
		sinLat, cosLat = unitVector(p.Z+ep2*b*sinB*sinB*sinB, r-el.e2*el.a*cosB*cosB*cosB)
		s, c := unitVector((1-el.f)*sinLat, cosLat)
		settled := math.Abs(s*cosB-c*sinB) < 1e-15
		sinB, cosB = s, c
		if settled {
			break
		}
	}
	w := math.Sqrt(1 - el.e2*sinLat*sinLat)
	return Geo{
		Lat: math.Atan2(sinLat, cosLat) / degree,
		Lon: math.Atan2(p.Y, p.X) / degree,
		// r cos φ + z sin φ − a w holds at the poles and on the equator alike.
		H: r*cosLat + p.Z*sinLat - el.a*w,
	}
}

// unitVector scales (s, c) to length 1.
func unitVector(s, c float64) (float64, float64) {
	if l := math.Hypot(s, c); l > 0 {
		return s / l, c / l
	}
	return 0, 1
}
