package geofile

import (
	"math"
	"strconv"
)

// sagitta is how far a chord may leave the arc that it stands for, in units of
// the drawing: a hundredth of a metre or of a foot.
const sagitta = 0.01

// maxChords bounds what one arc may become.
const maxChords = 720

// chords is into how many chords an arc is cut.
func chords(radius, angle float64) int {
	if !(radius > sagitta) || !finite(angle) {
		return 1
	}
	step := 2 * math.Acos(1-sagitta/radius)
	return int(min(maxChords, max(1, math.Ceil(math.Abs(angle)/step))))
}

// bulged joins corners by straights, and by arcs where a corner has a bulge: the
// tangent of a quarter of the arc's angle, positive when it runs anticlockwise.
func bulged(corners []Vertex, bulges []float64, closed bool) []Vertex {
	if len(corners) == 0 {
		return nil
	}
	out := []Vertex{corners[0]}
	for i, a := range corners {
		j := i + 1
		if j == len(corners) {
			if !closed || len(corners) < 2 {
				break
			}
			j = 0
		}
		out = appendArc(out, a, corners[j], bulges[i])
	}
	return out
}

// appendArc appends the way from a to b without a.
func appendArc(out []Vertex, a, b Vertex, bulge float64) []Vertex {
	dx, dy := b.X-a.X, b.Y-a.Y
	chord := math.Hypot(dx, dy)
	if bulge == 0 || !finite(bulge) || !finite(chord) || chord == 0 {
		return append(out, b)
	}
	angle := 4 * math.Atan(bulge)
	radius := chord / 2 / math.Sin(angle/2) // positive for anticlockwise
	// The centre lies left of the chord for an anticlockwise arc below 180°.
	apothem := radius * math.Cos(angle/2)
	cx, cy := (a.X+b.X)/2-dy/chord*apothem, (a.Y+b.Y)/2+dx/chord*apothem
	from := math.Atan2(a.Y-cy, a.X-cx)
	n := chords(math.Abs(radius), angle)
	for k := 1; k < n; k++ {
		t := float64(k) / float64(n)
		sin, cos := math.Sincos(from + t*angle)
		out = append(out, Vertex{cx + math.Abs(radius)*cos, cy + math.Abs(radius)*sin, a.Z + t*(b.Z-a.Z)})
	}
	return append(out, b)
}

// arc reads a circular arc: centre 10, radius 40, angles 50 to 51 in degrees,
// anticlockwise.
func (e *dxfEntity) arc() []Vertex {
	c, radius := e.at(10), e.number(40, math.NaN())
	from, to := e.number(50, math.NaN()), e.number(51, math.NaN())
	sweep := math.Mod(math.Mod(to-from, 360)+360, 360) * math.Pi / 180
	n := chords(radius, sweep)
	line := make([]Vertex, n+1)
	for k := range line {
		sin, cos := math.Sincos(from*math.Pi/180 + sweep*float64(k)/float64(n))
		line[k] = Vertex{c.X + radius*cos, c.Y + radius*sin, c.Z}
	}
	return e.mirrored(line)
}

// spline reads a spline: degree 71, knots 40, weights 41, control points 10 or,
// where those are missing, the fit points 11, which the curve passes through.
func (e *dxfEntity) spline() []Vertex {
	var knots, weights []float64
	var control, fit []Vertex
	for _, g := range e.groups {
		v, err := strconv.ParseFloat(g.value, 64)
		if err != nil {
			continue
		}
		switch g.code {
		case 40:
			knots = append(knots, v)
		case 41:
			weights = append(weights, v)
		case 10:
			control = append(control, Vertex{v, math.NaN(), 0})
		case 11:
			fit = append(fit, Vertex{v, math.NaN(), 0})
		case 20, 21:
			if list := []([]Vertex){control, fit}[g.code-20]; len(list) > 0 {
				list[len(list)-1].Y = v
			}
		case 30, 31:
			if list := []([]Vertex){control, fit}[g.code-30]; len(list) > 0 {
				list[len(list)-1].Z = noZ(v)
			}
		}
	}
	degree := int(clamp(e.number(71, 3)))
	if len(control) == 0 {
		return fit
	}
	if degree < 1 || degree > 10 || len(knots) != len(control)+degree+1 || len(control) <= degree {
		return nil
	}
	if len(weights) != len(control) {
		weights = nil
	}
	return sampleSpline(control, weights, knots, degree)
}

// sampleSpline gives points of a spline: eight between two knots.
func sampleSpline(control []Vertex, weights, knots []float64, degree int) []Vertex {
	const between = 8
	var out []Vertex
	for i := degree; i < len(control); i++ {
		a, b := knots[i], knots[i+1]
		if !(b > a) {
			continue
		}
		for k := range between {
			out = append(out, deBoor(control, weights, knots, degree, i, a+(b-a)*float64(k)/between))
		}
		if i == len(control)-1 {
			out = append(out, deBoor(control, weights, knots, degree, i, b))
		}
	}
	return out
}

// deBoor evaluates a rational B-spline between the knots i and i+1 (C. de Boor,
// A Practical Guide to Splines, 1978, chapter X).
func deBoor(control []Vertex, weights, knots []float64, degree, i int, t float64) Vertex {
	type point struct{ x, y, z, w float64 }
	d := make([]point, degree+1)
	for j := range d {
		c, w := control[i-degree+j], 1.0
		if weights != nil {
			w = weights[i-degree+j]
		}
		d[j] = point{c.X * w, c.Y * w, c.Z * w, w}
	}
	for r := 1; r <= degree; r++ {
		for j := degree; j >= r; j-- {
			lo, hi := knots[i-degree+j], knots[i+1+j-r]
			a := 0.0
			if hi > lo {
				a = (t - lo) / (hi - lo)
			}
			p, q := d[j-1], d[j]
			d[j] = point{p.x + a*(q.x-p.x), p.y + a*(q.y-p.y), p.z + a*(q.z-p.z), p.w + a*(q.w-p.w)}
		}
	}
	p := d[degree]
	return Vertex{p.x / p.w, p.y / p.w, noZ(p.z / p.w)}
}
