package clock

import (
	"math"
	"slices"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/remarks"
)

// positions is the evidence of readings that carry a position of their own: the
// track must have been there at that time.
type positions struct {
	d     *day
	at    []plane.Pt
	t     []float64
	sigma float64 // m, between the two positions when the offset is right
}

// fewestPositions make evidence; mostPositions are asked, evenly through the day.
const (
	fewestPositions = 5
	mostPositions   = 250
)

// positions is nil when too few readings carry one.
func (d *day) positions() *positions {
	p := &positions{d: d, sigma: 4}
	for k, i := range d.index {
		r := &d.rs[i]
		if math.IsNaN(r.Lat) || math.IsNaN(r.Lon) || r.Flags.Has(remarks.OwnPositionFar) {
			continue
		}
		p.at = append(p.at, d.tr.Plane.Forward(geodesy.Geo{Lat: r.Lat, Lon: r.Lon}))
		p.t = append(p.t, d.times[k])
	}
	if len(p.at) < fewestPositions {
		return nil
	}
	if stride := (len(p.at) + mostPositions - 1) / mostPositions; stride > 1 {
		n := 0
		for k := 0; k < len(p.at); k += stride {
			p.at[n], p.t[n] = p.at[k], p.t[k]
			n++
		}
		p.at, p.t = p.at[:n], p.t[:n]
	}
	return p
}

func (p *positions) name() string    { return "positions" }
func (p *positions) temper() float64 { return 0.5 }

func (p *positions) each(h hypothesis) []float64 {
	out := make([]float64, len(p.t))
	for k := range out {
		out[k] = p.of(h, k)
	}
	return out
}

func (p *positions) total(h hypothesis) (l float64) {
	for k := range p.t {
		l += p.of(h, k)
	}
	return l
}

// of is a normal law to four σ, and flat beyond: a reading far from the track
// says only that it is far.
func (p *positions) of(h hypothesis, k int) float64 {
	d := p.d.where(h.at(p.t[k], p.d.mid)).Dist(p.at[k]) / p.sigma
	if math.IsNaN(d) {
		return -8
	}
	return -min(0.5*d*d, 8)
}

// drift is one σ of the offset, s, that the positions' own slow errors bring
// about: a walker is so long on the way that they move the place. They change
// over minutes, so a day of them averages; 300 s as for other fixes.
func (p *positions) drift(h hypothesis) float64 {
	var off, pace []float64
	for k, t := range p.t {
		u := h.at(t, p.d.mid)
		if v := p.d.where(u).Dist(p.at[k]); !math.IsNaN(v) {
			off = append(off, v)
		}
		if way := p.d.where(u - 5).Dist(p.d.where(u + 5)); way > 1 {
			pace = append(pace, 10/way)
		}
	}
	if len(off) == 0 || len(pace) == 0 {
		return 0
	}
	slices.Sort(off)
	slices.Sort(pace)
	span := slices.Max(p.t) - slices.Min(p.t)
	// Median of a two-axis distance is 1.177 σ.
	return off[len(off)/2] / 1.177 * pace[len(pace)/2] / math.Sqrt(max(span/300, 1))
}
