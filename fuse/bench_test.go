package fuse_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse"
	"tracemap/fuse/track"
	"tracemap/geodesy/plane"
)

// BenchmarkCurvyLine fits one line that winds all the way, with so many readings
// that scatter by centimetres: its cost a reading should not grow with the line.
func BenchmarkCurvyLine(b *testing.B) {
	for _, n := range []int{100, 300, 1000, 3000, 10000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, uint64(n)))
			line := make(plane.Polyline, n)
			for k := range line {
				s := 2 * float64(k)
				line[k] = plane.Pt{E: s + 0.05*rng.NormFloat64(), N: 25*math.Sin(s/40) + 0.05*rng.NormFloat64()}
			}
			var stops []stop
			for _, at := range line {
				stops = append(stops, stop{at: at, line: "W1", depth: 1.2 + 0.04*rng.NormFloat64()})
			}
			epochs, rs := usual().work(stops)
			tr, err := track.Build(context.Background(), epochs)
			if err != nil {
				b.Fatal(err)
			}
			clock := trusted(tr)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := fuse.Locate(context.Background(), tr, rs, clock, fuse.DefaultOptions()); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/float64(n), "µs/reading")
		})
	}
}
