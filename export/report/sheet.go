package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"tracemap/fuse"
	"tracemap/geodesy/plane"
	"tracemap/internal/svg"
	"tracemap/present"
	"tracemap/remarks"
	"tracemap/result"
)

// The plan-and-profile sheet of a part. All panels but the plan share one axis
// of stations, and the plan of a straight line falls in with it.
const (
	sheetWidth = svg.SheetWidth
	left       = svg.SheetLeft
	right      = svg.SheetRight
)

// A sheet in the making.
type sheet struct {
	svg.Sheet
	m        *result.Map
	line     *fuse.Line
	part     *fuse.Part
	stats    result.Stats
	units    present.Units
	look     present.Look
	readings []*fuse.Placed // on this part, in the order of stations
	drawn    []*fuse.Placed // of these
	points   []*fuse.Placed // features on this part
	others   []neighbour    // all parts with a length, this one among them
	factor   float64        // from metres to that unit
	symbol   string
	frames   [][2]float64 // upper and lower edge of the panels on stations
	marks    []mark
}

// A mark is a remark with its places on the part.
type mark struct {
	Number       int
	flag         remarks.Set
	Title, Text  string
	ranges       [][2]float64 // stations, m
	vertical     bool         // an event: drawn over all panels
	StationsText string
}

// draw gives the sheet's picture and its numbered remarks.
func (s *sheet) draw() (template.HTML, []mark) {
	s.factor, s.symbol = s.units.Scale()
	s.X = svg.Axis{Low: 0, High: max(s.part.Length()*s.factor, 1e-3), From: left, To: right}
	s.marks = s.collect()
	s.drawn = thinned(s.readings)
	s.C.Reset(sheetWidth, 0, "Plan and profile of "+result.PartName(s.line, s.part))
	s.panels()
	s.C.SetHeight(s.Y)
	return template.HTML(s.C.String()), s.marks
}

func (s *sheet) panels() {
	s.Y, s.frames = 0, nil
	s.plan()
	s.across()
	s.depth()
	s.current()
	s.fixes()
	s.remarks()
	s.stations()
}

// plan draws the part true to shape, turned to run from left to right.
func (s *sheet) plan() {
	title := "Plan, true to shape, turned so that the line runs from left to right"
	if len(s.drawn) < len(s.readings) {
		title = fmt.Sprintf("Plan, true to shape; %d of %d readings are drawn, here and below", len(s.drawn), len(s.readings))
	}
	s.Heading(title)
	places := vertexPlaces(s.part)
	frame, height := svg.Frame{X: left, Y: s.Y, Width: right - left, Least: 84, Most: 240, Above: 30}.Fit(places, svg.Heading(places))
	w := view{frame}
	s.Clipped(s.id(), height, func() { s.planned(&w, height) })
	s.corners(&w, height)
	s.Y += height + 6
}

// planned draws what lies within the plan.
func (s *sheet) planned(w *view, height float64) {
	s.neighbours(w, height)
	w.corridor(s.C, s.part, "band b-"+string(s.look.Utility))
	w.line(s.C, s.line, s.part, true)
	for _, p := range s.drawn {
		s.dot(w.At(p.At), p.Used)
	}
	s.planTicks(w)
	for _, p := range s.points {
		at := w.At(p.At)
		symbol(s.C, at, p.Reading)
		s.C.Text(at.X+8, at.Y-6, "start", "small halo", p.Reading.Feature)
	}
}

