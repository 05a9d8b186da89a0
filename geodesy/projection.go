package geodesy

import (
	"fmt"
	"math"
)

// projection turns latitude and longitude, degrees, into east and north,
// metres, and back. Places where it has no value give NaN or an infinity.
type projection interface {
	forward(lat, lon float64) (east, north float64)
	inverse(east, north float64) (lat, lon float64)
}

// newProjection makes a projection by the name of its method in the table and
// its parameters in the table's order: angles in degrees, lengths in units of
// unit metres.
func newProjection(method string, el Ellipsoid, p []float64, unit float64) (projection, error) {
	switch method {
	case "tm": // EPSG 9807: φ0, λ0, k0, FE, FN
		return newTransverseMercator(el, p[0], p[1], p[2], p[3]*unit, p[4]*unit), nil
	case "lcc1": // EPSG 9801: φ0, λ0, k0, FE, FN
		return newLambertConic(el, p[0], p[1], p[0], p[0], p[2], p[3]*unit, p[4]*unit), nil
	case "lcc2": // EPSG 9802: φF, λF, φ1, φ2, EF, NF
		return newLambertConic(el, p[0], p[1], p[2], p[3], 1, p[4]*unit, p[5]*unit), nil
	case "homA": // EPSG 9812: φc, λc, αc, γc, kc, FE, FN
		return newHotine(el, p, p[5]*unit, p[6]*unit, false), nil
	case "homB": // EPSG 9815: the same with Ec, Nc
		return newHotine(el, p, p[5]*unit, p[6]*unit, true), nil
	case "swiss": // EPSG 9815 with αc = γc = 90°
		return newSwiss(el, p[0], p[1], p[4], p[5]*unit, p[6]*unit), nil
	case "sterea": // EPSG 9809: φ0, λ0, k0, FE, FN
		return newObliqueStereographic(el, p[0], p[1], p[2], p[3]*unit, p[4]*unit), nil
	}
	return nil, fmt.Errorf("unknown projection method %q", method)
}

// isometric gives the isometric latitude ψ of a latitude in degrees.
func (el Ellipsoid) isometric(lat float64) float64 {
	return math.Asinh(el.conformalTan(math.Tan(lat * degree)))
}

// latitude gives the latitude in degrees of an isometric latitude.
func (el Ellipsoid) latitude(psi float64) float64 {
	return math.Atan(el.geodeticTan(math.Sinh(psi))) / degree
}

// lambertConic is the Lambert conformal conic projection with one or two
// standard parallels (IOGP Guidance Note 7-2, EPSG methods 9801 and 9802), by
// isometric latitudes instead of the note's t = exp(−ψ).
type lambertConic struct {
	el     Ellipsoid
	lon0   float64
	n      float64 // constant of the cone
	scale  float64 // k0·a·F, m
	r0     float64 // radius of the parallel of the origin, m
	fe, fn float64
}

// newLambertConic: lat0, lon0 is the origin of the false coordinates, lat1 and
// lat2 are the standard parallels, which may be the same one.
func newLambertConic(el Ellipsoid, lat0, lon0, lat1, lat2, k0, fe, fn float64) *lambertConic {
	m := func(lat float64) float64 {
		s, c := math.Sincos(lat * degree)
		return c / math.Sqrt(1-el.e2*s*s)
	}
	psi1 := el.isometric(lat1)
	n := math.Sin(lat1 * degree)
	if lat1 != lat2 {
		n = (math.Log(m(lat1)) - math.Log(m(lat2))) / (el.isometric(lat2) - psi1)
	}
	c := &lambertConic{el: el, lon0: lon0, n: n, fe: fe, fn: fn}
	c.scale = k0 * el.a * m(lat1) / n * math.Exp(n*psi1)
	c.r0 = c.scale * math.Exp(-n*el.isometric(lat0))
	return c
}

func (c *lambertConic) forward(lat, lon float64) (east, north float64) {
	r := c.scale * math.Exp(-c.n*c.el.isometric(lat))
	sin, cos := math.Sincos(c.n * wrapDegrees(lon-c.lon0) * degree)
	return c.fe + r*sin, c.fn + (c.r0 - r*cos)
}

func (c *lambertConic) inverse(east, north float64) (lat, lon float64) {
	x, y := east-c.fe, c.r0-(north-c.fn)
	if c.n < 0 {
		x, y = -x, -y
	}
	r := math.Copysign(math.Hypot(x, y), c.n)
	lat = c.el.latitude(-math.Log(r/c.scale) / c.n)
	return lat, wrapDegrees(math.Atan2(x, y)/c.n/degree + c.lon0)
}
