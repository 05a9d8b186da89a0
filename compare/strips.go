package compare

import (
	"fmt"
	"html/template"
	"math"

	"tracemap/geodesy/plane"
	"tracemap/internal/svg"
	"tracemap/present"
)

// A sheet is the picture of a pair: a plan with exaggerated offsets, and below it
// on one axis of stations a strip of lateral differences, one of depths and a
// ribbon of verdicts.
const (
	sheetWidth = 760.0
	leftEdge   = 64.0
	rightEdge  = 744.0
)

type sheet struct {
	r      *Result
	p      *Pair
	rec    *record
	id     string
	unit   unit
	factor float64
	symbol string
	x      svg.Axis
	c      *svg.Canvas
	y      float64
}

func (s *sheet) draw() template.HTML {
	s.factor, s.symbol = present.Units{Imperial: s.unit.imperial}.Scale()
	s.x = svg.Axis{Low: 0, High: s.p.Length * s.factor, From: leftEdge, To: rightEdge}
	s.c = svg.New(sheetWidth, 0, "As-located against as-built along "+s.p.AsBuiltID)
	s.panels()
	s.c.SetHeight(s.y)
	return template.HTML(s.c.String())
}

func (s *sheet) panels() {
	s.y = 0
	s.plan()
	s.lateral()
	s.depth()
	s.ribbon()
	s.axis()
}

func (s *sheet) heading(text string) {
	s.c.Text(4, s.y+12, "start", "h", text)
	s.y += 18
}

// exaggerations are by how much offsets may be drawn larger than they are.
var exaggerations = []float64{50, 20, 10, 5, 2, 1}

// plan draws the record turned to run from left to right, and the located line
// with its offsets exaggerated.
func (s *sheet) plan() {
	var points []plane.Pt
	for _, p := range s.rec.pieces {
		points = append(points, p.pts...)
	}
	frame, height := svg.Frame{X: leftEdge, Y: s.y + 18, Width: rightEdge - leftEdge, Least: 96, Most: 230, Beside: 34, Above: 34}.
		Fit(points, svg.Heading(points))
	w := view{frame}
	most := 0.0
	for i := range s.p.Stations {
		most = max(most, math.Abs(s.p.Stations[i].Lateral))
	}
	k := 1.0
	for _, k = range exaggerations {
		if most*k*w.Scale <= 26 {
			break
		}
	}
	title := "Plan, turned so that the record runs from left to right; offsets drawn to scale"
	if k > 1 {
		title = fmt.Sprintf("Plan, turned so that the record runs from left to right; offsets drawn %.0f times as large", k)
	}
	s.heading(title)
	clip := "clip-" + s.id
	s.c.Open("clipPath", "id", clip)
	s.c.Add("rect", "x", 4.0, "y", s.y, "width", sheetWidth-8, "height", height)
	s.c.Close("clipPath")
	s.c.Add("rect", "x", 4.0, "y", s.y, "width", sheetWidth-8, "height", height, "class", "panel")
	s.c.Open("g", "clip-path", "url(#"+clip+")")
	s.offsets(&w, k)
	w.record(s.c, s.rec, "built")
	s.ticks(&w)
	s.direction(&w)
	s.c.Close("g")
	w.North(s.c, rightEdge-14, s.y+30)
	w.Bar(s.c, rightEdge-24, s.y+height-8, 110, s.factor, s.symbol)
	s.y += height + 8
}

// offsets draws a vector a station and the located line through their ends.
func (s *sheet) offsets(w *view, k float64) {
	colour := lookOf(s.p.Utility).Hex()
	var run []plane.Pt
	var last *Station
	flush := func() {
		if len(run) > 0 {
			w.located(s.c, run, colour)
		}
		run = nil
	}
	for i := range s.p.Stations {
		x := &s.p.Stations[i]
		to := x.at.Add(x.beside.Sub(x.at).Mul(k))
		a, b := w.At(x.at), w.At(to)
		s.c.Line(a.X, a.Y, b.X, b.Y, "vector v-"+x.Verdict().String())
		if last != nil && (s.p.Points > 0 || x.piece != last.piece || x.LineID != last.LineID || x.Part != last.Part || x.Station-last.Station > 2.5*s.r.Options.Every) {
			flush()
		}
		run = append(run, to)
		last = x
	}
	flush()
}

