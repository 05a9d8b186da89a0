package score

import (
	"cmp"
	"slices"
	"time"

	"tracemap/geodesy/plane"
)

// rawDots places the readings where the receiver said it was at their true
// times, between the epochs before and after. Readings without a fix within
// two seconds on either side have no dot.
func (j *judge) rawDots() map[*Line][]plane.Pt {
	type dot struct {
		r  *Row
		at plane.Pt
	}
	var dots []dot
	const longest = 2 * time.Second
	rows := make([]*Row, len(j.truth.Rows))
	for i := range rows {
		rows[i] = &j.truth.Rows[i]
	}
	slices.SortStableFunc(rows, func(a, b *Row) int { return a.Time.Compare(b.Time) })
	next := 0
	var before Fix
	for i, f := range j.truth.Fixes {
		for ; next < len(rows) && !rows[next].Time.After(f.Time); next++ {
			r := rows[next]
			if span := f.Time.Sub(before.Time); i > 0 && span <= longest && r.Line != nil && r.Feature == "" {
				from, to := j.here.Forward(before.At), j.here.Forward(f.At)
				dots = append(dots, dot{r, from.Lerp(to, r.Time.Sub(before.Time).Seconds()/span.Seconds())})
			}
		}
		before = f
	}
	slices.SortStableFunc(dots, func(a, b dot) int { return cmp.Compare(a.r.Station, b.r.Station) })
	out := map[*Line][]plane.Pt{}
	for _, d := range dots {
		out[d.r.Line] = append(out[d.r.Line], d.at)
	}
	return out
}

// raw scores the straights between the dots of a line.
func (j *judge) raw(truth *Line, dots []plane.Pt) {
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
