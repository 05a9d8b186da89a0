package clock

import "math"

// stops is the evidence of motion: readings are taken at certain ranks of
// liveliness – in stop-and-go work, the lowest.
type stops struct {
	d        *day
	m        *motion
	law      law
	at       []float64 // times asked
	standing bool      // most readings are taken standing
}

// mostAsked is how many readings a kind of evidence asks at most, evenly through
// the day: more make the answer no better than the laws are true.
const mostAsked = 900

// newStops estimates the law of the ranks under h.
func newStops(d *day, m *motion, h hypothesis) *stops {
	var c [bins]float64
	absent := 0.0
	for _, t := range d.times {
		if u := m.at(h.at(t, d.mid)); math.IsNaN(u) {
			absent++
		} else {
			c[m.bin(u)]++
		}
	}
	s := &stops{d: d, m: m, law: m.lawOf(c, absent), at: every(d.times, mostAsked)}
	s.standing = c[0] > 0.5*float64(len(d.times))
	return s
}

// every gives at most so many values, evenly through v.
func every[T any](v []T, most int) []T {
	stride := (len(v) + most - 1) / most
	if stride <= 1 {
		return v
	}
	var out []T
	for k := 0; k < len(v); k += stride {
		out = append(out, v[k])
	}
	return out
}

func (s *stops) name() string { return "stops" }

// temper: where readings are not taken standing, motion still says when the crew
// was not at work, but nothing to the second.
func (s *stops) temper() float64 {
	if s.standing {
		return 0.5
	}
	return 0.15
}

func (s *stops) each(h hypothesis) []float64 {
	out := make([]float64, len(s.at))
	for k, t := range s.at {
		out[k] = s.of(h, t)
	}
	return out
}

func (s *stops) total(h hypothesis) (l float64) {
	for _, t := range s.at {
		l += s.of(h, t)
	}
	return l
}

// of is the log-likelihood of a reading at time t.
func (s *stops) of(h hypothesis, t float64) float64 {
	if u := s.m.at(h.at(t, s.d.mid)); !math.IsNaN(u) {
		return s.law.log[s.m.bin(u)]
	}
	return s.law.absent
}
