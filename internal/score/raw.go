package score

import (
	"cmp"
	"slices"

	"tracemap/geodesy/plane"
	"tracemap/internal/simulate"
)

// rawDots places the readings where the receiver said it was at their true
// times, between the epochs before and after. Readings without a fix within
// two seconds on either side have no dot.
func (j *judge) rawDots() map[*simulate.Line][]plane.Pt {
	type dot struct {
		r  *simulate.Reading
		at plane.Pt
	}
	var dots []dot
	const longest = 2.0 // s
	next := 0
	var lastTime float64
	var last plane.Pt
	seen := false
	for e := range j.day.Epochs() {
		if !e.Logged || e.Quality == 0 {
			continue
		}
		at := j.here.Forward(e.Geo)
		for ; next < len(j.day.Readings) && j.day.Readings[next].Time <= e.Time; next++ {
			r := j.day.Readings[next]
			if seen && e.Time-lastTime <= longest && r.Line != nil && r.Feature == "" {
				dots = append(dots, dot{r, last.Lerp(at, (r.Time-lastTime)/(e.Time-lastTime))})
			}
		}
		last, lastTime, seen = at, e.Time, true
	}
	slices.SortStableFunc(dots, func(a, b dot) int { return cmp.Compare(a.r.Station, b.r.Station) })
	out := map[*simulate.Line][]plane.Pt{}
	for _, d := range dots {
		out[d.r.Line] = append(out[d.r.Line], d.at)
	}
	return out
}

// raw scores the straights between the dots of a line.
func (j *judge) raw(truth *simulate.Line, dots []plane.Pt) {
	for i := range dots {
		if i == 0 {
			continue
		}
		length := dots[i].Dist(dots[i-1])
		n := int(length/step) + 1
		for k := range n {
			q := dots[i-1].Lerp(dots[i], (float64(k)+0.5)/float64(n))
			_, off := across(truth, q)
			j.score.Raw.Sample(length/float64(n), off, 0)
		}
	}
}