// corners puts the arrow to the north and the scale bar where the plan is
// emptiest.
func (s *sheet) corners(w *view, height float64) {
	line := w.Path(vertexPlaces(s.part))
	busy := func(x1, y1, x2, y2 float64) (n int) {
		for i := 1; i < len(line); i++ {
			for k := 0.0; k <= 1; k += 0.01 {
				x, y := line[i-1].X+k*(line[i].X-line[i-1].X), line[i-1].Y+k*(line[i].Y-line[i-1].Y)
				if x > x1 && x < x2 && y > y1 && y < y2 {
					n++
				}
			}
		}
		return n
	}
	const wide, high = 46, 52
	bottom := s.Y + height
	x, y, least := sheetWidth-26.0, s.Y+30, busy(sheetWidth-wide-4, s.Y, sheetWidth, s.Y+high)
	for _, c := range [][2]float64{{28, s.Y + 30}, {28, bottom - 22}, {sheetWidth - 26, bottom - 22}} {
		if n := busy(c[0]-24, c[1]-28, c[0]+24, c[1]+24); n < least {
			x, y, least = c[0], c[1], n
		}
	}
	w.North(s.C, x, y)
	barEnd := sheetWidth - 60.0
	if busy(barEnd-120, bottom-26, barEnd, bottom) > busy(60, bottom-26, 180, bottom) {
		barEnd = 180
	}
	factor, symbol := s.units.Scale()
	w.Bar(s.C, barEnd, bottom-8, 110, factor, symbol)
}

// id is unique on the page: clip paths need one.
func (s *sheet) id() string {
	for i := range s.m.Lines {
		if &s.m.Lines[i] == s.line {
			return fmt.Sprintf("%d-%d", i+1, s.part.Number)
		}
	}
	return fmt.Sprintf("x-%d", s.part.Number)
}

// planTicks marks round stations on the line.
func (s *sheet) planTicks(w *view) {
	ticks, step := s.X.Ticks(8)
	for _, t := range ticks {
		p, dir := place(s.part.Vertices, t/s.factor)
		out := dir.Left()
		a, b, c := w.At(p.Add(out.Mul(6/w.Scale))), w.At(p.Sub(out.Mul(6/w.Scale))), w.At(p.Sub(out.Mul(17/w.Scale)))
		s.C.Line(a.X, a.Y, b.X, b.Y, "tick")
		s.C.Text(c.X, c.Y+4, "middle", "small halo", svg.Label(t, step))
	}
}

// place gives the point at a station and the direction there.
func place(vs []fuse.Vertex, station float64) (plane.Pt, plane.Pt) {
	for i := 1; i < len(vs); i++ {
		a, b := &vs[i-1], &vs[i]
		if station <= b.Station || i == len(vs)-1 {
			f := 0.0
			if b.Station > a.Station {
				f = min(1, max(0, (station-a.Station)/(b.Station-a.Station)))
			}
			return a.At.Lerp(b.At, f), b.At.Sub(a.At).Unit()
		}
	}
	return vs[0].At, plane.Pt{E: 1}
}

// grid draws a panel's frame with its lines, and gives its vertical axis.
func (s *sheet) grid(height, low, high float64, n int) svg.Axis {
	s.frames = append(s.frames, [2]float64{s.Y, s.Y + height})
	return s.Grid(height, low, high, n)
}

// at places a station; what lies beyond the part's ends is put at the edge.
func (s *sheet) at(station float64) float64 {
	return s.X.At(min(max(station*s.factor, 0), s.X.High))
}

// mostDrawn is how many readings of a part are drawn of those used, and of those set
// aside: on a sheet of this width more would lie upon one another, and the page would
// grow beyond what a browser shows.
const mostDrawn = 1500

// thinned takes the readings that are drawn: all, or one in so many.
func thinned(all []*fuse.Placed) []*fuse.Placed {
	if len(all) <= mostDrawn {
		return all
	}
	var number, seen [2]int // of those used and those set aside
	kind := func(p *fuse.Placed) int {
		if p.Used {
			return 0
		}
		return 1
	}
	for _, p := range all {
		number[kind(p)]++
	}
	var out []*fuse.Placed
	for _, p := range all {
		k := kind(p)
		if stride := (number[k] + mostDrawn - 1) / mostDrawn; seen[k]%stride == 0 {
			out = append(out, p)
		}
		seen[k]++
	}
	return out
}

