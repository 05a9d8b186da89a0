package simulate

import (
	"math"
	"sort"

	"tracemap/geodesy/plane"
)

// A Path is a polyline with its stations: the true centreline of a line in the
// plane. Arcs are sampled so densely that their chords miss them by less than
// 2 mm; straights have a vertex at least every 2 m, so that a depth can be
// given at each.
type Path struct {
	Points   []plane.Pt
	Stations []float64
}

// Length is the station of the last vertex, m.
func (p *Path) Length() float64 { return p.Stations[len(p.Stations)-1] }

// segment gives the index of the segment that holds a station: the one after
// it, at a vertex.
func (p *Path) segment(s float64) int {
	i := sort.SearchFloat64s(p.Stations, s)
	if i < len(p.Stations) && p.Stations[i] == s {
		i++
	}
	return min(max(i-1, 0), len(p.Stations)-2)
}

// At is the place at a station; beyond the ends it goes straight on.
func (p *Path) At(s float64) plane.Pt {
	i := p.segment(s)
	t := (s - p.Stations[i]) / (p.Stations[i+1] - p.Stations[i])
	return p.Points[i].Lerp(p.Points[i+1], t)
}

// Along is the unit vector of the drawn direction at a station.
func (p *Path) Along(s float64) plane.Pt {
	i := p.segment(s)
	return p.Points[i+1].Sub(p.Points[i]).Unit()
}

// Nearest gives the station of the place of the path that is nearest to q, and
// q's offset from it, positive to the left.
func (p *Path) Nearest(q plane.Pt) (station, offset float64) {
	best := math.Inf(1)
	for i := range len(p.Points) - 1 {
		a, d := p.Points[i], p.Points[i+1].Sub(p.Points[i])
		t := min(max(q.Sub(a).Dot(d)/d.Dot(d), 0), 1)
		if dist := q.Dist(a.Add(d.Mul(t))); dist < best {
			best = dist
			station = p.Stations[i] + t*(p.Stations[i+1]-p.Stations[i])
			offset = math.Copysign(dist, d.Cross(q.Sub(a)))
		}
	}
	return station, offset
}

// interpolate gives the value at a station of values given at the vertices.
func (p *Path) interpolate(values []float64, s float64) float64 {
	i := p.segment(min(max(s, 0), p.Length()))
	t := (s - p.Stations[i]) / (p.Stations[i+1] - p.Stations[i])
	t = min(max(t, 0), 1)
	return values[i] + t*(values[i+1]-values[i])
}

// A Corner is a place where a line turns at once, by a fitting.
type Corner struct {
	Station float64
	At      plane.Pt
	Turn    float64 // degrees, positive to the left
}

// A pen draws a path as pipes are laid: straights joined by fittings and arcs.
type pen struct {
	at      plane.Pt
	azimuth float64 // degrees clockwise from north
	station float64
	path    Path
	corners []Corner
}

const (
	straightStep = 2.0   // m between the vertices of a straight
	arcMiss      = 0.002 // m that the chord of an arc may miss it by
)

func newPen(at plane.Pt, azimuth float64) *pen {
	p := &pen{at: at, azimuth: azimuth}
	p.path = Path{Points: []plane.Pt{at}, Stations: []float64{0}}
	return p
}

func direction(azimuth float64) plane.Pt {
	sin, cos := math.Sincos(azimuth * math.Pi / 180)
	return plane.Pt{E: sin, N: cos}
}

func (p *pen) move(to plane.Pt) {
	p.station += to.Dist(p.at)
	p.at = to
	p.path.Points = append(p.path.Points, to)
	p.path.Stations = append(p.path.Stations, p.station)
}

func (p *pen) straight(length float64) *pen {
	n := max(1, math.Ceil(length/straightStep))
	from, d := p.at, direction(p.azimuth)
	for i := 1.0; i <= n; i++ {
		p.move(from.Add(d.Mul(length * i / n)))
	}
	return p
}

// to draws a straight to a place, with a fitting where it leaves the direction.
func (p *pen) to(q plane.Pt) *pen {
	d := q.Sub(p.at)
	azimuth := math.Atan2(d.E, d.N) * 180 / math.Pi
	turn := math.Remainder(p.azimuth-azimuth, 360)
	if p.station > 0 && math.Abs(turn) > 0.01 {
		p.bend(turn)
	}
	p.azimuth = azimuth
	p.straight(d.Len())
	return p
}

// bend is a fitting: the direction changes at once.
func (p *pen) bend(turn float64) *pen {
	p.corners = append(p.corners, Corner{Station: p.station, At: p.at, Turn: turn})
	p.azimuth -= turn
	return p
}

// arc is a bend of a radius.
func (p *pen) arc(radius, turn float64) *pen {
	step := math.Sqrt(8 * radius * arcMiss) // L²/8R = miss
	length := radius * math.Abs(turn) * math.Pi / 180
	n := max(2, math.Ceil(length/step))
	centre := p.at.Add(direction(p.azimuth).Left().Mul(math.Copysign(radius, turn)))
	out := p.at.Sub(centre)
	az0 := math.Atan2(out.E, out.N) * 180 / math.Pi
	for i := 1.0; i <= n; i++ {
		p.move(centre.Add(direction(az0 - turn*i/n).Mul(radius)))
	}
	p.azimuth -= turn
	return p
}
