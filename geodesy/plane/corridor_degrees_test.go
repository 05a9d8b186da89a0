package plane_test

import (
	"math"
	"testing"

	"github.com/peterstace/simplefeatures/geom"
	"pgregory.net/rapid"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// Map files carry nine decimals of a degree. What is valid in the plane must
// stay valid when it is rounded so, anywhere on earth.
func TestCorridorRoundedToDegrees(t *testing.T) {
	for _, lat := range []float64{-78, -33, 0, 52, 70} {
		l := geodesy.NewLocal(geodesy.Geo{Lat: lat, Lon: 11.123456789})
		for _, c := range corridorCases() {
			if c.half[0] > 100 || c.line[0].Len() > 1e5 {
				continue // not of a size that a local plane is for
			}
			t.Run(c.name, func(t *testing.T) { checkRounded(t, l, c.line, c.half) })
		}
	}
}

func TestCorridorOfAnyLineRoundedToDegrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := geodesy.NewLocal(geodesy.Geo{Lat: rapid.Float64Range(-80, 80).Draw(t, "lat"), Lon: 11})
		line := drawLine(t, 1)
		width := rapid.OneOf(rapid.Float64Range(0, 0.01), rapid.Float64Range(0, 1))
		checkRounded(t, l, line, rapid.SliceOfN(width, len(line), len(line)).Draw(t, "half"))
	})
}

func checkRounded(t failer, l *geodesy.Local, line []pt, half []float64) {
	t.Helper()
	got, err := plane.Corridor(line, half)
	if err != nil {
		t.Fatalf("%v", err)
	}
	checkValid(t, got[0], func(p pt) geom.XY {
		g := l.Inverse(p)
		return geom.XY{X: math.Round(g.Lon*1e9) / 1e9, Y: math.Round(g.Lat*1e9) / 1e9}
	})
}
