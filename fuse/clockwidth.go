package fuse

import (
	"math"

	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/geodesy/plane"
)

// widenForClock adds to a part's σ what an undetermined clock may do to it: for
// offsets over the whole spread of what is possible, the readings' places on the
// track lie off the part by so much in the mean of squares. Sliding along the
// line costs nothing; leaving it does. A narrow clock needs none of this: its
// small σ goes through the fit as an error that all readings share.
func widenForClock(ps []Placed, run []int, part *Part, tr *track.Track, cl *clock.Result) {
	if cl.Narrow() || len(part.Vertices) == 0 {
		return
	}
	line := make(plane.Polyline, len(part.Vertices))
	for k, v := range part.Vertices {
		line[k] = v.At
	}
	var sum float64
	n := 0
	for _, i := range run {
		for _, share := range []float64{-1.6, -0.8, -0.3, 0.3, 0.8, 1.6} {
			s, ok := tr.At(ps[i].T + share*cl.Sigma)
			if !ok {
				continue
			}
			if foot, ok := line.Nearest(s.At); ok {
				sum += foot.Dist * foot.Dist
				n++
			}
		}
	}
	if n == 0 {
		return
	}
	for k := range part.Vertices {
		part.Vertices[k].Sigma = math.Hypot(part.Vertices[k].Sigma, math.Sqrt(sum/float64(n)))
	}
}
