package report

import (
	"fmt"
	"html/template"
	"math"

	"tracemap/fuse"
	"tracemap/geodesy/plane"
	"tracemap/internal/svg"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/result"
)

// overview draws the whole site, north up: every line with its corridor and
// letters, points, and the numbers of the places to revisit.
func overview(m *result.Map, places []result.Revisit) template.HTML {
	var points []plane.Pt
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			for _, v := range m.Lines[i].Parts[j].Vertices {
				points = append(points, v.At)
			}
		}
	}
	for i := range m.Points {
		if p := m.Points[i].Placed; p.OK {
			points = append(points, p.At)
		}
	}
	if len(points) == 0 {
		return ""
	}
	const margin = 34
	frame, height := svg.Frame{X: margin, Y: 4, Width: sheetWidth - 2*margin, Least: 160, Most: 560, Above: margin}.Fit(points, 0)
	w := view{frame}
	c := svg.New(sheetWidth, height+8, "Plan of the site")
	c.Add("rect", "x", 1.0, "y", 4.0, "width", sheetWidth-2, "height", height, "class", "panel")
	o := &labels{c: c, width: sheetWidth, height: height}
	o.taken = append(o.taken, box{sheetWidth - 50, 4, sheetWidth, 60}, box{sheetWidth - 190, height - 26, sheetWidth, height + 4})
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			w.corridor(c, &m.Lines[i].Parts[j], "band b-"+string(present.LookOf(m.Lines[i].Utility).Utility))
		}
	}
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			w.line(c, &m.Lines[i], &m.Lines[i].Parts[j], false)
			o.avoid(w.Path(vertexPlaces(&m.Lines[i].Parts[j])))
		}
	}
	o.symbols(&w, m)
	o.places(&w, m, places)
	o.features(&w, m)
	o.lines(&w, m)
	w.North(c, sheetWidth-24, 38)
	factor, symbol := m.Units().Scale()
	w.Bar(c, sheetWidth-16, height-6, 130, factor, symbol)
	return template.HTML(c.String())
}

// A box is a rectangle on the drawing.
type box struct{ x1, y1, x2, y2 float64 }

func (b box) meets(o box) bool { return b.x1 < o.x2 && o.x1 < b.x2 && b.y1 < o.y2 && o.y1 < b.y2 }

// labels places texts so that none lies on another.
type labels struct {
	c             *svg.Canvas
	width, height float64
	taken         []box
	numbers       []box // what no number may lie on: numbers and features
}

// try writes a text centred at x, y when the place is free.
func (o *labels) try(x, y float64, class, text string, force bool) bool {
	half := 3.4*float64(len([]rune(text))) + 3
	b := box{x - half, y - 11, x + half, y + 4}
	if !force {
		if b.x1 < 4 || b.x2 > o.width-4 || b.y1 < 8 || b.y2 > o.height {
			return false
		}
		for _, t := range o.taken {
			if b.meets(t) {
				return false
			}
		}
	}
	o.taken = append(o.taken, b)
	o.c.Text(x, y, "middle", class, text)
	return true
}

// avoid keeps texts off a line.
func (o *labels) avoid(path []svg.Point) {
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		n := math.Ceil(math.Hypot(b.X-a.X, b.Y-a.Y) / 6)
		for k := 0.0; k <= n; k++ {
			x, y := a.X+(b.X-a.X)*k/max(n, 1), a.Y+(b.Y-a.Y)*k/max(n, 1)
			o.taken = append(o.taken, box{x - 3, y - 3, x + 3, y + 3})
		}
	}
}

// lines names every part once, beside its longest straights first.
func (o *labels) lines(w *view, m *result.Map) {
	for i := range m.Lines {
		line := &m.Lines[i]
		look := present.LookOf(line.Utility)
		for j := range line.Parts {
			o.beside(w, line.Parts[j].Vertices, look.Letters, result.PartName(line, &line.Parts[j]))
		}
	}
}

