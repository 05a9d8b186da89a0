package compare

import (
	"fmt"
	"math"

	"tracemap/geodesy/plane"
	"tracemap/internal/svg"
)

// A view maps the site's plane onto a drawing: turned, then scaled alike in both
// directions.
type view struct {
	cos, sin float64 // of the angle from east to the drawing's right
	scale    float64 // drawing units a metre
	u, v     float64 // of the drawing's upper left corner, m
	x, y     float64 // that corner on the drawing
}

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

// fit makes a view of points in a box at x, y: as large as width allows, but not
// higher than most. It gives the height used, at least least.
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
	w.scale = min((width-2*pad)/spanU, (most-2*pad)/spanV)
	height := max(least, spanV*w.scale+2*pad)
	w.u = (lowU+highU)/2 - width/2/w.scale
	w.v = (lowV+highV)/2 + height/2/w.scale
	return w, height
}

// heading is the angle from east of the way from the first to the last point, or
// the long way of the shape when it comes back on itself.
func heading(ps []plane.Pt) float64 {
	length := plane.Polyline(ps).Length()
	d := ps[len(ps)-1].Sub(ps[0])
	if d.Len() > 0.5*length {
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
	angle := math.Atan2(2*en, ee-nn) / 2
	if d.E*math.Cos(angle)+d.N*math.Sin(angle) < 0 {
		angle += math.Pi
	}
	return angle
}

// north draws an arrow to grid north.
func (w *view) north(c *svg.Canvas, x, y float64) {
	turn := math.Atan2(w.sin, w.cos) * 180 / math.Pi
	c.Open("g", "transform", "translate("+svg.Number(x)+" "+svg.Number(y)+") rotate("+svg.Number(turn)+")")
	c.Add("path", "d", "M0 -13L5 9L0 5L-5 9Z", "class", "north")
	c.Text(0, -16, "middle", "small strong", "N")
	c.Close("g")
}

// bar draws a scale bar of a round length with its right end at x.
func (w *view) bar(c *svg.Canvas, x, y, most float64, u unit) {
	factor, symbol := u.scale()
	length := svg.Step(most/w.scale*factor, 1)
	if length*w.scale/factor > most {
		length = svg.Step(most/w.scale*factor/2.5, 1)
	}
	px := length * w.scale / factor
	c.Add("path", "d", svg.Path([]svg.Point{{X: x - px, Y: y - 5}, {X: x - px, Y: y}, {X: x, Y: y}, {X: x, Y: y - 5}}), "class", "frame")
	c.Text(x-px/2, y-4, "middle", "small halo", svg.Label(length, length)+" "+symbol)
}

// hex is a utility's colour for SVG.
func hex(l Look) string { return fmt.Sprintf("#%02x%02x%02x", l.Colour.R, l.Colour.G, l.Colour.B) }

// located draws a located line in its utility's colour on a dark casing, so that
// yellow shows on paper.
func (w *view) located(c *svg.Canvas, pts []plane.Pt, colour string) {
	if len(pts) == 1 {
		p := w.at(pts[0])
		c.Add("circle", "cx", p.X, "cy", p.Y, "r", 3.5, "class", "single", "fill", colour)
		return
	}
	d := svg.Path(w.path(pts))
	c.Add("path", "d", d, "class", "casing")
	c.Add("path", "d", d, "class", "core", "stroke", colour)
}

// overview draws the whole site: located lines in their colours, the record
// broken, what differs in red, records that were not located, and what is in
// none. Numbers are those of the table.
func (r *Result) overview() string {
	var points []plane.Pt
	for i := range r.located.parts {
		points = append(points, r.located.parts[i].pts...)
	}
	for i := range r.Pairs {
		for _, p := range r.record.records[r.Pairs[i].record].pieces {
			points = append(points, p.pts...)
		}
	}
	area := r.site.box.grown(20)
	for i := range r.NotLocated {
		for _, p := range r.record.records[r.NotLocated[i].index].pieces {
			for _, at := range p.pts {
				if area.has(at) {
					points = append(points, at)
				}
			}
		}
	}
	w, height := fit(points, 0, 4, 4, 752, 160, 620, 34)
	c := svg.New(760, height+8, "The site: lines as located and as built")
	c.Open("clipPath", "id", "site-clip")
	c.Add("rect", "x", 4.0, "y", 4.0, "width", 752.0, "height", height)
	c.Close("clipPath")
	c.Add("rect", "x", 4.0, "y", 4.0, "width", 752.0, "height", height, "class", "panel")
	c.Open("g", "clip-path", "url(#site-clip)")
	for i := range r.located.parts {
		q := &r.located.parts[i]
		w.located(c, q.pts, hex(r.Options.Look(q.utility)))
	}
	for i := range r.Pairs {
		w.record(c, &r.record.records[r.Pairs[i].record], "built")
		w.differing(c, &r.Pairs[i])
	}
	for i := range r.NotLocated {
		w.record(c, &r.record.records[r.NotLocated[i].index], "missing")
	}
	r.labels(c, &w)
	c.Close("g")
	w.north(c, 736, 34)
	w.bar(c, 742, height-6, 140, unit{r.Options.Imperial})
	return c.String()
}

func (w *view) record(c *svg.Canvas, rec *record, class string) {
	for _, p := range rec.pieces {
		c.Add("path", "d", svg.Path(w.path(p.pts)), "class", class)
	}
}

// differing draws a thick red stroke beside the places that differ.
func (w *view) differing(c *svg.Canvas, p *Pair) {
	var run []svg.Point
	flush := func() {
		if len(run) == 1 {
			c.Add("circle", "cx", run[0].X, "cy", run[0].Y, "r", 3.0, "class", "mark-differs")
		} else if len(run) > 1 {
			c.Add("path", "d", svg.Path(run), "class", "stroke-differs")
		}
		run = nil
	}
	for i := range p.Stations {
		if s := &p.Stations[i]; s.Verdict() == Differs {
			run = append(run, w.at(s.at))
		} else {
			flush()
		}
	}
	flush()
}

// labels writes the names of records at their middles, where there is room.
func (r *Result) labels(c *svg.Canvas, w *view) {
	const most = 150 // more would cover the picture
	var taken []svg.Point
	put := func(rec *record, class string) {
		p := &rec.pieces[0]
		at, _ := p.at(p.sta[len(p.sta)-1] / 2)
		place := w.at(at)
		for _, o := range taken {
			if math.Abs(o.X-place.X) < 46 && math.Abs(o.Y-place.Y) < 13 {
				return
			}
		}
		if len(taken) < most {
			taken = append(taken, place)
			c.Text(place.X+5, place.Y-5, "start", class, shorten(rec.id, 16))
		}
	}
	for i := range r.Pairs {
		put(&r.record.records[r.Pairs[i].record], "small halo")
	}
	for i := range r.NotLocated {
		put(&r.record.records[r.NotLocated[i].index], "small halo red")
	}
}

// shorten cuts a text to so many characters.
func shorten(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most-1]) + "…"
}
