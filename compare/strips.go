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
	sheetWidth = svg.SheetWidth
	leftEdge   = svg.SheetLeft
	rightEdge  = svg.SheetRight
)

type sheet struct {
	svg.Sheet
	r      *Result
	p      *Pair
	rec    *record
	id     string
	unit   unit
	factor float64
	symbol string
}

func (s *sheet) draw() template.HTML {
	s.factor, s.symbol = present.Units{Imperial: s.unit.imperial}.Scale()
	s.X = svg.Axis{Low: 0, High: s.p.Length * s.factor, From: leftEdge, To: rightEdge}
	s.C = svg.New(sheetWidth, 0, "As-located against as-built along "+s.p.AsBuiltID)
	s.panels()
	s.C.SetHeight(s.Y)
	return template.HTML(s.C.String())
}

func (s *sheet) panels() {
	s.Y = 0
	s.plan()
	s.lateral()
	s.depth()
	s.ribbon()
	s.axis()
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
	frame, height := svg.Frame{X: leftEdge, Y: s.Y + 18, Width: rightEdge - leftEdge, Least: 96, Most: 230, Beside: 34, Above: 34}.
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
	s.Heading(title)
	s.Clipped(s.id, height, func() {
		s.offsets(&w, k)
		w.record(s.C, s.rec, "built")
		s.ticks(&w)
		s.direction(&w)
	})
	w.North(s.C, rightEdge-14, s.Y+30)
	w.Bar(s.C, rightEdge-24, s.Y+height-8, 110, s.factor, s.symbol)
	s.Y += height + 8
}

// offsets draws a vector a station and the located line through their ends.
func (s *sheet) offsets(w *view, k float64) {
	colour := lookOf(s.p.Utility).Hex()
	var run []plane.Pt
	var last *Station
	flush := func() {
		if len(run) > 0 {
			w.located(s.C, run, colour)
		}
		run = nil
	}
	for i := range s.p.Stations {
		x := &s.p.Stations[i]
		to := x.at.Add(x.beside.Sub(x.at).Mul(k))
		a, b := w.At(x.at), w.At(to)
		s.C.Line(a.X, a.Y, b.X, b.Y, "vector v-"+x.Verdict().String())
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
	ticks, step := s.X.Ticks(8)
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
			s.C.Line(a.X, a.Y, b.X, b.Y, "tick")
			c := w.At(q.Sub(n.Mul(15 / w.Scale)))
			s.C.Text(c.X, c.Y+4, "middle", "small halo", svg.Label(t, step))
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
	s.C.Add("path", "d", svg.Path(w.Path([]plane.Pt{tip, back.Add(n), back.Sub(n)}))+"Z", "class", "north")
}

// grid draws a panel's frame with its lines and unit, and gives its vertical axis.
func (s *sheet) grid(height, low, high float64, n int) svg.Axis {
	axis := s.Grid(height, low, high, n)
	s.Unit(height, s.symbol)
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
		out = append(out, svg.Point{X: s.X.At(x.Station * s.factor), Y: axis.At(v)})
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
	s.Heading("Lateral difference: the located line left (+) or right (−) of the record")
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
	s.C.Add("rect", "x", leftEdge, "y", y, "width", rightEdge-leftEdge, "height", axis.At(-tolerance*s.factor)-y, "class", "tolerance")
	s.C.Add("path", "d", svg.Band(
		s.series(axis, func(x *Station) float64 { return x.Lateral + x.Lateral95 }),
		s.series(axis, func(x *Station) float64 { return x.Lateral - x.Lateral95 })), "class", "band", "fill", lookOf(s.p.Utility).Hex())
	s.C.Line(leftEdge, axis.At(0), rightEdge, axis.At(0), "built")
	s.C.Add("path", "d", svg.Path(s.series(axis, func(x *Station) float64 { return x.Lateral })), "class", "fit")
	s.singles(axis, func(x *Station) float64 { return x.Lateral }, func(x *Station) float64 { return x.Lateral95 })
	s.worst(axis, s.p.Lateral)
	s.Y += height + 8
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
		px := s.X.At(x.Station * s.factor)
		if u := u95(x); present.Known(u) {
			s.C.Line(px, at(of(x)-u), px, at(of(x)+u), "whisker")
		}
		s.C.Add("circle", "cx", px, "cy", at(of(x)), "r", 2.6, "class", "dot")
	}
}

