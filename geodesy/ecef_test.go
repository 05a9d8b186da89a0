package geodesy_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy"
)

func TestToXYZ(t *testing.T) {
	for _, c := range []struct {
		name string
		g    geodesy.Geo
		want geodesy.XYZ
		tol  float64 // m
	}{
		// IOGP Guidance Note 7-2, section on geographic/geocentric conversions:
		// 53°48′33.820″N 2°07′46.380″E, 73.0 m; printed to the millimetre, and the
		// seconds to 0.03 m.
		{"IOGP worked example", geodesy.Geo{Lat: 53 + 48/60. + 33.820/3600, Lon: 2 + 7/60. + 46.380/3600, H: 73},
			geodesy.XYZ{X: 3771793.968, Y: 140253.342, Z: 5124304.349}, 1e-3},
		// CartConvert -p 9 (GeographicLib 2.1.2).
		{"33.3 44.4 6000", geodesy.Geo{Lat: 33.3, Lon: 44.4, H: 6000}, geodesy.XYZ{X: 3816209.604493091, Y: 3737108.550254264, Z: 3485109.572568041}, 1e-8},
		{"pole", geodesy.Geo{Lat: 90, Lon: 0, H: 10}, geodesy.XYZ{Z: 6356762.314245}, 1e-6},
	} {
		if got := geodesy.WGS84().ToXYZ(c.g); xyzDist(got, c.want) > c.tol {
			t.Errorf("%s: ToXYZ = %.10f, want %.10f", c.name, got, c.want)
		}
	}
}

func TestXYZThereAndBack(t *testing.T) {
	el := geodesy.WGS84()
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.OneOf(rapid.Float64Range(-90, 90), rapid.SampledFrom([]float64{-90, 90, 0, 89.9999999, 1e-12}))
		g := geodesy.Geo{Lat: lat.Draw(t, "lat"), Lon: rapid.Float64Range(-180, 180).Draw(t, "lon"),
			H: rapid.Float64Range(-1e6, 4e7).Draw(t, "h")}
		p := el.ToXYZ(g)
		back := el.ToGeo(p)
		if d := xyzDist(el.ToXYZ(back), p); !(d < 1e-7) { // m: the last bits of 4e7 m and of the angles
			t.Fatalf("there and back moved by %v m", d)
		}
		// Rounding of X, Y, Z near the pole turns the longitude but not the place.
		if math.Abs(back.Lat-g.Lat) > 1e-12 || math.Abs(back.H-g.H) > 1e-7 {
			t.Fatalf("%+v came back as %+v", g, back)
		}
	})
}

func TestToGeoAtOddPlaces(t *testing.T) {
	el := geodesy.WGS84()
	if g := el.ToGeo(geodesy.XYZ{Z: -6356752.314245179 - 5}); g.Lat != -90 || math.Abs(g.H-5) > 1e-8 {
		t.Errorf("below the south pole: %+v", g)
	}
	if g := el.ToGeo(geodesy.XYZ{}); math.IsNaN(g.Lat + g.Lon + g.H) {
		t.Errorf("centre of the earth: %+v", g)
	}
	if p := el.ToXYZ(geodesy.Geo{Lat: 1, Lon: 1, H: math.NaN()}); !math.IsNaN(p.X) {
		t.Errorf("height NaN: %+v", p)
	}
}

func xyzDist(a, b geodesy.XYZ) float64 {
	return math.Hypot(math.Hypot(a.X-b.X, a.Y-b.Y), a.Z-b.Z)
}

func BenchmarkToGeo(b *testing.B) {
	p := geodesy.WGS84().ToXYZ(geodesy.Geo{Lat: 48, Lon: 11, H: 500})
	for b.Loop() {
		geodesy.WGS84().ToGeo(p)
	}
}
