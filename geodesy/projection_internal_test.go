package geodesy

import (
	"math"
	"testing"
)

// dms gives degrees from degrees, minutes and seconds.
func dms(d, m, s float64) float64 { return d + m/60 + s/3600 }

// Worked examples of IOGP Guidance Note 7-2 (and one of its test series GIGS)
// on ellipsoids that no built-in system uses. The figures are printed to the
// centimetre or with rounded constants, hence the tolerances; cs2cs (PROJ 9.1.1)
// gives the same as we within 1 mm. Figures marked * are from memory.
func TestProjectionsWorkedExamples(t *testing.T) {
	airy := NewEllipsoid("Airy 1830", 6377563.396, 299.3249646)
	clarke := NewEllipsoid("Clarke 1866", 6378206.4, 6378206.4/(6378206.4-6356583.8))
	bessel := NewEllipsoid("Bessel 1841", 6377397.155, 299.1528128)
	everest := NewEllipsoid("Everest 1830 (1967 Definition)", 6377298.556, 300.8017)
	const usFoot = 1200. / 3937
	for _, c := range []struct {
		name     string
		method   string
		el       Ellipsoid
		params   []float64
		unit     float64
		lat, lon float64
		e, n     float64 // in the unit
		tol      float64 // in the unit
	}{
		{"transverse Mercator, British National Grid", "tm", airy, []float64{49, -2, 0.9996012717, 400000, -100000}, 1, 50.5, 0.5, 577274.99, 69740.50, 0.01},
		{"transverse Mercator, GIGS 5101, 3° E 60° N", "tm", wgs84, []float64{49, -2, 0.9996012717, 400000, -100000}, 1, 60, 3, 678711.584, 1134498.83, 0.03},
		{"transverse Mercator, GIGS 5101, 3° E 49° N", "tm", wgs84, []float64{49, -2, 0.9996012717, 400000, -100000}, 1, 49, 3, 765648.501, -87944.74, 0.03},
		{"transverse Mercator, GIGS 5101, 3° E 40° S", "tm", wgs84, []float64{49, -2, 0.9996012717, 400000, -100000}, 1, -40, 3, 826893.845, -9967215.251, 0.03},
		{"Lambert, one parallel, Jamaica*", "lcc1", clarke, []float64{18, -77, 1, 250000, 150000}, 1, dms(17, 55, 55.8), -dms(76, 56, 37.26), 255966.58, 142493.51, 0.01},
		{"Lambert, two parallels, Texas South Central*", "lcc2", clarke, []float64{dms(27, 50, 0), -99, dms(28, 23, 0), dms(30, 17, 0), 2000000, 0}, usFoot, 28.5, -96, 2963503.91, 254759.80, 0.01},
		{"oblique stereographic, Netherlands*", "sterea", bessel, []float64{dms(52, 9, 22.178), dms(5, 23, 15.5), 0.9999079, 155000, 463000}, 1, 53, 6, 196105.283, 557057.739, 0.002},
		{"Hotine, variant B, Timbalai*", "homB", everest, []float64{4, 115, dms(53, 18, 56.9537), dms(53, 7, 48.3685), 0.99984, 590476.87, 442857.65}, 1,
			dms(5, 23, 14.1129), dms(115, 48, 19.8196), 679245.73, 596562.78, 0.01},
	} {
		p, err := newProjection(c.method, c.el, c.params, c.unit)
		if err != nil {
			t.Fatal(err)
		}
		e, n := p.forward(c.lat, c.lon)
		if !(math.Abs(e/c.unit-c.e) <= c.tol && math.Abs(n/c.unit-c.n) <= c.tol) {
			t.Errorf("%s: %.4f %.4f, want %v %v", c.name, e/c.unit, n/c.unit, c.e, c.n)
		}
		if lat, lon := p.inverse(e, n); !(math.Abs(lat-c.lat) < 1e-11 && math.Abs(lon-c.lon) < 1e-11) { // degrees: 1 µm
			t.Errorf("%s: came back to %v %v, want %v %v", c.name, lat, lon, c.lat, c.lon)
		}
	}
}

// The set-up of Karney's test set TMcoords (doi 10.5281/zenodo.32470); figures
// by GeographicLib's exact projection and its series, which agree to 2 nm.
func TestTransverseMercatorFarFromItsMeridian(t *testing.T) {
	tm := newTransverseMercator(wgs84, 0, 0, 0.9996, 0, 0)
	for _, c := range []struct{ lat, lon, e, n float64 }{
		{20, 3, 313926.320434, 2214294.026326},
		{42.5, 1.25, 102708.391033, 4706050.057081},
		{60.5, -2.75, -151038.299627, 6710252.811917},
		{-33, 2, 186847.222785, -3653063.504292},
		{0, 0, 0, 0},
		{90, 50, 0, 9997964.943021},
	} {
		if e, n := tm.forward(c.lat, c.lon); math.Abs(e-c.e) > 1e-6 || math.Abs(n-c.n) > 1e-6 { // m: the last digit given
			t.Errorf("%v %v: %.7f %.7f, want %v %v", c.lat, c.lon, e, n, c.e, c.n)
		}
	}
}
