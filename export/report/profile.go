package report

import (
	"fmt"
	"math"
	"slices"

	"tracemap/fuse"
	"tracemap/internal/svg"
	"tracemap/nmea"
	"tracemap/present"
	"tracemap/result"
)

// across draws the line laid straight: how far to either side it may lie, and
// where each reading stood.
func (s *sheet) across() {
	s.Heading("Across the line, enlarged: the true line lies within the band 95 % of the time")
	const height = 104
	reach := 1.25 * s.stats.HalfMax
	for _, p := range s.readings {
		if p.Used {
			reach = max(reach, 1.1*math.Abs(p.Offset))
		}
	}
	reach = max(reach, 0.05) * s.factor
	axis := s.grid(height, -reach, reach, 6)
	s.Unit(height, s.symbol)
	s.C.Text(left+4, s.Y+12, "start", "small grey halo", "left")
	s.C.Text(left+4, s.Y+height-5, "start", "small grey halo", "right")
	s.band(func(v *fuse.Vertex) (float64, float64) {
		half := present.HalfWidth(v.Sigma) * s.factor
		return half, -half
	}, axis)
	s.C.Line(left, axis.At(0), right, axis.At(0), "fit")
	for _, p := range s.drawn {
		y, off := p.Offset*s.factor, 0.0
		if math.Abs(y) > reach { // beyond the panel: at its edge
			y, off = math.Copysign(reach, y), math.Copysign(5, y)
		}
		at := svg.Point{X: s.at(p.Station), Y: axis.At(y) + off}
		s.dot(at, p.Used)
	}
	stations, degrees := s.bends()
	free := 0.0 // where the next label may begin
	for i := range stations {
		x := s.at(stations[i])
		s.C.Line(x, s.Y, x, s.Y+height, "bend")
		if x > free {
			s.C.Text(x+3, s.Y+12, "start", "small halo", fmt.Sprintf("bend %.0f°", degrees[i]))
			free = x + 58
		}
	}
	s.Y += height + 8
}

// band draws the area between two values at the vertices.
func (s *sheet) band(get func(*fuse.Vertex) (high, low float64), axis svg.Axis) {
	upper, lower := make([]svg.Point, 0, len(s.part.Vertices)), make([]svg.Point, 0, len(s.part.Vertices))
	for i := range s.part.Vertices {
		v := &s.part.Vertices[i]
		high, low := get(v)
		x := s.at(v.Station)
		upper, lower = append(upper, svg.Point{X: x, Y: axis.At(high)}), append(lower, svg.Point{X: x, Y: axis.At(low)})
	}
	if d := svg.Band(upper, lower); d != "" {
		s.C.Add("path", "d", d, "class", "band b-"+string(s.look.Utility))
	}
}

// depth draws the depth below the surface, downwards, with its 95 % band.
func (s *sheet) depth() {
	s.Heading("Depth from the surface of that day to the utility's centre, with its 95 % band")
	const height = 116
	deepest := 0.0
	for i := range s.part.Vertices {
		v := &s.part.Vertices[i]
		if d := v.Depth + present.Depth95(v.SigmaDepth); d > deepest {
			deepest = d
		}
	}
	for _, p := range slices.Concat(s.readings, s.points) {
		if d := p.Reading.BestDepth(); p.Used && d > deepest {
			deepest = d
		}
		deepest = max(deepest, orZero(p.Reading.MeasuredDepth))
	}
	if deepest == 0 {
		s.nothing("No depth was read on this part.")
		return
	}
	deepest *= 1.12 * s.factor
	axis := s.grid(height, deepest, 0, 4)
	s.Unit(height, "depth, "+s.symbol)
	s.band(func(v *fuse.Vertex) (float64, float64) {
		bound := present.Depth95(v.SigmaDepth)
		return (v.Depth - bound) * s.factor, (v.Depth + bound) * s.factor
	}, axis)
	s.fitted(func(v *fuse.Vertex) float64 { return v.Depth * s.factor }, axis)
	s.C.Line(left, s.Y, right, s.Y, "ground")
	s.C.Text(right-4, s.Y+12, "end", "small halo", "surface")
	for _, p := range s.drawn {
		if d := p.Reading.BestDepth() * s.factor; d >= 0 && d <= deepest {
			s.dot(svg.Point{X: s.at(p.Station), Y: axis.At(d)}, p.Used)
		}
	}
	for _, p := range s.points {
		if d := p.Reading.MeasuredDepth; d == d {
			at := svg.Point{X: s.at(p.Station), Y: axis.At(d * s.factor)}
			symbol(s.C, at, p.Reading)
			s.C.Text(at.X+8, at.Y+4, "start", "small halo", "seen "+s.units.Depth(d))
		}
	}
	s.Y += height + 8
}

// fitted draws the fitted value from vertex to vertex.
func (s *sheet) fitted(get func(*fuse.Vertex) float64, axis svg.Axis) {
	points := make([]svg.Point, 0, len(s.part.Vertices))
	for i := range s.part.Vertices {
		v := &s.part.Vertices[i]
		points = append(points, svg.Point{X: s.at(v.Station), Y: axis.At(get(v))})
	}
	if d := svg.Path(points); d != "" {
		s.C.Add("path", "d", d, "class", "fit")
	}
}

// nothing says in one line that a panel has no content.
func (s *sheet) nothing(text string) {
	s.C.Add("rect", "x", left, "y", s.Y, "width", right-left, "height", 26.0, "class", "panel")
	s.C.Text((left+right)/2, s.Y+17, "middle", "grey", text)
	s.Y += 34
}

