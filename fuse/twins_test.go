package fuse_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse"
	"tracemap/geodesy/plane"
)

// Two names for one line make one line; two lines side by side in one trench keep
// their names, and so do two whose depths nobody read.
func TestTwins(t *testing.T) {
	for _, c := range []struct {
		apart, depth float64
		lines        int
	}{{0, 1.2, 1}, {0.15, 1.2, 2}, {0, math.NaN(), 2}, {0.5, 1.2, 2}} {
		right := 0
		const days = 10
		for seed := range uint64(days) {
			rng := rand.New(rand.NewPCG(seed, 4))
			var stops []stop
			for _, name := range []string{"W1", "N7"} {
				off := 0.0
				if name == "N7" {
					off = c.apart
				}
				for _, s := range stopsAlong(plane.Polyline{{N: off}, {E: 60, N: off}}, 3) {
					s.at = s.at.Add(plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(0.04))
					s.line, s.depth = name, c.depth
					stops = append(stops, s)
				}
			}
			epochs, rs := usual().work(stops)
			if len(locate(t, epochs, rs, fuse.DefaultOptions()).Lines) == c.lines {
				right++
			}
		}
		if right < days*9/10 {
			t.Errorf("%v m apart, %v m deep: %d of %d days make %d", c.apart, c.depth, right, days, c.lines)
		}
	}
}
