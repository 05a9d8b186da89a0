package export

import (
	"math"

	"tracemap/flags"
	"tracemap/fuse"
	"tracemap/fuse/noise"
	"tracemap/grade"
	"tracemap/readings"
)

// flexible plant, as the French decree tells it from rigid: cables. Whether a
// pipe is flexible no log says, so it counts as rigid, which asks for more.
func flexible(u readings.Utility) bool {
	return u == "electric" || u == "lighting" || u == "communications"
}

// vertexClass suggests a class for a vertex by its own 95 % bounds. A depth taken
// on a passive signal does not count as one.
func vertexClass(m *Map, line *fuse.Line, v *fuse.Vertex) string {
	p := grade.Place{Horizontal: HalfWidth(v.Sigma), Depth: v.Depth, Vertical: depth95(v), Cable: flexible(line.Utility), Diameter: known(v.Diameter)}
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
	class := vertexClass(m, line, &part.Vertices[0])
	for i := range part.Vertices {
		class = m.Scheme.Worse(class, vertexClass(m, line, &part.Vertices[i]))
	}
	return class
}

// class suggests a class for a reading by itself, as if no other had been taken:
// the circle about its place, and what one depth is worth. What was set aside has
// none, nor has a feature: it was seen, not located.
func (r *readingRow) class() string {
	if r.aside != nil || !r.placed.OK || !r.placed.Used && r.placed.Reading.OnLine() || r.placed.Reading.Feature != "" {
		return ""
	}
	p := r.placed
	depth := p.Reading.BestDepth()
	if p.Reading.Method == readings.Passive || r.flagsOf().Any(flags.DepthPassive|flags.DepthImplausible) {
		depth = math.NaN()
	}
	return r.m.Scheme.Of(grade.Place{Horizontal: Radius95(p.Radius), Depth: depth, Vertical: Depth95(readingDepthSigma(p.Reading, depth)),
		Cable: flexible(p.Reading.Utility), Diameter: known(p.Reading.Diameter)})
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
		lengths[m.Scheme.Worse(vertexClass(m, line, a), vertexClass(m, line, b))] += b.Station - a.Station
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
