package report

import (
	"math"

	"tracemap/export"
	"tracemap/fuse"
	"tracemap/geodesy/plane"
	"tracemap/internal/svg"
)

// A view maps the day's plane onto a drawing: turned, then scaled alike in both
// directions, so that the plan is true to shape.
type view struct {
	cos, sin float64 // of the angle from east to the drawing's right
	scale    float64 // drawing units a metre
	u, v     float64 // of the drawing's upper left corner, m
	x, y     float64 // that corner on the drawing
}

// turned gives p along and to the left of the drawing's right.
func (w *view) turned(p plane.Pt) (u, v float64) {
	return p.E*w.cos + p.N*w.sin, p.N*w.cos - p.E*w.sin
}

func (w *view) at(p plane.Pt) svg.Point {
	u, v := w.turned(p)
	return svg.Point{X: w.x + (u-w.u)*w.scale, Y: w.y + (w.v-v)*w.scale}
}

func (w *view) path(ps []plane.Pt) []svg.Point {
	out := make([]svg.Point, len(ps))
	for i, p := range ps {
		out[i] = w.at(p)
	}
	return out
}

// fit makes a view of points inside a box at x, y: as large as width allows, but
// no higher than most. It gives the height used, at least least.
func fit(points []plane.Pt, angle, x, y, width, least, most, pad float64) (view, float64) {
	w := view{cos: math.Cos(angle), sin: math.Sin(angle), x: x, y: y}
	lowU, highU, lowV, highV := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range points {
		u, v := w.turned(p)
		lowU, highU, lowV, highV = min(lowU, u), max(highU, u), min(lowV, v), max(highV, v)
	}
	if lowU > highU {
		lowU, highU, lowV, highV = 0, 0, 0, 0
	}
	spanU, spanV := max(highU-lowU, 0.5), max(highV-lowV, 0.5)
	w.scale = min(width/spanU, (most-2*pad)/spanV)
	height := max(least, spanV*w.scale+2*pad)
	w.u = (lowU+highU)/2 - width/2/w.scale
	w.v = (lowV+highV)/2 + height/2/w.scale
	return w, height
}

// heading is the angle from east of the way a part runs: from its first to its
// last vertex, or the long way of its shape when it comes back on itself.
func heading(vs []fuse.Vertex) float64 {
	d := vs[len(vs)-1].At.Sub(vs[0].At)
	if d.Len() > 0.5*vs[len(vs)-1].Station {
		return math.Atan2(d.N, d.E)
	}
	var mean plane.Pt
	for i := range vs {
		mean = mean.Add(vs[i].At.Mul(1 / float64(len(vs))))
	}
	var ee, nn, en float64
	for i := range vs {
		p := vs[i].At.Sub(mean)
		ee, nn, en = ee+p.E*p.E, nn+p.N*p.N, en+p.E*p.N
	}
	angle := math.Atan2(2*en, ee-nn) / 2 // principal axis
	if d.E*math.Cos(angle)+d.N*math.Sin(angle) < 0 {
		angle += math.Pi
	}
	return angle
}

// vertexPlaces are a part's vertices in the day's plane.
func vertexPlaces(part *fuse.Part) []plane.Pt {
	out := make([]plane.Pt, len(part.Vertices))
	for i := range part.Vertices {
		out[i] = part.Vertices[i].At
	}
	return out
}

// corridor draws a part's 95 % corridor.
func (w *view) corridor(c *svg.Canvas, part *fuse.Part, class string) {
	for _, polygon := range part.Corridor {
		rings := make([][]svg.Point, len(polygon))
		for i, ring := range polygon {
			rings[i] = w.path(ring)
		}
		c.Add("path", "d", svg.Ring(rings), "class", class, "fill-rule", "evenodd")
	}
}

// line draws a part in its utility's colour on a dark casing, so that yellow
// shows on paper; stretches that rest on less are broken. A fine line leaves room
// for the corridor.
func (w *view) line(c *svg.Canvas, line *fuse.Line, part *fuse.Part, fine bool) {
	look := export.LookOf(line.Utility)
	if len(part.Vertices) == 1 {
		p := w.at(part.Vertices[0].At)
		c.Add("circle", "cx", p.X, "cy", p.Y, "r", 4.0, "class", "casing dot", "fill", hex(look))
		return
	}
	for _, s := range stretches(line, part) {
		d, class := svg.Path(w.path(s.points)), ""
		if s.doubtful {
			class += " doubt"
		}
		if fine {
			class += " fine"
		}
		c.Add("path", "d", d, "class", "casing"+class)
		c.Add("path", "d", d, "class", "core"+class, "stroke", hex(look))
	}
}

// A stretch of a part that is drawn in one way.
type stretch struct {
	points   []plane.Pt
	doubtful bool
}

// stretches cuts a part where it becomes doubtful or sure again.
func stretches(line *fuse.Line, part *fuse.Part) []stretch {
	wide := export.PartWide(line, part)
	var out []stretch
	for i := 1; i < len(part.Vertices); i++ {
		a, b := &part.Vertices[i-1], &part.Vertices[i]
		doubtful := (a.Flags | b.Flags | wide).Any(export.Doubtful)
		if n := len(out); n > 0 && out[n-1].doubtful == doubtful {
			out[n-1].points = append(out[n-1].points, b.At)
			continue
		}
		out = append(out, stretch{[]plane.Pt{a.At, b.At}, doubtful})
	}
	return out
}

// hex is a utility's colour for SVG.
func hex(look export.Look) string {
	const digits = "0123456789abcdef"
	out := []byte{'#'}
	for _, v := range []uint8{look.Colour.R, look.Colour.G, look.Colour.B} {
		out = append(out, digits[v>>4], digits[v&15])
	}
	return string(out)
}

// north draws an arrow to grid north in the upper right corner of a plan.
func (w *view) north(c *svg.Canvas, x, y float64) {
	turn := math.Atan2(w.sin, w.cos) * 180 / math.Pi // the drawing's right lies that far from east, anticlockwise
	c.Open("g", "transform", "translate("+svg.Number(x)+" "+svg.Number(y)+") rotate("+svg.Number(turn)+")")
	c.Add("path", "d", "M0 -13L5 9L0 5L-5 9Z", "class", "north")
	c.Text(0, -16, "middle", "small strong", "N")
	c.Close("g")
}

// bar draws a scale bar of a round length, its right end at x.
func (w *view) bar(c *svg.Canvas, x, y, most float64, u export.Units) {
	factor, symbol := u.Scale()
	length := svg.Step(most/w.scale*factor, 1)
	if length*w.scale/factor > most {
		length = svg.Step(most/w.scale*factor/2.5, 1)
	}
	px := length * w.scale / factor
	c.Add("path", "d", svg.Path([]svg.Point{{X: x - px, Y: y - 5}, {X: x - px, Y: y}, {X: x, Y: y}, {X: x, Y: y - 5}}), "class", "frame")
	c.Text(x-px/2, y-4, "middle", "small halo", svg.Label(length, length)+" "+symbol)
}
