package simulate

import (
	"math"
	"math/rand/v2"

	"tracemap/geodesy/plane"
)

// A Line is a utility as it really lies, and the signal that was put on it.
type Line struct {
	ID       string
	Utility  string // by the readings log's names
	Path     Path
	Depth    []float64 // m, at the vertices of Path; straight between them
	Corners  []Corner  // fittings; arcs have none
	Closed   bool
	Onward   [2]bool // it goes on beyond its first and last station, not surveyed
	Diameter float64 // outside, m

	Method    string  // how the signal came onto it
	Frequency float64 // Hz
	Coil      Coil    // what the operator pointed with
	NoDepths  bool    // none was logged, as is right on passive signals
	Current   float64 // mA at station 0
	Decay     float64 // dB/m
	Steps     []Step
	Stretches []Stretch
	Beside    []Beside
	Surveyed  Range // first and last station that a reading was taken at

	point, depth profile // correlated errors along the line, of variance 1
}

// A Step is a place where the current falls at once: a branch or a bond.
type Step struct {
	Station float64
	Factor  float64 // current after ÷ current before
	Branch  string  // id of the line that leaves here; "" when it was not located
}

// A Stretch is where an unknown conductor runs beside the line and carries part
// of its current: the field is distorted there.
type Stretch struct {
	From, To float64 // stations
	Offset   float64 // m left of the line
	Depth    float64 // m
	Share    float64 // its current ÷ the line's; negative flows back
}

// Beside is another line of the day that carries part of this line's signal:
// one that runs beside it, or one that is joined to it by a tee.
type Beside struct {
	Line   *Line
	Share  float64 // its current ÷ this line's, in this line's direction
	Joined bool    // carries its own true current; Share is not used
}

// DepthAt is the true depth at a station, m.
func (l *Line) DepthAt(s float64) float64 { return l.Path.interpolate(l.Depth, s) }

// CurrentAt is the true current at a station, mA: a steady decay, and a step at
// each branch. Corrosion and leakage make the decay exponential along a
// uniform line (transmission-line model: Lindau & Becken, Geophysics 83 (2018),
// doi 10.1190/geo2017-0651.1).
func (l *Line) CurrentAt(s float64) float64 {
	i := l.Current * math.Pow(10, -l.Decay*s/20)
	for _, step := range l.Steps {
		if s > step.Station {
			i *= step.Factor
		}
	}
	return i
}

// distorted reports whether a station lies in a distorted stretch.
func (l *Line) distorted(s float64) bool {
	for _, d := range l.Stretches {
		if s >= d.From && s <= d.To {
			return true
		}
	}
	return false
}

// reachDepths is how far along a line its current counts for the field at a
// place, in depths: what lies further adds 1/4n², 0.003 %, and 0.01 % to the
// depth of two coils.
const reachDepths = 100

// section is the vertical plane across the line at a station, with all wires
// that count there.
func (l *Line) section(s, spacing float64) section {
	foot, along := l.Path.At(s), l.Path.Along(s)
	left := along.Left()
	reach := reachDepths * l.DepthAt(s)
	wires := l.filaments(nil, s-reach, s+reach, 0, l.DepthAt, l.CurrentAt)
	for _, d := range l.Stretches {
		from, to := max(d.From, s-reach), min(d.To, s+reach)
		if from < to {
			wires = l.filaments(wires, from, to, d.Offset,
				func(float64) float64 { return d.Depth },
				func(t float64) float64 { return d.Share * l.CurrentAt(t) })
		}
	}
	for _, b := range l.Beside {
		there, _ := b.Line.Path.Nearest(foot)
		scale := 1.0
		if !b.Joined {
			scale = b.Share * l.CurrentAt(s) / b.Line.CurrentAt(there)
			if b.Line.Path.Along(there).Dot(along) < 0 {
				scale = -scale
			}
		}
		wires = b.Line.filaments(wires, there-reach, there+reach, 0, b.Line.DepthAt,
			func(t float64) float64 { return scale * b.Line.CurrentAt(t) })
	}
	return section{
		wires:   wires,
		foot:    vec{foot.E, foot.N, 0},
		left:    vec{left.E, left.N, 0},
		spacing: spacing,
	}
}

// filaments appends the straight pieces between two stations of a wire that
// runs beside the line at an offset. A closed line goes round.
func (l *Line) filaments(wires []filament, from, to, offset float64, depth, current func(float64) float64) []filament {
	length := l.Path.Length()
	if l.Closed {
		if to-from > length {
			to = from + length
		}
		if from < 0 {
			wires = l.filaments(wires, 0, to, offset, depth, current)
			return l.filaments(wires, from+length, length, offset, depth, current)
		}
		if to > length {
			wires = l.filaments(wires, 0, to-length, offset, depth, current)
		}
	}
	if !l.Onward[0] {
		from = max(from, 0)
	}
	if !l.Onward[1] {
		to = min(to, length)
	}
	if from >= to {
		return wires
	}
	place := func(s float64) vec {
		p := l.Path.At(s)
		if offset != 0 {
			p = p.Add(l.Path.Along(s).Left().Mul(offset))
		}
		return vec{p.E, p.N, -depth(s)}
	}
	a, sa := place(from), from
	extend := func(sb float64) {
		if sb-sa > 1e-6 {
			b := place(sb)
			wires = append(wires, filament{a: a, b: b, current: current((sa + sb) / 2)})
			a, sa = b, sb
		}
	}
	for _, sb := range l.Path.Stations {
		if sb > from && sb < to {
			extend(sb)
		}
	}
	extend(to)
	return wires
}

// newDepths gives a depth at each vertex: a level that drifts smoothly about
// the line's own, as trenches do.
func newDepths(p *Path, mean float64, rng *rand.Rand) []float64 {
	const wave = 30.0 // m between the knots
	n := int(p.Length()/wave) + 3
	knots := make([]float64, n)
	for i := range knots {
		knots[i] = mean * (1 + 0.08*rng.NormFloat64())
	}
	depths := make([]float64, len(p.Stations))
	for i, s := range p.Stations {
		k := min(int(s/wave), n-2)
		t := s/wave - float64(k)
		t = t * t * (3 - 2*t)
		depths[i] = max(0.25, knots[k]+t*(knots[k+1]-knots[k]))
	}
	return depths
}

// parallel gives the path beside another at an offset, corner by corner, as
// services in one trench run.
func parallel(p *Path, offset float64) Path {
	out := Path{}
	var station float64
	for i := range p.Points {
		var left plane.Pt
		switch i {
		case 0:
			left = p.Points[1].Sub(p.Points[0]).Unit().Left()
		case len(p.Points) - 1:
			left = p.Points[i].Sub(p.Points[i-1]).Unit().Left()
		default:
			a := p.Points[i].Sub(p.Points[i-1]).Unit().Left()
			b := p.Points[i+1].Sub(p.Points[i]).Unit().Left()
			left = a.Add(b).Mul(1 / (1 + a.Dot(b))) // to the crossing of both parallels
		}
		q := p.Points[i].Add(left.Mul(offset))
		if i > 0 {
			station += q.Dist(out.Points[i-1])
		}
		out.Points = append(out.Points, q)
		out.Stations = append(out.Stations, station)
	}
	return out
}
