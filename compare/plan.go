package compare

import (
	"math"

	"tracemap/geodesy/plane"
	"tracemap/internal/svg"
	"tracemap/present"
	"tracemap/readings"
)

// A view is where the site's plane stands on a drawing.
type view struct{ svg.View }

// lookOf is how a utility is drawn, as on the map.
func lookOf(utility string) present.Look { return present.LookOf(readings.Utility(utility)) }

// located draws a located line in its utility's colour on a dark casing, so that
// yellow shows on paper.
func (w *view) located(c *svg.Canvas, pts []plane.Pt, colour string) {
	if len(pts) == 1 {
		p := w.At(pts[0])
		c.Add("circle", "cx", p.X, "cy", p.Y, "r", 3.5, "class", "single", "fill", colour)
		return
	}
	d := svg.Path(w.Path(pts))
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
	frame, height := svg.Frame{X: 4, Y: 4, Width: 752, Least: 160, Most: 620, Beside: 34, Above: 34}.Fit(points, 0)
	w := view{frame}
	c := svg.New(760, height+8, "The site: lines as located and as built")
	c.Open("clipPath", "id", "site-clip")
	c.Add("rect", "x", 4.0, "y", 4.0, "width", 752.0, "height", height)
	c.Close("clipPath")
	c.Add("rect", "x", 4.0, "y", 4.0, "width", 752.0, "height", height, "class", "panel")
	c.Open("g", "clip-path", "url(#site-clip)")
	for i := range r.located.parts {
		q := &r.located.parts[i]
		w.located(c, q.pts, lookOf(q.utility).Hex())
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
	w.North(c, 736, 34)
	factor, symbol := present.Units{Imperial: r.Options.Imperial}.Scale()
	w.Bar(c, 742, height-6, 140, factor, symbol)
	return c.String()
}

func (w *view) record(c *svg.Canvas, rec *record, class string) {
	for _, p := range rec.pieces {
		c.Add("path", "d", svg.Path(w.Path(p.pts)), "class", class)
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
			run = append(run, w.At(s.at))
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
		at, _ := p.at(p.length() / 2)
		place := w.At(at)
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
