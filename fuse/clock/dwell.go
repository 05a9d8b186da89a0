package clock

import (
	"math"
	"slices"
)

// dwell is the evidence of getting on: nobody takes reading after reading on one spot.
// Without it the best offset of a walked day is the one that puts all of its readings into
// the time that the crew stood about before the work.
type dwell struct {
	d  *day
	at []float64 // times asked, in order
}

const (
	// dwellReadings on one spot are usual: two frequencies, one to be sure.
	dwellReadings = 3
	dwellWay      = 0.5 // m, a spot
	// dwellOdds is how much rarer than others a reading is that comes after those. A
	// guess; that it is small decides, not how small.
	dwellOdds = 0.1
)

func newDwell(d *day) *dwell {
	return &dwell{d, every(slices.Sorted(slices.Values(d.times)), mostAsked)}
}

// stopsForReadings reports whether there is an offset, of some, with which the crew stands
// for most readings and yet gets on from one to the next.
func (d *day) stopsForReadings(m *motion, offsets []float64) bool {
	w := newDwell(d)
	for _, o := range offsets {
		h := hypothesis{offset: o}
		if newStops(d, m, h).standing && w.total(h) > 0.05*float64(len(w.at))*math.Log(dwellOdds) {
			return true
		}
	}
	return false
}

func (w *dwell) name() string    { return "getting on" }
func (w *dwell) temper() float64 { return 1 }

func (w *dwell) each(h hypothesis) []float64 {
	out := make([]float64, len(w.at))
	for k := dwellReadings; k < len(w.at); k++ {
		a, b := w.d.where(h.at(w.at[k-dwellReadings], w.d.mid)), w.d.where(h.at(w.at[k], w.d.mid))
		if a.Dist(b) < dwellWay {
			out[k] = math.Log(dwellOdds)
		}
	}
	return out
}

func (w *dwell) total(h hypothesis) float64 { return sum(w.each(h)) }
