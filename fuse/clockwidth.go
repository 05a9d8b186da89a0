package fuse

import (
	"math"

	"tracemap/fuse/clock"
	"tracemap/fuse/noise"
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
		for _, at := range elsewhere(tr, ps[i].T, cl) {
			if foot, ok := line.Nearest(at); ok {
				sum += foot.Dist * foot.Dist
				n++
			}
		}
	}
	if n == 0 {
		return
	}
	for k := range part.Vertices {
		v := &part.Vertices[k]
		with := math.Hypot(v.Sigma, math.Sqrt(sum/float64(n)))
		part.ClockWidth = max(part.ClockWidth, noise.K95*(with-v.Sigma))
		v.Sigma = with
	}
}

// widenRadii adds the same to the radii of the readings that the track placed: along
// a line as well, for a reading stands for its place.
func widenRadii(ps []Placed, tr *track.Track, cl *clock.Result) {
	if cl.Narrow() {
		return
	}
	for i := range ps {
		p := &ps[i]
		if !p.OK || p.Chain < 0 || math.IsNaN(p.Radius) {
			continue
		}
		here, ok := tr.At(p.T)
		if !ok {
			continue
		}
		var sum float64
		places := elsewhere(tr, p.T, cl)
		for _, at := range places {
			sum += sq(at.Dist(here.At))
		}
		if len(places) > 0 {
			p.Radius = math.Hypot(p.Radius, math.Sqrt(sum/float64(len(places))))
		}
	}
}

// elsewhere gives the antenna's places at a reading's time t, s, if the clock is off by
// what stands for the whole spread of what is possible.
func elsewhere(tr *track.Track, t float64, cl *clock.Result) []plane.Pt {
	var out []plane.Pt
	for _, share := range []float64{-1.6, -0.8, -0.3, 0.3, 0.8, 1.6} {
		if s, ok := tr.At(t + share*cl.Sigma); ok {
			out = append(out, s.At)
		}
	}
	return out
}
