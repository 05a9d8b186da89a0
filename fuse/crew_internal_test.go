package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
)

// A day's readings say how well its crew pin-points: twice as well as the table, as the
// table, half as well. The errors are drawn as the table has them, times a factor; thirty
// lines with a bend. White errors come back within a fifth. What neighbours share is
// found smaller than it is, by half at the most: a line follows it. The widths of good
// crews are at most a quarter wider than they need be. Those of a crew half as good are
// too narrow still, though no longer by as much as with outlines by the table alone
// (75 % within).
func TestScalesFollowTheCrew(t *testing.T) {
	line := plane.Polyline{{}, {E: 40}, {E: 70, N: 20}}
	for _, pin := range []float64{0.5, 1, 2} {
		rng := rand.New(rand.NewPCG(7, uint64(10*pin)))
		var days [][]Placed
		for range 30 {
			days = append(days, modelled(rng, line, 3, pin))
		}
		sc, before := unitScales(), unitScales()
		for round := 0; round < mostOutlines && (round == 0 || sc.grown(&before)); round++ {
			var parts []*shapedPart
			for _, ps := range days {
				parts = append(parts, outline(ps, between(0, len(ps)-1), &sc))
			}
			before, sc = sc, measureScales(parts)
			t.Logf("errors × %v, round %d: white × %.2f, shared × %.2f", pin, round, sc.white, sc.shared)
		}
		if !(sc.white > 0.8*pin && sc.white < 1.2*pin) || !(sc.shared > 0.5*pin && sc.shared < 1.3*pin) {
			t.Errorf("errors × %v: white × %.2f, shared × %.2f", pin, sc.white, sc.shared)
		}
		var length, inside, half, square float64
		for _, ps := range days {
			p := shape(ps, between(0, len(ps)-1), &sc)
			l, i, h, e := held(p, line, func(float64) bool { return true })
			length, inside, half, square = length+l, inside+i, half+h, square+e
		}
		sharp := math.Sqrt(half/square) / noise.K95
		t.Logf("errors × %v: white × %.2f, shared × %.2f; %.1f %% within, sharpness %.2f", pin, sc.white, sc.shared, 100*inside/length, sharp)
		least := 0.93
		if pin > 1 {
			least = 0.86
		}
		if c := inside / length; c < least || sharp > 1.25 {
			t.Errorf("errors × %v: %.1f %% within the width, sharpness %.2f", pin, 100*c, sharp)
		}
	}
}
