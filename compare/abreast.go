package compare

import (
	"math"
	"sort"

	"tracemap/geodesy/plane"
)

// A beside is the place of a located line square to a place of a record.
type beside struct {
	lateral float64 // left of the record's direction, m
	station float64 // along the part, m
	cos     float64 // of the angle between the record and the part there
}

// endSlack, m, is how far beyond its end a part still counts as beside: ends are
// where the last reading was taken, to a step.
const endSlack = 0.1

// cosApart bounds the angle between a record and the straight of a part that is
// taken for the same line there: 60°. A chamfered corner passes, a crossing does
// not.
const cosApart = 0.5

// abreast finds where the normal of a record at p meets a part, at most within
// away, looking at the part's stations from lo to hi. Of several places the
// nearest counts. ok is false where the part begins beyond or has ended before.
func (q *part) abreast(p, dir plane.Pt, within, lo, hi float64) (out beside, ok bool) {
	n := dir.Left()
	best := within
	i := max(1, sort.SearchFloat64s(q.sta, lo))
	for ; i < len(q.pts) && q.sta[i-1] <= hi; i++ {
		a, d := q.pts[i-1], q.pts[i].Sub(q.pts[i-1])
		length := q.sta[i] - q.sta[i-1]
		along := d.Dot(dir)
		if length == 0 || math.Abs(along) < cosApart*length {
			continue
		}
		// p + λn = a + μd; the product with dir takes n away.
		mu := p.Sub(a).Dot(dir) / along
		slack := endSlack / length
		if i == 1 && mu < 0 && mu >= -slack || i == len(q.pts)-1 && mu > 1 && mu <= 1+slack {
			mu = min(max(mu, 0), 1)
		}
		if mu < 0 || mu > 1 {
			continue
		}
		if lateral := a.Add(d.Mul(mu)).Sub(p).Dot(n); math.Abs(lateral) <= best {
			best = math.Abs(lateral)
			out, ok = beside{lateral, q.sta[i-1] + mu*length, math.Abs(along) / length}, true
		}
	}
	return out, ok
}

// at gives the values of a part at a station: 95 % half-width, depth, its 95 %
// bound, outside diameter.
func (q *part) at(s float64) (half, depth, depth95, outside float64) {
	return interpolate(q.sta, q.half, s), interpolate(q.sta, q.depth, s), interpolate(q.sta, q.depth95, s), interpolate(q.sta, q.outside, s)
}

// meanHalf is the mean 95 % half-width between two stations.
func (q *part) meanHalf(a, b float64) float64 {
	if a > b {
		a, b = b, a
	}
	const steps = 8
	var sum float64
	for k := range steps + 1 {
		half, _, _, _ := q.at(lerp(a, b, float64(k)/steps))
		sum += half
	}
	return sum / (steps + 1)
}

// at returns the place at a station and the direction there.
func (p *course) at(s float64) (plane.Pt, plane.Pt) {
	i := min(max(1, sort.Search(len(p.sta), func(i int) bool { return p.sta[i] > s })), len(p.sta)-1)
	t := (s - p.sta[i-1]) / (p.sta[i] - p.sta[i-1])
	return p.pts[i-1].Lerp(p.pts[i], t), p.pts[i].Sub(p.pts[i-1]).Unit()
}
