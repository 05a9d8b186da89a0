package survey

import (
	"math"

	"tracemap/export"
	"tracemap/fuse"
)

// A scheme suggests an accuracy class for a part by its worst place: the largest
// 95 % half-width and, where every place has a depth, the largest 95 % bound of
// the depth and of that bound as a share of the depth. No class is above what
// electromagnetic detection alone can support; "" means below the lowest class
// that detection has. A licensed professional decides.
type scheme struct {
	name  string
	grade func(w worstPlace) string
}

// worstPlace is what a part is graded by; the bounds of depth are infinite when
// some place has none.
type worstPlace struct {
	half       float64 // m
	depth      float64 // m
	depthShare float64 // of the depth itself
}

// schemes lists the schemes that may be asked for.
//
// pas128: PAS 128, survey type B. Detection by one technique is B2 with a depth
// (± 250 mm in plan, ± 40 % of the depth) and B3 without (± 500 mm); B1 asks for
// a second technique. Figures as survey firms publish them; the wider allowance
// in plan for deep lines is not used. The standard prints no level of
// confidence: 95 % is taken.
//
// as5488: AS 5488.1, quality level B: ± 300 mm in plan, ± 500 mm in depth, as
// locating firms publish it. C and D rest on other evidence than detection, and
// A on exposure.
//
// fr2012: arrêté du 15 février 2012 (DT-DICT), art. 1: A up to 0.40 m for rigid
// plant, B up to 1.5 m, else C; an uncertainty not to be exceeded, not a 95 %
// figure. The control of the arrêté du 16 septembre 2003 demands a mean
// deviation for it that a circular normal error meets with σ ≤ 0.078 m for A
// and ≤ 0.293 m for B: half-widths of 1.96 σ = 0.153 m and 0.574 m (our
// derivation). Detection from the surface counts for A only by a certified
// provider or under the operator's responsibility.
var schemes = []scheme{
	{"none", nil},
	{"pas128", func(w worstPlace) string {
		switch {
		case w.half <= 0.25 && w.depthShare <= 0.40:
			return "B2"
		case w.half <= 0.50:
			return "B3"
		}
		return ""
	}},
	{"as5488", func(w worstPlace) string {
		if w.half <= 0.30 && w.depth <= 0.50 {
			return "B"
		}
		return ""
	}},
	{"fr2012", func(w worstPlace) string {
		switch {
		case w.half <= 0.153:
			return "A"
		case w.half <= 0.574:
			return "B"
		}
		return "C"
	}},
}

// Schemes lists the names of the accuracy classes that may be asked for.
func Schemes() []string {
	var out []string
	for _, s := range schemes {
		out = append(out, s.name)
	}
	return out
}

// classer gives the function that grades a part, nil when no scheme was asked
// for.
func classer(name string) func(*fuse.Line, *fuse.Part) string {
	for _, s := range schemes {
		if s.name == name && s.grade != nil {
			return func(_ *fuse.Line, p *fuse.Part) string { return s.grade(worstOf(p)) }
		}
	}
	return nil
}

func worstOf(p *fuse.Part) worstPlace {
	var w worstPlace
	for i := range p.Vertices {
		v := &p.Vertices[i]
		w.half = max(w.half, export.HalfWidth(v.Sigma))
		bound := export.Depth95(v.SigmaDepth)
		if math.IsNaN(v.Depth) || math.IsNaN(bound) || v.Depth <= 0 {
			w.depth, w.depthShare = math.Inf(1), math.Inf(1)
			continue
		}
		w.depth, w.depthShare = max(w.depth, bound), max(w.depthShare, bound/v.Depth)
	}
	return w
}
