package geodesy_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// Against GeographicLib's TransverseMercatorProj -l lon0 -k 1, whose northing
// is from the equator: the origin's own northing is taken off.
func TestLocalAgainstGeographicLib(t *testing.T) {
	l := geodesy.NewLocal(geodesy.Geo{Lat: 48, Lon: 11.5, H: 520})
	for _, c := range localReference {
		got := l.Forward(geodesy.Geo{Lat: c.lat, Lon: c.lon})
		if math.Abs(got.E-c.e) > 1e-6 || math.Abs(got.N-c.n) > 1e-6 { // m: the reference has six decimals
			t.Errorf("Forward(%v, %v) = %.7f, want %.6f %.6f", c.lat, c.lon, got, c.e, c.n)
		}
	}
	if l.Origin() != (geodesy.Geo{Lat: 48, Lon: 11.5, H: 520}) {
		t.Errorf("Origin() = %v", l.Origin())
	}
}

func TestLocalThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := geodesy.NewLocal(geodesy.Geo{
			Lat: rapid.Float64Range(-89.9, 89.9).Draw(t, "lat"),
			Lon: rapid.Float64Range(-180, 180).Draw(t, "lon"),
		})
		r := rapid.Float64Range(-1e5, 1e5)
		p := plane.Pt{E: r.Draw(t, "e"), N: r.Draw(t, "n")}
		g := l.Inverse(p)
		if !math.IsNaN(g.H) || g.Lon < -180 || g.Lon > 180 {
			t.Fatalf("Inverse(%v) = %v", p, g)
		}
		// The last bit of a longitude of 180° is 2.8e-14°, 3 nm at the equator.
		if d := l.Forward(g).Dist(p); !(d < 1e-8) {
			t.Fatalf("there and back moved %v by %v m (origin %v)", p, d, l.Origin())
		}
	})
}

// The doc comment's table of length errors, against the same plane's own
// inverse and the exact radius of curvature along the parallel.
func TestLocalScaleGrowsAsDocumented(t *testing.T) {
	l := geodesy.NewLocal(geodesy.Geo{Lat: 50, Lon: 8})
	m, p := geodesy.WGS84().Radii(50)
	for _, e := range []float64{1e3, 5e3, 1e4, 2.5e4, 5e4} {
		a, b := l.Inverse(plane.Pt{E: e, N: -50}), l.Inverse(plane.Pt{E: e, N: 50})
		dn := (b.Lat - a.Lat) * math.Pi / 180 * m
		de := (b.Lon - a.Lon) * math.Pi / 180 * p * math.Cos(50*math.Pi/180)
		got := 100/math.Hypot(dn, de) - 1
		want := e * e / (2 * m * p)
		if math.Abs(got-want) > 0.02*want+1e-8 { // the radii are taken at 50°, not on the way
			t.Errorf("scale error at %v m east = %.3g, want %.3g", e, got, want)
		}
	}
}

func TestLocalRefusesNonsense(t *testing.T) {
	nan := math.NaN()
	for _, o := range []geodesy.Geo{{Lat: nan}, {Lat: 91}, {Lon: math.Inf(1)}, {Lat: math.Inf(-1)}} {
		if p := geodesy.NewLocal(o).Forward(geodesy.Geo{Lat: 1, Lon: 1}); !math.IsNaN(p.N) {
			t.Errorf("origin %v: Forward = %v, want NaN", o, p)
		}
	}
	l := geodesy.NewLocal(geodesy.Geo{})
	if p := l.Forward(geodesy.Geo{Lat: nan, Lon: 0}); !math.IsNaN(p.N) {
		t.Errorf("Forward of NaN = %v", p)
	}
	if p := geodesy.NewLocal(geodesy.Geo{Lon: 179.999}).Forward(geodesy.Geo{Lon: -179.999}); math.Abs(p.E-222.639) > 1e-3 {
		t.Errorf("over the date line: %v, want E 222.639", p)
	}
}

func BenchmarkLocalForward(b *testing.B) {
	l := geodesy.NewLocal(geodesy.Geo{Lat: 48, Lon: 11.5})
	for b.Loop() {
		l.Forward(geodesy.Geo{Lat: 48.01, Lon: 11.51})
	}
}

func BenchmarkLocalInverse(b *testing.B) {
	l := geodesy.NewLocal(geodesy.Geo{Lat: 48, Lon: 11.5})
	for b.Loop() {
		l.Inverse(plane.Pt{E: 800, N: 1100})
	}
}
