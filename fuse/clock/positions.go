package clock

import (
	"math"
	"slices"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// positions is the evidence of readings that carry a position of their own: the
// track must have been there at that time.
type positions struct {
	d     *day
	at    []plane.Pt
	t     []float64
	sigma float64 // m, between the two positions when the offset is right
	buf   []float64
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
		if math.IsNaN(r.Lat) || math.IsNaN(r.Lon) {
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
	p.buf = make([]float64, len(p.at))
	return p
}

func (p *positions) name() string    { return "positions" }
func (p *positions) temper() float64 { return 0.5 }

// each is a normal law to four σ, and flat beyond: a reading far from the track
// says only that it is far.
func (p *positions) each(h hypothesis) []float64 {
	for k, t := range p.t {
		d := p.d.where(h.at(t, p.d.mid)).Dist(p.at[k]) / p.sigma
		p.buf[k] = -8
		if !math.IsNaN(d) {
			p.buf[k] = -min(0.5*d*d, 8)
		}
	}
	return p.buf
}

// settle measures σ under a hypothesis, so that the positions of the receiver
// itself count for more than those of a phone.
func (p *positions) settle(h hypothesis) {
	var d []float64
	for k, t := range p.t {
		if v := p.d.where(h.at(t, p.d.mid)).Dist(p.at[k]); !math.IsNaN(v) {
			d = append(d, v)
		}
	}
	if len(d) < fewestPositions {
		return
	}
	slices.Sort(d)
	// Median of a two-axis distance is 1.177 σ.
	p.sigma = min(max(d[len(d)/2]/1.177, 0.15), 8)
}
