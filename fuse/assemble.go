package fuse

import (
	"math"
	"slices"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/remarks"
)

// assemble turns a fitted part into what is handed on, and tells each of its
// readings where it lies.
func assemble(ps []Placed, p *shapedPart, plan *geodesy.Local, opt Options) (Part, []Event) {
	marks := p.marks()
	out := Part{ClockWidth: clockWidth(marks)}
	h := newHeights(ps, p)
	diameter := typicalDiameter(ps, p.path)
	for _, m := range marks {
		v := Vertex{Station: m.station, At: m.at, Sigma: m.sigma, Diameter: diameter, Flags: m.flags}
		v.Depth, v.SigmaDepth = math.NaN(), math.NaN()
		if p.depth != nil {
			v.Depth, v.SigmaDepth = p.depthAt(m.station)
		}
		v.Flags |= p.besideFlag(&v)
		v.Current = p.current.at(m.station)
		v.Ground = plan.Inverse(m.at)
		v.Ground.H, v.SigmaH = h.at(m.station)
		out.Vertices = append(out.Vertices, v)
	}
	restation(out.Vertices, marks, p)
	p.markReadings(ps, &out)
	p.flagVertices(ps, out.Vertices)
	p.widenDistorted(ps, out.Vertices)
	events := append(p.steps(plan), p.checks(ps, plan, out.Vertices)...)
	for _, i := range p.path {
		if t := ps[i].UTC; ps[i].Used && !t.IsZero() {
			if out.From.IsZero() || t.Before(out.From) {
				out.From = t
			}
			if t.After(out.To) {
				out.To = t
			}
		}
	}
	for _, v := range out.Vertices {
		out.Flags |= v.Flags
	}
	for _, e := range events {
		out.Flags |= e.Kind
	}
	out.Flags |= commonFlags(ps, p.path)
	return out, events
}

// typicalDiameter is the median outside diameter that the readings state, m; NaN
// when none does.
func typicalDiameter(ps []Placed, path []int) float64 {
	var d []float64
	for _, i := range path {
		if v := ps[i].Reading.Diameter; v > 0 {
			d = append(d, v)
		}
	}
	return middle(d)
}

// restation makes stations begin at 0.
func restation(v []Vertex, m []mark, p *shapedPart) {
	if len(v) == 0 {
		return
	}
	first := v[0].Station
	for k := range v {
		v[k].Station -= first
	}
	for k := range p.base {
		p.base[k] -= first
	}
	for k := range p.fit.station {
		p.fit.station[k] -= first
	}
}

// markReadings tells each reading of the part its station, offset and fate.
func (p *shapedPart) markReadings(ps []Placed, out *Part) {
	f := p.fit
	for m := range f.samples {
		s := &f.samples[m]
		r := &ps[s.i]
		r.Station, r.Offset = f.station[m], f.offset[m]
		r.Used = !s.out
		n := f.normal[m]
		r.normal = n
		white := s.white
		if r.packed { // a single one of them
			white = s.quick + (s.white-s.quick)*r.worth()
		}
		r.Radius = math.Sqrt(white + sq(s.shared) + s.unrest + worseAxis(s.slow, s.shift))
		if r.Used {
			out.Readings++
			continue
		}
		e := p.evidenceFor(ps, m, f.offset[m], math.Sqrt(s.local+s.unrest))
		if math.Abs(e.depth) > 2*e.sigmaDepth || math.Abs(e.current) > 2*e.sigmaCurr {
			r.Flags |= remarks.NeighbourLock
		} else {
			r.Flags |= remarks.Outlier
		}
	}
}

// worseAxis is the variance along the worse axis, m², of an error with the covariance EE,
// NN, EN and of a shift by one σ together: the larger eigenvalue.
func worseAxis(slow [3]float64, shift plane.Pt) float64 {
	ee, nn, en := slow[0]+sq(shift.E), slow[1]+sq(shift.N), slow[2]+shift.E*shift.N
	return (ee+nn)/2 + math.Hypot((ee-nn)/2, en)
}

// weakFixes are the flags of a reading's position that its stretch of line shares.
const weakFixes = remarks.FloatFix | remarks.CodeFix | remarks.AutonomousFix | remarks.EstimatedFix | remarks.GNSSJump

