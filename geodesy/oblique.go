package geodesy

import "math"

// hotine is the Hotine oblique Mercator projection, variants A and B (IOGP
// Guidance Note 7-2, EPSG methods 9812 and 9815; the letters are the note's).
// It is not for an azimuth of exactly 90°, which newSwiss does.
type hotine struct {
	el         Ellipsoid
	b, a, h    float64 // B, A (m), H
	sinG, cosG float64 // of γ0, the azimuth where the line crosses the equator
	lon0       float64 // λ0, degrees
	sinC, cosC float64 // of γc, from the rectified to the skew grid
	uc         float64 // u of the projection's centre, m; 0 in variant A
	fe, fn     float64
}

// newHotine: p holds φc, λc, αc, γc (degrees) and kc.
func newHotine(el Ellipsoid, p []float64, fe, fn float64, variantB bool) *hotine {
	lat, lon, azimuth := p[0], p[1], p[2]*degree
	sin, cos := math.Sincos(lat * degree)
	w2 := 1 - el.e2*sin*sin
	h := &hotine{el: el, fe: fe, fn: fn}
	h.b = math.Sqrt(1 + el.e2*cos*cos*cos*cos/(1-el.e2))
	h.a = el.a * h.b * p[4] * math.Sqrt(1-el.e2) / w2
	d := math.Max(1, h.b*math.Sqrt(1-el.e2)/(cos*math.Sqrt(w2)))
	root := math.Copysign(math.Sqrt(d*d-1), lat)
	f := d + root
	h.h = f * math.Exp(-h.b*el.isometric(lat)) // F·t^B
	g := (f - 1/f) / 2
	h.sinG = math.Sin(azimuth) / d
	h.cosG = math.Sqrt(1 - h.sinG*h.sinG)
	h.lon0 = lon - math.Asin(g*h.sinG/h.cosG)/h.b/degree
	h.sinC, h.cosC = math.Sincos(p[3] * degree)
	if variantB {
		h.uc = h.a / h.b * math.Atan2(root, math.Cos(azimuth))
	}
	return h
}

func (h *hotine) forward(lat, lon float64) (east, north float64) {
	q := h.h * math.Exp(h.b*h.el.isometric(lat)) // H/t^B
	s, t := (q-1/q)/2, (q+1/q)/2
	sinL, cosL := math.Sincos(h.b * wrapDegrees(lon-h.lon0) * degree)
	u := (s*h.sinG - sinL*h.cosG) / t
	v := -h.a / h.b * math.Atanh(u)
	along := h.a/h.b*math.Atan2(s*h.cosG+sinL*h.sinG, cosL) - h.uc
	return h.fe + v*h.cosC + along*h.sinC, h.fn + along*h.cosC - v*h.sinC
}

func (h *hotine) inverse(east, north float64) (lat, lon float64) {
	x, y := east-h.fe, north-h.fn
	v := x*h.cosC - y*h.sinC
	along := y*h.cosC + x*h.sinC + h.uc
	q := math.Exp(-h.b * v / h.a)
	s, t := (q-1/q)/2, (q+1/q)/2
	sinU, cosU := math.Sincos(h.b * along / h.a)
	u := (sinU*h.cosG + s*h.sinG) / t
	lat = h.el.latitude((math.Atanh(u) - math.Log(h.h)) / h.b)
	return lat, wrapDegrees(h.lon0 - math.Atan2(s*h.cosG-sinU*h.sinG, cosU)/h.b/degree)
}

// swiss is the oblique Mercator projection of Switzerland: conformal onto a
// sphere that touches the ellipsoid at the centre, then Mercator about an axis
// square to the centre's meridian. Source: swisstopo, "Formulas and constants
// for the calculation of the Swiss conformal cylindrical projection", section 3;
// the letters are the paper's.
type swiss struct {
	el         Ellipsoid
	lon0       float64
	alpha, k   float64 // of the conformal sphere
	r          float64 // its radius times the scale, m
	sinB, cosB float64 // of b0, the centre's latitude on it
	fe, fn     float64
}