// ticks marks round stations on the record.
func (s *sheet) ticks(w *view) {
	ticks, step := s.x.Ticks(8)
	for _, t := range ticks {
		for k := range s.rec.pieces {
			p := &s.rec.pieces[k]
			at := t/s.factor - p.from
			if at < -1e-9 || at > p.length()+1e-9 {
				continue
			}
			q, dir := p.at(max(0, at))
			n := dir.Left()
			a, b := w.At(q.Add(n.Mul(5/w.Scale))), w.At(q.Sub(n.Mul(5/w.Scale)))
			s.c.Line(a.X, a.Y, b.X, b.Y, "tick")
			c := w.At(q.Sub(n.Mul(15 / w.Scale)))
			s.c.Text(c.X, c.Y+4, "middle", "small halo", svg.Label(t, step))
			break
		}
	}
}

// direction draws an arrow head at the record's end: left is left of it.
func (s *sheet) direction(w *view) {
	p := &s.rec.pieces[len(s.rec.pieces)-1]
	end, dir := p.at(p.length())
	tip := end.Add(dir.Mul(3 / w.Scale))
	back := end.Sub(dir.Mul(8 / w.Scale))
	n := dir.Left().Mul(4.5 / w.Scale)
	s.c.Add("path", "d", svg.Path(w.Path([]plane.Pt{tip, back.Add(n), back.Sub(n)}))+"Z", "class", "north")
}

// grid draws a panel's frame with lines at round values and stations.
func (s *sheet) grid(height, low, high float64, n int) svg.Axis {
	axis := svg.Axis{Low: low, High: high, From: s.y + height, To: s.y}
	s.c.Add("rect", "x", leftEdge, "y", s.y, "width", rightEdge-leftEdge, "height", height, "class", "panel")
	ticks, step := svg.Axis{Low: min(low, high), High: max(low, high)}.Ticks(n)
	for _, v := range ticks {
		y := axis.At(v)
		s.c.Line(leftEdge, y, rightEdge, y, "grid")
		s.c.Text(leftEdge-5, max(y+4, s.y+9), "end", "small", svg.Label(v, step))
	}
	along, _ := s.x.Ticks(10)
	for _, v := range along {
		s.c.Line(s.x.At(v), s.y, s.x.At(v), s.y+height, "grid")
	}
	s.c.Turned(14, s.y+height/2, -90, "middle", "small", s.symbol)
	return axis
}

// series gives a value of each station as points on a panel, broken where the
// located line has a gap, and within the panel.
func (s *sheet) series(axis svg.Axis, of func(*Station) float64) []svg.Point {
	return s.points(axis, of, s.parted)
}

// whole is series without breaks: of what the record has.
func (s *sheet) whole(axis svg.Axis, of func(*Station) float64) []svg.Point {
	return s.points(axis, of, func(i, j int) bool { return s.p.Points == 0 && s.parted(i, j) })
}

func (s *sheet) points(axis svg.Axis, of func(*Station) float64, parted func(i, j int) bool) []svg.Point {
	var out []svg.Point
	for i := range s.p.Stations {
		x := &s.p.Stations[i]
		if i > 0 && parted(i-1, i) {
			out = append(out, svg.Point{X: math.NaN(), Y: math.NaN()})
		}
		lo, hi := min(axis.Low, axis.High), max(axis.Low, axis.High)
		v := of(x) * s.factor
		if present.Known(v) {
			v = min(max(v, lo), hi)
		}
		out = append(out, svg.Point{X: s.x.At(x.Station * s.factor), Y: axis.At(v)})
	}
	return out
}

