package result

import (
	"math"

	"tracemap/fuse"
	"tracemap/fuse/noise"
	"tracemap/grade"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/remarks"
)

// flexible plant, as the French decree tells it from rigid: cables. Whether a
// pipe is flexible no log says, so it counts as rigid, which asks for more.
func flexible(u readings.Utility) bool {
	return u == "electric" || u == "lighting" || u == "communications"
}

// VertexClass suggests a class for a vertex by its own 95 % bounds. A depth taken
// on a passive signal does not count as one.
func VertexClass(m *Map, line *fuse.Line, v *fuse.Vertex) string {
	p := grade.Place{Horizontal: present.HalfWidth(v.Sigma), Depth: v.Depth, Vertical: DepthBound(v), Cable: flexible(line.Utility), Diameter: present.Known(v.Diameter)}
	if line.Method == readings.Passive {
		p.Depth, p.Vertical = math.NaN(), math.NaN()
	}
	return m.Scheme.Of(p)
}

// partClass is the class of a part's worst vertex.
func partClass(m *Map, line *fuse.Line, part *fuse.Part) string {
	if len(part.Vertices) == 0 {
		return ""
	}
	class := VertexClass(m, line, &part.Vertices[0])
	for i := range part.Vertices {
		class = m.Scheme.Worse(class, VertexClass(m, line, &part.Vertices[i]))
	}
	return class
}

// ReadingClass suggests a class for a reading by itself, as if no other had been taken:
// the circle about its place, and what one depth is worth. What was set aside has
// none, nor has a feature: it was seen, not located.
func ReadingClass(m *Map, p *fuse.Placed) string {
	if !p.OK || !p.Used && p.Reading.OnLine() || p.Reading.Feature != "" {
		return ""
	}
	depth := p.Reading.BestDepth()
	if p.Reading.Method == readings.Passive || (p.Flags | p.Reading.Flags).Any(remarks.DepthPassive|remarks.DepthImplausible) {
		depth = math.NaN()
	}
	return m.Scheme.Of(grade.Place{Horizontal: present.Radius95(p.Radius), Depth: depth, Vertical: present.Depth95(readingDepthSigma(p.Reading, depth)),
		Cable: flexible(p.Reading.Utility), Diameter: present.Known(p.Reading.Diameter)})
}

// readingDepthSigma is one σ of a single depth, m: what is the reading's own and
// what the whole line's depths have in common.
func readingDepthSigma(r *readings.Reading, depth float64) float64 {
	return math.Hypot(noise.DepthSigma(r, depth), noise.DepthCommon*depth)
}

// A ClassShare is the length of a part that a class is suggested for.
type ClassShare struct {
	Class  string // "" for none
	Length float64
}

// ClassShares gives the length of a part by class, the best first. A stretch
// between two vertices has the worse class of the two.
func ClassShares(m *Map, line *fuse.Line, part *fuse.Part) []ClassShare {
	if m.Scheme == nil {
		return nil
	}
	lengths := map[string]float64{}
	for i := 1; i < len(part.Vertices); i++ {
		a, b := &part.Vertices[i-1], &part.Vertices[i]
		lengths[m.Scheme.Worse(VertexClass(m, line, a), VertexClass(m, line, b))] += b.Station - a.Station
	}
	var out []ClassShare
	for i := range m.Scheme.Rows {
		if class := m.Scheme.Rows[i].Class; lengths[class] > 0 {
			out = append(out, ClassShare{class, lengths[class]})
		}
	}
	if lengths[""] > 0 {
		out = append(out, ClassShare{"", lengths[""]})
	}
	return out
}