func newSwiss(el Ellipsoid, lat0, lon0, k0, fe, fn float64) *swiss {
	sin, cos := math.Sincos(lat0 * degree)
	s := &swiss{el: el, lon0: lon0, fe: fe, fn: fn}
	s.alpha = math.Sqrt(1 + el.e2/(1-el.e2)*cos*cos*cos*cos)
	s.r = k0 * el.a * math.Sqrt(1-el.e2) / (1 - el.e2*sin*sin)
	s.sinB = sin / s.alpha
	s.cosB = math.Sqrt(1 - s.sinB*s.sinB)
	s.k = math.Atanh(s.sinB) - s.alpha*el.isometric(lat0)
	return s
}

func (s *swiss) forward(lat, lon float64) (east, north float64) {
	sinP := math.Tanh(s.alpha*s.el.isometric(lat) + s.k)
	cosP := math.Sqrt(1 - sinP*sinP)
	sinL, cosL := math.Sincos(s.alpha * wrapDegrees(lon-s.lon0) * degree)
	east = s.r * math.Atan2(sinL*cosP, s.sinB*sinP+s.cosB*cosP*cosL)
	north = s.r * math.Atanh(s.cosB*sinP-s.sinB*cosP*cosL)
	return s.fe + east, s.fn + north
}

func (s *swiss) inverse(east, north float64) (lat, lon float64) {
	sinP := math.Tanh((north - s.fn) / s.r)
	cosP := math.Sqrt(1 - sinP*sinP)
	sinL, cosL := math.Sincos((east - s.fe) / s.r)
	b := math.Atanh(s.cosB*sinP + s.sinB*cosP*cosL)
	l := math.Atan2(cosP*sinL, s.cosB*cosP*cosL-s.sinB*sinP)
	return s.el.latitude((b - s.k) / s.alpha), wrapDegrees(s.lon0 + l/s.alpha/degree)
}

// obliqueStereographic is the double projection of EPSG method 9809 (IOGP
// Guidance Note 7-2): conformal onto a sphere, then stereographic.
type obliqueStereographic struct {
	el         Ellipsoid
	lon0       float64
	n, c       float64 // of the conformal sphere
	r          float64 // its radius times the scale, m
	sinX, cosX float64 // of χ0, the origin's latitude on it
	fe, fn     float64
}

func newObliqueStereographic(el Ellipsoid, lat0, lon0, k0, fe, fn float64) *obliqueStereographic {
	sin, cos := math.Sincos(lat0 * degree)
	w2 := 1 - el.e2*sin*sin
	o := &obliqueStereographic{el: el, lon0: lon0, fe: fe, fn: fn}
	o.r = k0 * el.a * math.Sqrt(1-el.e2) / w2
	o.n = math.Sqrt(1 + el.e2*cos*cos*cos*cos/(1-el.e2))
	// The note's χ0 has sin χ0 = sin φ0/n; c moves the isometric latitudes so.
	o.sinX = sin / o.n
	o.cosX = math.Sqrt(1 - o.sinX*o.sinX)
	o.c = math.Atanh(o.sinX) - o.n*el.isometric(lat0)
	return o
}

func (o *obliqueStereographic) forward(lat, lon float64) (east, north float64) {
	sinP := math.Tanh(o.n*o.el.isometric(lat) + o.c)
	cosP := math.Sqrt(1 - sinP*sinP)
	sinL, cosL := math.Sincos(o.n * wrapDegrees(lon-o.lon0) * degree)
	b := 1 + sinP*o.sinX + cosP*o.cosX*cosL
	return o.fe + 2*o.r*cosP*sinL/b, o.fn + 2*o.r*(sinP*o.cosX-cosP*o.sinX*cosL)/b
}

func (o *obliqueStereographic) inverse(east, north float64) (lat, lon float64) {
	x, y := (east-o.fe)/(2*o.r), (north-o.fn)/(2*o.r)
	// c is the angle from the origin, of which ρ is the tangent of the half.
	rho2 := x*x + y*y
	cosC, sinCr := (1-rho2)/(1+rho2), 2/(1+rho2) // cos c, sin c/ρ
	sinP := cosC*o.sinX + y*sinCr*o.cosX
	l := math.Atan2(x*sinCr, o.cosX*cosC-y*sinCr*o.sinX)
	return o.el.latitude((math.Atanh(sinP) - o.c) / o.n), wrapDegrees(o.lon0 + l/o.n/degree)
}
