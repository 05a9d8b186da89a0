package plane

import (
	"cmp"
	"math"
	"slices"

	"github.com/tidwall/rtree"
)

// Index answers At and Near for a fixed set of lines, each question at about
// the logarithm of the number of vertices. It keeps the lines it was given,
// which must not change. It is safe for use by several goroutines.
type Index struct {
	lines    []Polyline
	stations [][]float64
	tree     rtree.RTreeG[segment]
}

type segment struct{ line, seg int }

// Hit is a line near a point.
type Hit struct {
	Line int // which of the lines given to NewIndex
	Foot
}

// NewIndex prepares the lines. Lines may be empty; straights with NaN in them
// are never found.
func NewIndex(lines ...Polyline) *Index {
	x := &Index{lines: lines, stations: make([][]float64, len(lines))}
	for i, l := range lines {
		x.stations[i] = l.Stations()
		for j := range max(min(len(l), 1), len(l)-1) {
			a, b := l[j], l[min(j+1, len(l)-1)]
			if math.IsNaN(a.E + a.N + b.E + b.N) {
				continue
			}
			x.tree.Insert([2]float64{min(a.E, b.E), min(a.N, b.N)},
				[2]float64{max(a.E, b.E), max(a.N, b.N)}, segment{i, j})
		}
	}
	return x
}

// At is Polyline.At of one of the lines.
func (x *Index) At(line int, station float64) (p, dir Pt) {
	return pointAt(x.lines[line], x.stations[line], station)
}

// Length is the length of one of the lines, m.
func (x *Index) Length(line int) float64 {
	if s := x.stations[line]; len(s) > 0 {
		return s[len(s)-1]
	}
	return 0
}

// Near gives the lines that come within a distance (metres) of p, each with
// the foot that Polyline.Nearest gives, the nearest line first and equals in
// their given order.
func (x *Index) Near(p Pt, within float64) []Hit {
	var hits []Hit
	x.tree.Search([2]float64{p.E - within, p.N - within}, [2]float64{p.E + within, p.N + within},
		func(_, _ [2]float64, s segment) bool {
			l := x.lines[s.line]
			t, at, d := footOnSegment(l[s.seg], l[min(s.seg+1, len(l)-1)], p)
			if d > within {
				return true
			}
			h := Hit{Line: s.line, Foot: Foot{At: at, Seg: s.seg, T: t, Dist: d}}
			i := slices.IndexFunc(hits, func(o Hit) bool { return o.Line == s.line })
			if i < 0 {
				hits = append(hits, h)
			} else if o := hits[i]; d < o.Dist || d == o.Dist && s.seg < o.Seg {
				hits[i] = h
			}
			return true
		})
	for i, h := range hits {
		l, sta := x.lines[h.Line], x.stations[h.Line]
		hits[i].Station = sta[h.Seg]
		if h.Seg+1 < len(sta) {
			hits[i].Station += h.T * (sta[h.Seg+1] - sta[h.Seg])
		}
		hits[i].Offset = l.offset(p, h.Foot)
	}
	slices.SortFunc(hits, func(a, b Hit) int {
		return cmp.Or(cmp.Compare(a.Dist, b.Dist), cmp.Compare(a.Line, b.Line))
	})
	return hits
}