// worst marks the largest difference.
func (s *sheet) worst(axis svg.Axis, st Stats) {
	if st.N == 0 {
		return
	}
	v := min(max(st.MaxSigned*s.factor, min(axis.Low, axis.High)), max(axis.Low, axis.High))
	x, y := s.X.At(st.MaxStation*s.factor), axis.At(v)
	s.C.Add("circle", "cx", x, "cy", y, "r", 3.4, "class", "ring")
	anchor, dx := "start", 7.0
	if x > rightEdge-70 {
		anchor, dx = "end", -7
	}
	dy := -5.0
	if y < s.Y+18 {
		dy = 13
	}
	s.C.Text(x+dx, y+dy, anchor, "small halo", s.unit.signed(st.MaxSigned))
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
		s.Heading("Depth: known on neither side")
		return
	}
	tolerance := s.r.Options.depthTolerance()
	low, high = max(0, low-max(tolerance, 0.3)-0.15), high+max(tolerance, 0.3)+0.15
	s.Heading("Depth of the centre below the ground of that day")
	const height = 116
	axis := s.grid(height, high*s.factor, low*s.factor, 5)
	s.gapShades(height)
	s.C.Add("path", "d", svg.Band(
		s.whole(axis, func(x *Station) float64 { return x.DepthAsBuilt - tolerance }),
		s.whole(axis, func(x *Station) float64 { return x.DepthAsBuilt + tolerance })), "class", "tolerance")
	s.C.Add("path", "d", svg.Band(
		s.series(axis, func(x *Station) float64 { return x.DepthLocated - x.Depth95 }),
		s.series(axis, func(x *Station) float64 { return x.DepthLocated + x.Depth95 })), "class", "band", "fill", lookOf(s.p.Utility).Hex())
	s.C.Add("path", "d", svg.Path(s.whole(axis, func(x *Station) float64 { return x.DepthAsBuilt })), "class", "built")
	s.C.Add("path", "d", svg.Path(s.series(axis, func(x *Station) float64 { return x.DepthLocated })), "class", "fit")
	s.singles(axis, func(x *Station) float64 { return x.DepthLocated }, func(x *Station) float64 { return x.Depth95 })
	s.Y += height + 8
}

// gapShades hatches the stretches without a partner.
func (s *sheet) gapShades(height float64) {
	for _, g := range s.p.Gaps {
		x0, x1 := s.X.At(g.From*s.factor), s.X.At(g.To*s.factor)
		s.C.Add("rect", "x", x0, "y", s.Y, "width", x1-x0, "height", height, "class", "gap")
		if x1-x0 > 78 {
			s.C.Text((x0+x1)/2, s.Y+14, "middle", "small halo", "not located")
		}
	}
}

// ribbon colours the verdict a station; patterns tell them apart without colour.
func (s *sheet) ribbon() {
	s.Heading("Verdict")
	const height = 14
	s.C.Add("rect", "x", leftEdge, "y", s.Y, "width", rightEdge-leftEdge, "height", float64(height), "class", "panel")
	for from := 0; from < len(s.p.Stations); {
		to := from
		for to+1 < len(s.p.Stations) && s.p.Stations[to+1].Verdict() == s.p.Stations[from].Verdict() &&
			(s.p.Points > 0 || !s.parted(to, to+1)) {
			to++
		}
		x0, x1 := s.X.At(s.reach(from, -1)*s.factor), s.X.At(s.reach(to, 1)*s.factor)
		s.C.Add("rect", "x", max(leftEdge, x0), "y", s.Y, "width", max(min(rightEdge, x1)-max(leftEdge, x0), 1.5), "height", float64(height), "class", "r-"+s.p.Stations[from].Verdict().String())
		from = to + 1
	}
	s.Y += height
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
	ticks, step := s.X.Ticks(10)
	for _, v := range ticks {
		s.C.Text(s.X.At(v), s.Y+14, "middle", "small", svg.Label(v, step))
	}
	s.C.Text(leftEdge-14, s.Y+14, "end", "small", "at, "+s.symbol)
	s.Y += 22
}

// niceHigh rounds a panel's reach up.
func niceHigh(v float64) float64 {
	step := svg.Step(v, 5)
	return math.Ceil(v/step-1e-9) * step
}

func quantileOf(values []float64, p float64) float64 {
	return quantile(sorted(values), p)
}
