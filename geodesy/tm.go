package geodesy

import "math"

// transverseMercator is the transverse Mercator projection by Krüger's series
// in the third flattening n to order 6.
//
// Error of the series: below 5 nm within 3900 km of the central meridian, so
// that rounding decides (some nanometres). Source: C. F. F. Karney,
// "Transverse Mercator with an accuracy of a few nanometers", J. Geodesy 85
// (2011) 475–485, eqs 11 to 36.
type transverseMercator struct {
	el         Ellipsoid
	lat0, lon0 float64 // natural origin, degrees
	k0         float64
	fe, fn     float64 // false easting and northing, m

	radius      float64    // k0 × radius of the rectifying sphere, m
	north0      float64    // northing of the natural origin above the equator, m
	alpha, beta [6]float64 // coefficients of sin 2jξ, j = 1…6
}

func newTransverseMercator(el Ellipsoid, lat0, lon0, k0, fe, fn float64) *transverseMercator {
	n := el.n
	n2 := n * n
	t := &transverseMercator{el: el, lat0: lat0, lon0: lon0, k0: k0, fe: fe, fn: fn}
	t.radius = k0 * el.a / (1 + n) * (1 + n2*(1./4+n2*(1./64+n2/256)))
	t.alpha = [6]float64{
		n * (1./2 + n*(-2./3+n*(5./16+n*(41./180+n*(-127./288+n*7891./37800))))),
		n2 * (13./48 + n*(-3./5+n*(557./1440+n*(281./630+n*-1983433./1935360)))),
		n2 * n * (61./240 + n*(-103./140+n*(15061./26880+n*167603./181440))),
		n2 * n2 * (49561./161280 + n*(-179./168+n*6601661./7257600)),
		n2 * n2 * n * (34729./80640 + n*-3418889./1995840),
		n2 * n2 * n2 * 212378941. / 319334400,
	}
	t.beta = [6]float64{
		n * (1./2 + n*(-2./3+n*(37./96+n*(-1./360+n*(-81./512+n*96199./604800))))),
		n2 * (1./48 + n*(1./15+n*(-437./1440+n*(46./105+n*-1118711./3870720)))),
		n2 * n * (17./480 + n*(-37./840+n*(-209./4480+n*5569./90720))),
		n2 * n2 * (4397./161280 + n*(-11./504+n*-830251./7257600)),
		n2 * n2 * n * (4583./161280 + n*-108847./3991680),
		n2 * n2 * n2 * 20648693. / 638668800,
	}
	xi0, _ := t.sphere(lat0, 0)
	t.north0 = t.radius * xi0
	return t
}

// sphere gives Karney's ξ and η: northing and easting on the rectifying sphere
// of radius 1, for a latitude and a longitude from the central meridian.
func (t *transverseMercator) sphere(lat, dlon float64) (xi, eta float64) {
	tau := t.el.conformalTan(math.Tan(lat * degree))
	sin, cos := math.Sincos(dlon * degree)
	xi = math.Atan2(tau, cos)
	eta = math.Asinh(sin / math.Hypot(tau, cos))
	dx, de := krugerSum(&t.alpha, xi, eta)
	return xi + dx, eta + de
}

// forward projects; it never fails, but beyond about 80° from the central
// meridian the result has no use.
func (t *transverseMercator) forward(lat, lon float64) (east, north float64) {
	xi, eta := t.sphere(lat, wrapDegrees(lon-t.lon0))
	return t.fe + t.radius*eta, t.fn + (t.radius*xi - t.north0)
}

func (t *transverseMercator) inverse(east, north float64) (lat, lon float64) {
	xi := (north - t.fn + t.north0) / t.radius
	eta := (east - t.fe) / t.radius
	dx, de := krugerSum(&t.beta, xi, eta)
	xi, eta = xi-dx, eta-de
	sin, cos := math.Sincos(xi)
	sinh := math.Sinh(eta)
	tau := t.el.geodeticTan(sin / math.Hypot(sinh, cos))
	return math.Atan(tau) / degree, wrapDegrees(math.Atan2(sinh, cos)/degree + t.lon0)
}

// krugerSum gives the real and imaginary part of Σ cⱼ sin 2j(ξ + iη) by
// Clenshaw's recurrence, which needs one sine and one hyperbolic sine only.
func krugerSum(c *[6]float64, xi, eta float64) (re, im float64) {
	s, k := math.Sincos(2 * xi)
	sh, ch := math.Sinh(2*eta), math.Cosh(2*eta)
	ar, ai := 2*k*ch, -2*s*sh // 2 cos 2ζ
	var b1r, b1i, b2r, b2i float64
	for j := len(c) - 1; j >= 0; j-- {
		br := c[j] + ar*b1r - ai*b1i - b2r
		bi := ar*b1i + ai*b1r - b2i
		b1r, b1i, b2r, b2i = br, bi, b1r, b1i
	}
	sr, si := s*ch, k*sh // sin 2ζ
	return b1r*sr - b1i*si, b1r*si + b1i*sr
}