// current draws the signal's current along the line. Its band is the scatter of
// the readings about the fit, for steps and branches show against that.
func (s *sheet) current() {
	spread, n := s.currentSpread()
	title := "Current along the line; steps hint at branches, bonds or another line"
	if n >= minScatter {
		title = "Current along the line; 95 % of the readings scatter within the band"
	}
	s.Heading(title)
	const height = 84
	most := 0.0
	for i := range s.part.Vertices {
		most = max(most, orZero(s.part.Vertices[i].Current))
	}
	for _, p := range s.readings {
		if p.Used {
			most = max(most, orZero(p.Reading.Current))
		}
	}
	if most == 0 {
		s.nothing("No current was logged on this part.")
		return
	}
	most *= 1.15
	axis := s.grid(height, 0, most, 4)
	s.Unit(height, "current, mA")
	if n >= minScatter {
		s.band(func(v *fuse.Vertex) (float64, float64) {
			return min(v.Current*math.Exp(present.Line95*spread), most), v.Current * math.Exp(-present.Line95*spread)
		}, axis)
	}
	s.fitted(func(v *fuse.Vertex) float64 { return v.Current }, axis)
	for _, p := range s.drawn {
		if i := p.Reading.Current; i >= 0 && i <= most {
			s.dot(svg.Point{X: s.at(p.Station), Y: axis.At(i)}, p.Used)
		}
	}
	s.Y += height + 8
}

// minScatter is the fewest readings whose scatter is shown as a band.
const minScatter = 6

// currentSpread is the robust spread (1.4826 × median of absolute deviations) of
// the logarithm of the current about its fit, and of how many readings.
func (s *sheet) currentSpread() (float64, int) {
	var away []float64
	for _, p := range s.readings {
		fit := s.interpolate(p.Station, func(v *fuse.Vertex) float64 { return v.Current })
		if p.Used && p.Reading.Current > 0 && fit > 0 {
			away = append(away, math.Abs(math.Log(p.Reading.Current/fit)))
		}
	}
	if len(away) == 0 {
		return 0, 0
	}
	slices.Sort(away)
	return 1.4826 * away[len(away)/2], len(away)
}

// interpolate gives a vertices' value at a station; NaN where either end is.
func (s *sheet) interpolate(station float64, get func(*fuse.Vertex) float64) float64 {
	vs := s.part.Vertices
	for i := 1; i < len(vs); i++ {
		if a, b := &vs[i-1], &vs[i]; station >= a.Station && station <= b.Station && b.Station > a.Station {
			f := (station - a.Station) / (b.Station - a.Station)
			return get(a) + f*(get(b)-get(a))
		}
	}
	return math.NaN()
}

func orZero(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// fixes draws a lane: which fix each stretch rests on.
func (s *sheet) fixes() {
	const height = 16.0
	s.C.Text(left-5, s.Y+12, "end", "small", "fix")
	vs := s.part.Vertices
	for i := 1; i < len(vs); {
		q := result.Weaker(vs[i-1].Quality, vs[i].Quality)
		j := i
		for j < len(vs) && result.Weaker(vs[j-1].Quality, vs[j].Quality) == q {
			j++
		}
		lane(s.C, s.at(vs[i-1].Station), s.at(vs[j-1].Station), s.Y, height, q)
		i = j
	}
	s.Y += height + 6
}

// lane draws a stretch of one kind of fix: filled, hatched or plain, and named
// where there is room.
func lane(c *svg.Canvas, from, to, y, height float64, q nmea.Quality) {
	class, ink := "fix weak", "small halo"
	switch q {
	case nmea.QualityRTKFixed:
		class, ink = "fix fixed", "small light"
	case nmea.QualityRTKFloat:
		class = "fix float"
	case nmea.QualityDGPS:
		class = "fix code"
	}
	c.Open("g")
	c.Title(present.FixName(q))
	c.Add("rect", "x", from, "y", y, "width", max(to-from, 1), "height", height, "class", class)
	if to-from > 74 {
		c.Text((from+to)/2, y+height-4, "middle", ink, present.FixName(q))
	}
	c.Close("g")
}

// remarks draws a lane for each numbered remark that covers a range, and a line
// over all panels for each event.
func (s *sheet) remarks() {
	for i := range s.marks {
		m := &s.marks[i]
		if m.vertical {
			x := s.at(m.ranges[0][0])
			for _, f := range s.frames {
				s.C.Line(x, f[0], x, f[1], "event")
			}
		}
		s.C.Text(left-5, s.Y+12, "end", "small", "remark "+fmt.Sprint(m.Number))
		s.C.Line(left, s.Y+8, right, s.Y+8, "grid")
		for _, r := range m.ranges {
			from, to := s.at(r[0]), s.at(r[1])
			if m.vertical {
				s.C.Add("path", "d", svg.Path([]svg.Point{{X: from - 5, Y: s.Y + 14}, {X: from, Y: s.Y + 4}, {X: from + 5, Y: s.Y + 14}})+"Z", "class", "feature seen")
				continue
			}
			s.C.Add("rect", "x", from, "y", s.Y+4, "width", max(to-from, 2), "height", 9.0, "class", "remark")
		}
		s.Y += 15
	}
	s.Y += 2
}

// stations writes the axis that the panels share.
func (s *sheet) stations() {
	s.C.Line(left, s.Y, right, s.Y, "frame")
	ticks, step := s.X.Ticks(10)
	for _, v := range ticks {
		s.C.Line(s.X.At(v), s.Y, s.X.At(v), s.Y+5, "frame")
		s.C.Text(s.X.At(v), s.Y+17, "middle", "small", svg.Label(v, step))
	}
	s.C.Text((left+right)/2, s.Y+33, "middle", "", "Station along the part, "+s.symbol)
	s.Y += 38
}