// dot draws a reading; one that was set aside is a cross.
func (s *sheet) dot(p svg.Point, used bool) {
	if used {
		s.C.Add("circle", "cx", p.X, "cy", p.Y, "r", 2.2, "class", "dot")
		return
	}
	const k = 3.2
	s.C.Add("path", "d", svg.Path([]svg.Point{{X: p.X - k, Y: p.Y - k}, {X: p.X + k, Y: p.Y + k}})+
		svg.Path([]svg.Point{{X: p.X - k, Y: p.Y + k}, {X: p.X + k, Y: p.Y - k}}), "class", "aside")
}

// bends gives the vertices where the line turns by at least twenty degrees.
func (s *sheet) bends() (stations, degrees []float64) {
	vs := s.part.Vertices
	for i := 1; i < len(vs)-1; i++ {
		in, out := vs[i].At.Sub(vs[i-1].At), vs[i+1].At.Sub(vs[i].At)
		if turn := math.Abs(math.Atan2(in.Cross(out), in.Dot(out))) * 180 / math.Pi; turn >= 20 {
			stations, degrees = append(stations, vs[i].Station), append(degrees, turn)
		}
	}
	return stations, degrees
}

// collect numbers the remarks: flags of vertices with their ranges, then events.
func (s *sheet) collect() []mark {
	var out []mark
	vs := s.part.Vertices
	for _, row := range remarks.Table {
		var ranges [][2]float64
		for i := range vs {
			if !vs[i].Flags.Has(row.Flag) {
				continue
			}
			from, to := vs[i].Station, vs[i].Station
			if i > 0 {
				from = (vs[i-1].Station + vs[i].Station) / 2
			}
			if i < len(vs)-1 {
				to = (vs[i+1].Station + vs[i].Station) / 2
			}
			if n := len(ranges); n > 0 && ranges[n-1][1] >= from-1e-9 {
				ranges[n-1][1] = to
			} else {
				ranges = append(ranges, [2]float64{from, to})
			}
		}
		if len(ranges) > 0 {
			out = append(out, mark{flag: row.Flag, Title: present.RemarkWord(row.Name), Text: joined(row.Meaning, row.Revisit), ranges: ranges})
		}
	}
	for i := range s.line.Events {
		e := &s.line.Events[i]
		if e.Part == s.part.Number && len(vs) > 1 {
			out = append(out, mark{flag: e.Kind, Title: present.RemarkWord(e.Kind.String()), Text: s.eventText(e), ranges: [][2]float64{{e.Station, e.Station}}, vertical: true})
		}
	}
	for i := range out {
		out[i].Number = i + 1
		out[i].StationsText = s.stationsText(out[i].ranges)
	}
	return out
}

// eventText says what was found, with its numbers, and what the flag means.
func (s *sheet) eventText(e *fuse.Event) string {
	text := sentence(e.Text)
	if text == "" && present.Known(e.Before) && present.Known(e.After) {
		switch e.Kind {
		case remarks.CurrentStep, remarks.CurrentRises:
			text = fmt.Sprintf("From %.1f mA to %.1f mA.", e.Before, e.After)
		case remarks.PotholeUsed, remarks.PotholeContradicts:
			text = "Fitted " + s.units.Depth(e.Before) + ", seen " + s.units.Depth(e.After) + "."
		}
	}
	for _, row := range remarks.Table {
		if row.Flag == e.Kind {
			text = joined(text, joined(row.Meaning, row.Revisit))
		}
	}
	return unbroken(text)
}

func (s *sheet) stationsText(ranges [][2]float64) string {
	text := ""
	for i, r := range ranges {
		if i == 3 && len(ranges) > 4 {
			return text + fmt.Sprintf(" and %d more", len(ranges)-3)
		}
		if i > 0 {
			text += ", "
		}
		if r[0] == r[1] {
			text += s.units.Length(r[0])
		} else {
			text += fmt.Sprintf("%.1f–%s", r[0]*s.factor, s.units.Length(r[1]))
		}
	}
	return unbroken(text)
}

// sortReadings puts a part's readings in the order of stations.
func sortReadings(ps []*fuse.Placed) {
	slices.SortStableFunc(ps, func(a, b *fuse.Placed) int {
		switch {
		case a.Station < b.Station:
			return -1
		case a.Station > b.Station:
			return 1
		}
		return 0
	})
}
