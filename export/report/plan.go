package report

import (
	"tracemap/fuse"
	"tracemap/geodesy/plane"
	"tracemap/internal/svg"
	"tracemap/present"
	"tracemap/result"
)

// A view is where the day's plane stands on a drawing.
type view struct{ svg.View }

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
			rings[i] = w.Path(ring)
		}
		c.Add("path", "d", svg.Ring(rings), "class", class, "fill-rule", "evenodd")
	}
}

// line draws a part in its utility's colour on a dark casing, so that yellow
// shows on paper; stretches that rest on less are broken. A fine line leaves room
// for the corridor.
func (w *view) line(c *svg.Canvas, line *fuse.Line, part *fuse.Part, fine bool) {
	look := present.LookOf(line.Utility)
	if len(part.Vertices) == 1 {
		p := w.At(part.Vertices[0].At)
		c.Add("circle", "cx", p.X, "cy", p.Y, "r", 4.0, "class", "casing dot", "fill", look.Hex())
		return
	}
	for _, s := range stretches(line, part) {
		d, class := svg.Path(w.Path(s.points)), ""
		if s.doubtful {
			class += " doubt"
		}
		if fine {
			class += " fine"
		}
		c.Add("path", "d", d, "class", "casing"+class)
		c.Add("path", "d", d, "class", "core"+class, "stroke", look.Hex())
	}
}

// A stretch of a part that is drawn in one way.
type stretch struct {
	points   []plane.Pt
	doubtful bool
}

// stretches cuts a part where it becomes doubtful or sure again.
func stretches(line *fuse.Line, part *fuse.Part) []stretch {
	wide := result.PartWide(line, part)
	var out []stretch
	for i := 1; i < len(part.Vertices); i++ {
		a, b := &part.Vertices[i-1], &part.Vertices[i]
		doubtful := (a.Flags | b.Flags | wide).Any(present.Doubtful)
		if n := len(out); n > 0 && out[n-1].doubtful == doubtful {
			out[n-1].points = append(out[n-1].points, b.At)
			continue
		}
		out = append(out, stretch{[]plane.Pt{a.At, b.At}, doubtful})
	}
	return out
}