// beside tries places along a part, to either side and nearer the ends, with
// less and less of its name; the last resort is the middle, whatever lies there.
func (o *labels) beside(w *view, vs []fuse.Vertex, letters, name string) {
	length := vs[len(vs)-1].Station
	for _, most := range []int{26, 14, 6} {
		label := letters + " " + short(name, most)
		half := 3.6 * float64(len([]rune(label)))
		for _, f := range []float64{0.5, 0.3, 0.7, 0.15, 0.85, 0.4, 0.6, 0, 1} {
			p, dir := place(vs, f*length)
			at, out := w.At(p), dir.Left()
			for _, side := range []float64{1, -1} {
				// far enough that a text lying across does not touch the line
				dx, dy := side*out.E*(half+8), -side*out.N*14
				if o.try(at.X+dx, at.Y+dy+4, "label halo", label, false) {
					return
				}
			}
		}
	}
	p, _ := place(vs, length/2)
	at := w.At(p)
	o.try(at.X, at.Y-8, "label halo", letters+" "+short(name, 6), true)
}

// symbols draws the points that stand for themselves.
func (o *labels) symbols(w *view, m *result.Map) {
	for i := range m.Points {
		if p := m.Points[i].Placed; p.OK {
			at := w.At(p.At)
			symbol(o.c, at, p.Reading)
			b := box{at.X - 5, at.Y - 5, at.X + 5, at.Y + 5}
			o.taken = append(o.taken, b)
			if p.Reading.Feature != "" {
				o.numbers = append(o.numbers, b)
			}
		}
	}
}

// features names them, where there is room. Sondes come in rows and have no name.
func (o *labels) features(w *view, m *result.Map) {
	for i := range m.Points {
		p := m.Points[i].Placed
		name := p.Reading.Feature
		if !p.OK || name == "" {
			continue
		}
		at := w.At(p.At)
		half := 3.4*float64(len([]rune(name))) + 10
		for _, d := range [][2]float64{{half, 4}, {-half, 4}, {0, -9}, {0, 18}} {
			if o.try(at.X+d[0], at.Y+d[1], "small halo", name, false) {
				break
			}
		}
	}
}

// symbol draws a point: a square, filled for a pothole; a small disc for a sonde.
func symbol(c *svg.Canvas, at svg.Point, r *readings.Reading) {
	switch r.Feature {
	case "":
		c.Add("circle", "cx", at.X, "cy", at.Y, "r", 3.0, "class", "feature thin")
	case "pothole":
		c.Add("rect", "x", at.X-4, "y", at.Y-4, "width", 8.0, "height", 8.0, "class", "feature seen")
	default:
		c.Add("rect", "x", at.X-4, "y", at.Y-4, "width", 8.0, "height", 8.0, "class", "feature")
	}
}

// places draws the numbers of the list of places to revisit.
func (o *labels) places(w *view, m *result.Map, places []result.Revisit) {
	for i := range places {
		g := places[i].Geo
		if g.Lat != g.Lat || g.Lon != g.Lon || m.Place == nil {
			continue
		}
		at := w.At(m.Place.Forward(g))
		if at.X < 10 || at.X > o.width-10 || at.Y < 14 || at.Y > o.height-6 {
			continue
		}
		o.badge(at, fmt.Sprint(i+1))
	}
}

// badge puts a number on its place, or beside it with a leader where a
// feature or another number is already.
func (o *labels) badge(at svg.Point, text string) {
	const r = 9.0
	for _, away := range []float64{0, 22, 36, 52} {
		for k := range 8 {
			turn := float64(k) * math.Pi / 4
			p := svg.Point{X: at.X + away*math.Sin(turn), Y: at.Y - away*math.Cos(turn)}
			b := box{p.X - r, p.Y - r, p.X + r, p.Y + r}
			if !o.numbered(b) && p.X > r && p.X < o.width-r && p.Y > r+4 && p.Y < o.height-r {
				if away > 0 {
					o.c.Line(at.X, at.Y, p.X, p.Y, "leader")
				}
				o.numbers = append(o.numbers, b)
				o.taken = append(o.taken, b)
				badge(o.c, p.X, p.Y, text)
				return
			}
		}
	}
	badge(o.c, at.X, at.Y, text)
}

func (o *labels) numbered(b box) bool {
	for _, t := range o.numbers {
		if b.meets(t) {
			return true
		}
	}
	return false
}

// badge is a number in a disc.
func badge(c *svg.Canvas, x, y float64, text string) {
	c.Add("circle", "cx", x, "cy", y, "r", 9.0, "class", "badge")
	c.Text(x, y+4, "middle", "small strong", text)
}