// parted reports whether no line is drawn between two stations: the located line
// has a gap there, or there are points only.
func (s *sheet) parted(i, j int) bool {
	return s.p.Points > 0 || s.p.Stations[j].Station-s.p.Stations[i].Station > 2.5*s.r.Options.Every
}

// lateral draws the lateral differences with their uncertainty; the record is
// the line at zero, with the tolerance about it.
func (s *sheet) lateral() {
	s.heading("Lateral difference: the located line left (+) or right (−) of the record")
	var reach []float64
	tolerance := s.r.Options.Tolerance
	for i := range s.p.Stations {
		x := &s.p.Stations[i]
		reach = append(reach, math.Abs(x.Lateral)+min(x.Lateral95, 4*tolerance+1))
	}
	high := niceHigh(max(quantileOf(reach, 0.97)*1.05, 1.25*tolerance, 0.1) * s.factor)
	const height = 116
	axis := s.grid(height, -high, high, 6)
	s.gapShades(height)
	y := axis.At(tolerance * s.factor)
	s.c.Add("rect", "x", leftEdge, "y", y, "width", rightEdge-leftEdge, "height", axis.At(-tolerance*s.factor)-y, "class", "tolerance")
	s.c.Add("path", "d", svg.Band(
		s.series(axis, func(x *Station) float64 { return x.Lateral + x.Lateral95 }),
		s.series(axis, func(x *Station) float64 { return x.Lateral - x.Lateral95 })), "class", "band", "fill", lookOf(s.p.Utility).Hex())
	s.c.Line(leftEdge, axis.At(0), rightEdge, axis.At(0), "built")
	s.c.Add("path", "d", svg.Path(s.series(axis, func(x *Station) float64 { return x.Lateral })), "class", "fit")
	s.singles(axis, func(x *Station) float64 { return x.Lateral }, func(x *Station) float64 { return x.Lateral95 })
	s.worst(axis, s.p.Lateral)
	s.y += height + 8
}

// singles draws dots with their uncertainty where a line of values would not
// show: stations alone.
func (s *sheet) singles(axis svg.Axis, of, u95 func(*Station) float64) {
	lo, hi := min(axis.Low, axis.High), max(axis.Low, axis.High)
	at := func(v float64) float64 { return axis.At(min(max(v*s.factor, lo), hi)) }
	for i := range s.p.Stations {
		x := &s.p.Stations[i]
		before, after := i > 0 && !s.parted(i-1, i), i+1 < len(s.p.Stations) && !s.parted(i, i+1)
		if before || after || !present.Known(of(x)) {
			continue
		}
		px := s.x.At(x.Station * s.factor)
		if u := u95(x); present.Known(u) {
			s.c.Line(px, at(of(x)-u), px, at(of(x)+u), "whisker")
		}
		s.c.Add("circle", "cx", px, "cy", at(of(x)), "r", 2.6, "class", "dot")
	}
}

// worst marks the largest difference.
func (s *sheet) worst(axis svg.Axis, st Stats) {
	if st.N == 0 {
		return
	}
	v := min(max(st.MaxSigned*s.factor, min(axis.Low, axis.High)), max(axis.Low, axis.High))
	x, y := s.x.At(st.MaxStation*s.factor), axis.At(v)
	s.c.Add("circle", "cx", x, "cy", y, "r", 3.4, "class", "ring")
	anchor, dx := "start", 7.0
	if x > rightEdge-70 {
		anchor, dx = "end", -7
	}
	dy := -5.0
	if y < s.y+18 {
		dy = 13
	}
	s.c.Text(x+dx, y+dy, anchor, "small halo", s.unit.signed(st.MaxSigned))
}

