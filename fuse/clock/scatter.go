package clock

import (
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// scatter is the evidence of the line's own shape: readings of one line that
// follow one another lie on a smooth course. A crew that sweeps across the line
// before it stops throws the readings sideways when the offset is wrong; a crew
// that walks along the line does not, and then scatter says nothing.
type scatter struct {
	d     *day    // with the times of three readings in a row on one line
	sigma float64 // m, of the middle one off the course of the others
}

// Readings further apart than these make no triple.
const (
	tripleTime = 180.0 // s
	tripleWay  = 20.0  // m
)

// newScatter is nil when the day has too few readings in a row.
func newScatter(d *day) *scatter {
	if len(d.triples) < 10 {
		return nil
	}
	return &scatter{d: d, sigma: 0.15}
}

// layTriples finds the readings of one line that follow one another.
func (d *day) layTriples() {
	byLine := map[string][]float64{}
	var names []string
	for k, i := range d.index {
		r := &d.rs[i]
		if !r.OnLine() {
			continue
		}
		if _, ok := byLine[r.Line]; !ok {
			names = append(names, r.Line)
		}
		byLine[r.Line] = append(byLine[r.Line], d.times[k])
	}
	for _, name := range names {
		t := byLine[name]
		slices.Sort(t)
		for k := 1; k+1 < len(t); k++ {
			if t[k+1]-t[k-1] < tripleTime {
				d.triples = append(d.triples, [3]float64{t[k-1], t[k], t[k+1]})
			}
		}
	}
	d.triples = every(d.triples, mostAsked)
}

func (s *scatter) name() string { return "scatter" }

// temper: a crew that does not stop for its readings walks along the line, and which
// stretch of a walk is the straightest says nothing of the clock.
func (s *scatter) temper() float64 {
	if s.d.standing {
		return 0.4
	}
	return 0
}

// each uses a law with heavy tails (Student, one degree of freedom): the line's
// bends and neighbours' locks lie off the course with any offset.
func (s *scatter) each(h hypothesis) []float64 {
	out := make([]float64, len(s.d.triples))
	for k := range out {
		out[k] = -math.Log(s.ratio(h, &s.d.triples[k]))
	}
	return out
}

func (s *scatter) total(h hypothesis) float64 {
	p := one()
	for k := range s.d.triples {
		p.times(s.ratio(h, &s.d.triples[k]))
	}
	return -p.log()
}

// ratio is the law's density on the course over that where the middle reading is.
func (s *scatter) ratio(h hypothesis, t *[3]float64) float64 {
	off, ok := s.off(h, t)
	if !ok {
		return 1 + 9
	}
	z := off / s.sigma
	return 1 + min(z*z, 400)
}

// off is how far the middle reading lies off the chord of the others.
func (s *scatter) off(h hypothesis, t *[3]float64) (float64, bool) {
	var p [3]plane.Pt
	for k := range t {
		p[k] = s.d.where(h.at(t[k], s.d.mid))
		if math.IsNaN(p[k].E) {
			return 0, false
		}
	}
	chord := p[2].Sub(p[0])
	l := math.Sqrt(chord.Dot(chord))
	if l < 0.5 || l > tripleWay {
		return 0, false
	}
	return chord.Cross(p[1].Sub(p[0])) / l, true
}
