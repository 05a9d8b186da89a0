package report

import (
	"math"

	"tracemap/fuse"
	"tracemap/geodesy/plane"
	"tracemap/internal/svg"
	"tracemap/present"
	"tracemap/result"
)

// A neighbour is a part as the plans of others show it.
type neighbour struct {
	part   *fuse.Part
	places []plane.Pt
	label  string
	middle plane.Pt // of a circle about the places
	reach  float64  // its radius, m
}

// partsAround makes them once for all sheets.
func partsAround(m *result.Map) []neighbour {
	var out []neighbour
	for i := range m.Lines {
		line := &m.Lines[i]
		for j := range line.Parts {
			if part := &line.Parts[j]; len(part.Vertices) > 1 {
				n := neighbour{part: part, places: vertexPlaces(part), label: present.LookOf(line.Utility).Letters + " " + short(line.ID, 14)}
				n.encircle()
				out = append(out, n)
			}
		}
	}
	return out
}

// encircle finds a circle about the places; it need not be the smallest.
func (n *neighbour) encircle() {
	low, high := n.places[0], n.places[0]
	for _, p := range n.places {
		low = plane.Pt{E: min(low.E, p.E), N: min(low.N, p.N)}
		high = plane.Pt{E: max(high.E, p.E), N: max(high.N, p.N)}
	}
	n.middle, n.reach = low.Lerp(high, 0.5), low.Dist(high)/2
}

// A window is the part of a drawing that is not clipped away, with room for a
// line's width about it.
type window struct{ left, top, right, bottom float64 }

// neighbours draws what else lies in the plan, thin and grey, with its letters. A
// day has hundreds of parts and each plan shows a few: the rest is left out, or the
// page would grow with the square of them.
func (s *sheet) neighbours(w *view, height float64) {
	const width = 3.0
	shown := window{-width, s.Y - width, sheetWidth + width, s.Y + height + width}
	var path []svg.Point // of each in its turn
	for i := range s.others {
		n := &s.others[i]
		if n.part == s.part || !shown.near(w.At(n.middle), n.reach*w.Scale) {
			continue
		}
		path = w.AppendPath(path[:0], n.places)
		within := shown.within(path)
		if len(within) == 0 {
			continue
		}
		s.C.Add("path", "d", within, "class", "other")
		if at, ok := s.inside(path, height); ok {
			s.C.Text(at.X+4, at.Y-4, "start", "small grey halo", n.label)
		}
	}
}

// near reports whether a circle may meet the window.
func (f *window) near(middle svg.Point, radius float64) bool {
	return middle.X+radius >= f.left && middle.X-radius <= f.right && middle.Y+radius >= f.top && middle.Y-radius <= f.bottom
}

// within gives the straights of a path that may meet the window, broken by a point
// that is not finite where some are left out between.
func (f *window) within(path []svg.Point) []svg.Point {
	var out []svg.Point
	drawn := -1 // the last point taken
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		if max(a.X, b.X) < f.left || min(a.X, b.X) > f.right || max(a.Y, b.Y) < f.top || min(a.Y, b.Y) > f.bottom {
			continue
		}
		if drawn != i-1 {
			if drawn >= 0 {
				out = append(out, svg.Point{X: math.NaN(), Y: math.NaN()})
			}
			out = append(out, a)
		}
		out = append(out, b)
		drawn = i
	}
	return out
}

// inside gives the first place of a path that has room for a label in the plan.
func (s *sheet) inside(path []svg.Point, height float64) (svg.Point, bool) {
	for i := 1; i < len(path); i++ {
		for f := 0.0; f <= 1; f += 0.1 {
			p := svg.Point{X: path[i-1].X + f*(path[i].X-path[i-1].X), Y: path[i-1].Y + f*(path[i].Y-path[i-1].Y)}
			if p.X > 20 && p.X < right-130 && p.Y > s.Y+18 && p.Y < s.Y+height-14 {
				return p, true
			}
		}
	}
	return svg.Point{}, false
}