// depth draws both depths downwards from the ground, the record's with the
// tolerance, the located one's with the uncertainty of both.
func (s *sheet) depth() {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range s.p.Stations {
		x := &s.p.Stations[i]
		for _, v := range []float64{x.DepthLocated, x.DepthAsBuilt} {
			if present.Known(v) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	if low > high {
		s.heading("Depth: known on neither side")
		return
	}
	tolerance := s.r.Options.depthTolerance()
	low, high = max(0, low-max(tolerance, 0.3)-0.15), high+max(tolerance, 0.3)+0.15
	s.heading("Depth of the centre below the ground of that day")
	const height = 116
	axis := s.grid(height, high*s.factor, low*s.factor, 5)
	s.gapShades(height)
	s.c.Add("path", "d", svg.Band(
		s.whole(axis, func(x *Station) float64 { return x.DepthAsBuilt - tolerance }),
		s.whole(axis, func(x *Station) float64 { return x.DepthAsBuilt + tolerance })), "class", "tolerance")
	s.c.Add("path", "d", svg.Band(
		s.series(axis, func(x *Station) float64 { return x.DepthLocated - x.Depth95 }),
		s.series(axis, func(x *Station) float64 { return x.DepthLocated + x.Depth95 })), "class", "band", "fill", lookOf(s.p.Utility).Hex())
	s.c.Add("path", "d", svg.Path(s.whole(axis, func(x *Station) float64 { return x.DepthAsBuilt })), "class", "built")
	s.c.Add("path", "d", svg.Path(s.series(axis, func(x *Station) float64 { return x.DepthLocated })), "class", "fit")
	s.singles(axis, func(x *Station) float64 { return x.DepthLocated }, func(x *Station) float64 { return x.Depth95 })
	s.y += height + 8
}

// gapShades hatches the stretches without a partner.
func (s *sheet) gapShades(height float64) {
	for _, g := range s.p.Gaps {
		x0, x1 := s.x.At(g.From*s.factor), s.x.At(g.To*s.factor)
		s.c.Add("rect", "x", x0, "y", s.y, "width", x1-x0, "height", height, "class", "gap")
		if x1-x0 > 78 {
			s.c.Text((x0+x1)/2, s.y+14, "middle", "small halo", "not located")
		}
	}
}

// ribbon colours the verdict a station; patterns tell them apart without colour.
func (s *sheet) ribbon() {
	s.heading("Verdict")
	const height = 14
	s.c.Add("rect", "x", leftEdge, "y", s.y, "width", rightEdge-leftEdge, "height", float64(height), "class", "panel")
	for from := 0; from < len(s.p.Stations); {
		to := from
		for to+1 < len(s.p.Stations) && s.p.Stations[to+1].Verdict() == s.p.Stations[from].Verdict() &&
			(s.p.Points > 0 || !s.parted(to, to+1)) {
			to++
		}
		x0, x1 := s.x.At(s.reach(from, -1)*s.factor), s.x.At(s.reach(to, 1)*s.factor)
		s.c.Add("rect", "x", max(leftEdge, x0), "y", s.y, "width", max(min(rightEdge, x1)-max(leftEdge, x0), 1.5), "height", float64(height), "class", "r-"+s.p.Stations[from].Verdict().String())
		from = to + 1
	}
	s.y += height
}

// reach is how far a station's verdict goes before it (−1) or after it (1): half
// way to its neighbour, if there is one.
func (s *sheet) reach(i, way int) float64 {
	x, j := &s.p.Stations[i], i+way
	if j >= 0 && j < len(s.p.Stations) && (s.p.Points > 0 || !s.parted(min(i, j), max(i, j))) {
		return (x.Station + s.p.Stations[j].Station) / 2
	}
	return x.Station + float64(way)*min(x.Weight, s.r.Options.Every)/2
}

// axis labels the stations below the last panel.
func (s *sheet) axis() {
	ticks, step := s.x.Ticks(10)
	for _, v := range ticks {
		s.c.Text(s.x.At(v), s.y+14, "middle", "small", svg.Label(v, step))
	}
	s.c.Text(leftEdge-14, s.y+14, "end", "small", "at, "+s.symbol)
	s.y += 22
}

// niceHigh rounds a panel's reach up.
func niceHigh(v float64) float64 {
	step := svg.Step(v, 5)
	return math.Ceil(v/step-1e-9) * step
}

func quantileOf(values []float64, p float64) float64 {
	return quantile(sorted(values), p)
}
