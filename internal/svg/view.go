package svg

import (
	"math"

	"tracemap/geodesy/plane"
)

// A View maps a plane in metres onto a drawing: turned, then scaled alike in both
// directions, so that a plan is true to shape.
type View struct {
	Scale    float64 // drawing units a metre
	cos, sin float64 // of the angle from east to the drawing's right
	u, v     float64 // of the drawing's upper left corner, m
	x, y     float64 // that corner on the drawing
}

// A Frame is where a view may draw: its upper left corner and width, the least and
// the most height, and what is kept free at the sides and above and below.
type Frame struct{ X, Y, Width, Least, Most, Beside, Above float64 }

// Fit makes a view of points, turned so that the direction angle from east points to
// the right: as large as the frame's width allows, but not higher than its most. It
// gives the height used.
func (f Frame) Fit(points []plane.Pt, angle float64) (View, float64) {
	w := View{cos: math.Cos(angle), sin: math.Sin(angle), x: f.X, y: f.Y}
	lowU, highU, lowV, highV := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range points {
		u, v := w.turned(p)
		lowU, highU, lowV, highV = min(lowU, u), max(highU, u), min(lowV, v), max(highV, v)
	}
	if lowU > highU {
		lowU, highU, lowV, highV = 0, 0, 0, 0
	}
	spanU, spanV := max(highU-lowU, 0.5), max(highV-lowV, 0.5)
	w.Scale = min((f.Width-2*f.Beside)/spanU, (f.Most-2*f.Above)/spanV)
	height := max(f.Least, spanV*w.Scale+2*f.Above)
	w.u = (lowU+highU)/2 - f.Width/2/w.Scale
	w.v = (lowV+highV)/2 + height/2/w.Scale
	return w, height
}

// turned gives p along and to the left of the drawing's right.
func (w *View) turned(p plane.Pt) (u, v float64) {
	return p.E*w.cos + p.N*w.sin, p.N*w.cos - p.E*w.sin
}

// At is where p is drawn.
func (w *View) At(p plane.Pt) Point {
	u, v := w.turned(p)
	return Point{X: w.x + (u-w.u)*w.Scale, Y: w.y + (w.v-v)*w.Scale}
}

// Path is where points are drawn.
func (w *View) Path(ps []plane.Pt) []Point { return w.AppendPath(make([]Point, 0, len(ps)), ps) }

// AppendPath appends where points are drawn.
func (w *View) AppendPath(out []Point, ps []plane.Pt) []Point {
	for _, p := range ps {
		out = append(out, w.At(p))
	}
	return out
}

// North draws an arrow to grid north.
func (w *View) North(c *Canvas, x, y float64) {
	turn := math.Atan2(w.sin, w.cos) * 180 / math.Pi // the drawing's right lies that far from east, anticlockwise
	c.Open("g", "transform", "translate("+Number(x)+" "+Number(y)+") rotate("+Number(turn)+")")
	c.Add("path", "d", "M0 -13L5 9L0 5L-5 9Z", "class", "north")
	c.Text(0, -16, "middle", "small strong", "N")
	c.Close("g")
}

// Bar draws a scale bar of a round length, no longer than most, with its right end at
// x; a metre is so many of the units that the symbol names.
func (w *View) Bar(c *Canvas, x, y, most, units float64, symbol string) {
	length := Step(most/w.Scale*units, 1)
	if length*w.Scale/units > most {
		length = Step(most/w.Scale*units/2.5, 1)
	}
	px := length * w.Scale / units
	c.Add("path", "d", []Point{{X: x - px, Y: y - 5}, {X: x - px, Y: y}, {X: x, Y: y}, {X: x, Y: y - 5}}, "class", "frame")
	c.Text(x-px/2, y-4, "middle", "small halo", Label(length, length)+" "+symbol)
}

// Heading is the angle from east of the way from the first to the last point, or the
// long way of the shape when it comes back on itself.
func Heading(ps []plane.Pt) float64 {
	d := ps[len(ps)-1].Sub(ps[0])
	if d.Len() > 0.5*plane.Polyline(ps).Length() {
		return math.Atan2(d.N, d.E)
	}
	var mean plane.Pt
	for _, p := range ps {
		mean = mean.Add(p.Mul(1 / float64(len(ps))))
	}
	var ee, nn, en float64
	for _, p := range ps {
		q := p.Sub(mean)
		ee, nn, en = ee+q.E*q.E, nn+q.N*q.N, en+q.E*q.N
	}
	angle := math.Atan2(2*en, ee-nn) / 2 // principal axis
	if d.E*math.Cos(angle)+d.N*math.Sin(angle) < 0 {
		angle += math.Pi
	}
	return angle
}
