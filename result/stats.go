package result

import (
	"iter"
	"math"

	"tracemap/fuse"
	"tracemap/nmea"
	"tracemap/present"
	"tracemap/remarks"
)

// Stats is what a part comes to: extremes of its vertices, with 95 % applied.
type Stats struct {
	DepthMin, DepthMax     float64 // m; NaN where depth was never read
	HalfMean, HalfMax      float64 // 95 % half-width across the line, m
	Depth95Max             float64 // 95 % bound of the depth, m
	CurrentMin, CurrentMax float64 // mA
	Weakest                nmea.Quality
	Flags                  remarks.Set // of the line, the part and its vertices
	Class                  string      // suggested for its worst vertex; "" for none
	CoverMin, CoverMax     float64     // m, surface to the top; NaN where the diameter or the depth is nowhere known
	DiameterMin            float64     // outside diameter, m
	DiameterMax            float64
}

// StatsOf sums up a part, which has at least one vertex.
func StatsOf(m *Map, line *fuse.Line, part *fuse.Part) Stats {
	r := Stats{Weakest: nmea.QualityRTKFixed, Flags: FlagsOf(line, part)}
	r.DepthMin, r.DepthMax = span(part.Vertices, func(v *fuse.Vertex) float64 { return v.Depth })
	r.CurrentMin, r.CurrentMax = span(part.Vertices, func(v *fuse.Vertex) float64 { return v.Current })
	_, r.HalfMax = span(part.Vertices, func(v *fuse.Vertex) float64 { return present.HalfWidth(v.Sigma) })
	_, r.Depth95Max = span(part.Vertices, DepthBound)
	r.HalfMean = meanAlong(part.Vertices, func(v *fuse.Vertex) float64 { return present.HalfWidth(v.Sigma) })
	r.CoverMin, r.CoverMax = span(part.Vertices, Cover)
	r.DiameterMin, r.DiameterMax = span(part.Vertices, func(v *fuse.Vertex) float64 { return v.Diameter })
	for i := range part.Vertices {
		r.Weakest = Weaker(r.Weakest, part.Vertices[i].Quality)
	}
	r.Class = partClass(m, line, part)
	return r
}

// span gives the smallest and the largest of the known values; NaN when none is.
func span(vs []fuse.Vertex, get func(*fuse.Vertex) float64) (low, high float64) {
	low, high = math.NaN(), math.NaN()
	for i := range vs {
		if v := get(&vs[i]); present.Known(v) {
			if !(low <= v) {
				low = v
			}
			if !(high >= v) {
				high = v
			}
		}
	}
	return low, high
}

// meanAlong is the mean over the part's length of a value known at its
// vertices and straight between them; the plain mean when the part has no length.
func meanAlong(vs []fuse.Vertex, get func(*fuse.Vertex) float64) float64 {
	var sum, length, plain float64
	for i := range vs {
		plain += get(&vs[i])
		if i > 0 {
			d := vs[i].Station - vs[i-1].Station
			sum += d * (get(&vs[i-1]) + get(&vs[i])) / 2
			length += d
		}
	}
	if length > 0 {
		return sum / length
	}
	return plain / float64(len(vs))
}

// Height is the ellipsoidal height of the utility's electrical centre, m.
func Height(v *fuse.Vertex) float64 { return v.Ground.H - v.Depth }

// Cover is the depth to the top, m: depth of the electrical centre less half the
// outside diameter.
func Cover(v *fuse.Vertex) float64 { return v.Depth - v.Diameter/2 }

// FlagsOf returns the flags of a line, a part of it and the part's vertices.
func FlagsOf(line *fuse.Line, part *fuse.Part) remarks.Set {
	all := line.Flags | part.Flags
	for i := range part.Vertices {
		all |= part.Vertices[i].Flags
	}
	return all
}

// PartWide gives the flags of a part that none of its vertices has: they hold for
// all of it.
func PartWide(line *fuse.Line, part *fuse.Part) remarks.Set {
	wide := line.Flags | part.Flags
	for i := range part.Vertices {
		wide &^= part.Vertices[i].Flags
	}
	return wide
}

// strength orders fix qualities from the weakest to the strongest.
var strength = map[nmea.Quality]int{
	nmea.QualityNone: 0, nmea.QualitySimulator: 1, nmea.QualityUnknown: 2, nmea.QualityManual: 3,
	nmea.QualityEstimated: 4, nmea.QualityAutonomous: 5, nmea.QualityDGPS: 6, nmea.QualityPPS: 7,
	nmea.QualityRTKFloat: 8, nmea.QualityRTKFixed: 9,
}

// Weaker gives the weaker of two fix qualities.
func Weaker(a, b nmea.Quality) nmea.Quality {
	if strength[b] < strength[a] {
		return b
	}
	return a
}

// DepthBound is the bound of a depth that is known; a bound without a depth would
// be read as one.
func DepthBound(v *fuse.Vertex) float64 {
	if !present.Known(v.Depth) {
		return math.NaN()
	}
	return present.Depth95(v.SigmaDepth)
}

// Parts goes through the parts with at least one vertex, in the order of the lines.
func (m *Map) Parts() iter.Seq2[*fuse.Line, *fuse.Part] {
	return func(yield func(*fuse.Line, *fuse.Part) bool) {
		for i := range m.Lines {
			for j := range m.Lines[i].Parts {
				if p := &m.Lines[i].Parts[j]; len(p.Vertices) > 0 && !yield(&m.Lines[i], p) {
					return
				}
			}
		}
	}
}
