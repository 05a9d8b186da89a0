package geodesy_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy"
)

// A walk lies where the projection itself puts it, anywhere on earth and as far from
// the plane's origin as a day goes: also where it leaps, crosses the antimeridian, or
// has a place that is none.
func TestWalkIsTheProjection(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		origin := geodesy.Geo{Lat: rapid.Float64Range(-90, 90).Draw(t, "lat"), Lon: rapid.Float64Range(-180, 180).Draw(t, "lon")}
		l := geodesy.NewLocal(origin)
		w := l.Walk()
		step := rapid.Float64Range(-1e-4, 1e-4)
		leap := rapid.Float64Range(-0.3, 0.3) // degrees: 33 km
		g := origin
		for range rapid.IntRange(3, 40).Draw(t, "places") {
			g.Lat += step.Draw(t, "north")
			g.Lon = math.Remainder(g.Lon+step.Draw(t, "east"), 360)
			switch rapid.IntRange(0, 20).Draw(t, "kind") {
			case 0:
				g.Lat, g.Lon = origin.Lat+leap.Draw(t, "far"), origin.Lon+leap.Draw(t, "off")
			case 1:
				if p := w.Forward(geodesy.Geo{Lat: math.NaN(), Lon: g.Lon}); p.E == p.E || p.N == p.N {
					t.Fatalf("no latitude: %v", p)
				}
			}
			g.Lat = min(max(g.Lat, -90), 90)
			got, want := w.Forward(g), l.Forward(g)
			if d := got.Dist(want); !(d <= 1e-7) { // m, as documented
				t.Fatalf("%v from %v: %v, want %v: %.2g m off", g, origin, got, want, d)
			}
		}
	})
}

func BenchmarkWalk(b *testing.B) {
	l := geodesy.NewLocal(geodesy.Geo{Lat: 48, Lon: 11})
	w := l.Walk()
	for k := 0; b.Loop(); k++ {
		at := float64(k % 100000)
		w.Forward(geodesy.Geo{Lat: 48 + 1e-6*at, Lon: 11 + 1e-6*at})
	}
}