// flagVertices says at each vertex what a person should know of the readings it
// rests on: those from the vertex before to the one after, or the nearest.
func (p *shapedPart) flagVertices(ps []Placed, v []Vertex) {
	f := p.fit
	for k := range v {
		lo, hi := math.Inf(-1), math.Inf(1)
		if k > 0 {
			lo = v[k-1].Station
		}
		if k+1 < len(v) {
			hi = v[k+1].Station
		}
		nearest, at := math.Inf(1), -1
		seenDepth := false
		for _, m := range f.own() {
			r := &ps[f.samples[m].i]
			d := math.Abs(f.station[m] - v[k].Station)
			if d < nearest {
				nearest, at = d, m
			}
			if f.station[m] < lo || f.station[m] > hi {
				continue
			}
			v[k].Flags |= r.Flags & (weakFixes | remarks.PeakNullApart | remarks.ClockUncertain)
			v[k].Quality = worse(v[k].Quality, r.Quality)
			seenDepth = seenDepth || r.Reading.BestDepth() > 0 && depthCounts(r)
		}
		if at >= 0 {
			r := &ps[f.samples[at].i]
			v[k].Flags |= r.Flags & weakFixes
			v[k].Quality = worse(v[k].Quality, r.Quality)
			seenDepth = seenDepth || r.Reading.BestDepth() > 0 && depthCounts(r)
		}
		if !seenDepth {
			v[k].Flags |= remarks.DepthMissing
		}
	}
	p.flagEnds(v)
}

// flagEnds marks vertices within three depths of an end of the line or a sharp
// bend, where depths read shallow by more than 7 % (field of a conductor that
// ends, by Biot–Savart).
func (p *shapedPart) flagEnds(v []Vertex) {
	var sharp []float64
	if n := len(v); n > 0 {
		sharp = append(sharp, v[0].Station, v[n-1].Station)
	}
	for k := 1; k+1 < len(v); k++ {
		a, b := v[k].At.Sub(v[k-1].At), v[k+1].At.Sub(v[k].At)
		if math.Abs(angle(a, b)) > math.Pi/4 {
			sharp = append(sharp, v[k].Station)
		}
	}
	for k := range v {
		for _, s := range sharp {
			if !math.IsNaN(v[k].Depth) && math.Abs(v[k].Station-s) < 3*v[k].Depth {
				v[k].Flags |= remarks.NearEnd
				break
			}
		}
	}
}

// commonFlags are those remarks that all readings of a part share.
func commonFlags(ps []Placed, path []int) remarks.Set {
	all := remarks.ClockUncertain | remarks.AntennaAssumed
	for _, i := range path {
		all &= ps[i].Flags
	}
	return all
}

// steps lists the steps of the current between levels as events.
func (p *shapedPart) steps(plan *geodesy.Local) []Event {
	var out []Event
	l := p.awayFromBends.levels
	for k := 1; k < len(l); k++ {
		s := (l[k-1].to + l[k].from) / 2
		before, after := l[k-1].at(s), l[k].at(s)
		if math.Abs(math.Log(after/before)) < leastStep {
			continue
		}
		at := p.pointAt(s)
		out = append(out, Event{
			Kind: remarks.CurrentStep, Station: s, At: at, Geo: plan.Inverse(at), Before: before, After: after,
		})
	}
	return out
}

// pointAt is the point of the part at a station.
func (p *shapedPart) pointAt(s float64) plane.Pt {
	k, local := p.localOf(s)
	at, _, _ := p.fit.pointOn(k, local)
	return at
}

// localOf gives the stretch of a station of the part, and its station there.
func (p *shapedPart) localOf(s float64) (k int, local float64) {
	for k+1 < len(p.base) && p.base[k+1] <= s {
		k++
	}
	return k, min(p.ends[k][0]+s-p.base[k], p.ends[k][1])
}

// heights is the ground along a part, from the readings' own heights.
type heights struct {
	station, h, sigma []float64
}

func newHeights(ps []Placed, p *shapedPart) *heights {
	h := &heights{}
	order := p.fit.own()
	slices.SortStableFunc(order, func(a, b int) int { return compare(p.fit.station[a], p.fit.station[b]) })
	for _, m := range order {
		r := &ps[p.fit.samples[m].i]
		if math.IsNaN(r.Geo.H) {
			continue
		}
		h.station = append(h.station, p.fit.station[m])
		h.h = append(h.h, r.Geo.H)
		h.sigma = append(h.sigma, r.SigmaH)
	}
	return h
}

// heightReach, m, is how far along the line readings' ground heights are
// averaged: ground follows no law, so only near ones count.
const heightReach = 4.0

// at is the ground's height at a station and one σ of it; NaN without heights
// within reach of a gap.
func (h *heights) at(s float64) (value, sigma float64) {
	if len(h.h) == 0 {
		return math.NaN(), math.NaN()
	}
	var w, sum, sig float64
	nearest, at := math.Inf(1), 0
	for k := range h.h {
		d := math.Abs(h.station[k] - s)
		if d < nearest {
			nearest, at = d, k
		}
		if d < 3*heightReach {
			g := math.Exp(-0.5 * sq(d/heightReach))
			w += g
			sum += g * h.h[k]
			sig += g * h.sigma[k]
		}
	}
	if w < 1e-3 {
		return h.h[at], h.sigma[at] + 0.05*nearest
	}
	return sum / w, sig / w
}
