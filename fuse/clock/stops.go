package clock

import "math"

// stops is the evidence of motion: readings are taken at certain ranks of
// liveliness – in stop-and-go work, the lowest.
type stops struct {
	d   *day
	m   *motion
	law law
	buf []float64
}

// newStops estimates the law of the ranks under h.
func newStops(d *day, m *motion, h hypothesis) *stops {
	var c [8]float64
	absent := 0.0
	for _, t := range d.times {
		if u := m.at(h.at(t, d.mid)); math.IsNaN(u) {
			absent++
		} else {
			c[rankBin(u)]++
		}
	}
	return &stops{d: d, m: m, law: lawOf(c, absent), buf: make([]float64, len(d.times))}
}

func (s *stops) name() string    { return "stops" }
func (s *stops) temper() float64 { return 0.5 }

func (s *stops) each(h hypothesis) []float64 {
	for k, t := range s.d.times {
		s.buf[k] = s.law.at(s.m.at(h.at(t, s.d.mid)))
	}
	return s.buf
}
