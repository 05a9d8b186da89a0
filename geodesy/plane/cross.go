package plane

import (
	"cmp"
	"math"
	"slices"
)

// Crossing is a place where two lines meet.
type Crossing struct {
	At   Pt
	A, B float64 // its station on the one line and on the other, m
}

// CrossSegments gives where the straights ab and cd meet: t is the fraction
// along ab, u along cd, both 0 to 1; touching counts. Parallel straights do not
// cross, even where they lie on each other.
func CrossSegments(a, b, c, d Pt) (t, u float64, ok bool) {
	r, s, q := b.Sub(a), d.Sub(c), c.Sub(a)
	den := r.Cross(s)
	if den == 0 {
		return 0, 0, false
	}
	t, u = q.Cross(s)/den, q.Cross(r)/den
	return t, u, t >= 0 && t <= 1 && u >= 0 && u <= 1
}

// Crossings gives the places where the line meets another, by ascending
// station on the line. A crossing at a vertex is given once. Stretches that
// run on each other are not crossings. The cost is n·m.
func (l Polyline) Crossings(m Polyline) []Crossing {
	return crossings(l, m, func(int, int) bool { return true })
}

// SelfCrossings gives the places where the line meets itself, each once, with
// A before B, by ascending A. That neighbouring straights share a vertex, and
// that a ring closes, is not a crossing.
func (l Polyline) SelfCrossings() []Crossing {
	found := crossings(l, l, func(i, j int) bool { return j > i+1 })
	if l.Closed() {
		end := l.Length()
		found = slices.DeleteFunc(found, func(c Crossing) bool {
			return c.A <= touch && c.B >= end-touch
		})
	}
	return found
}

// touch is how near, m, two found crossings are taken for one: far above the
// rounding of coordinates, far below what a survey can tell.
const touch = 1e-6

func crossings(l, m Polyline, want func(i, j int) bool) []Crossing {
	var found []Crossing
	ls, ms := l.Stations(), m.Stations()
	for i := 1; i < len(l); i++ {
		for j := 1; j < len(m); j++ {
			if !want(i, j) {
				continue
			}
			t, u, ok := CrossSegments(l[i-1], l[i], m[j-1], m[j])
			if !ok {
				continue
			}
			found = append(found, Crossing{
				At: l[i-1].Lerp(l[i], t),
				A:  ls[i-1] + t*(ls[i]-ls[i-1]),
				B:  ms[j-1] + u*(ms[j]-ms[j-1]),
			})
		}
	}
	slices.SortFunc(found, func(a, b Crossing) int {
		return cmp.Or(cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B))
	})
	return slices.CompactFunc(found, func(a, b Crossing) bool {
		return b.A-a.A <= touch && math.Abs(b.B-a.B) <= touch
	})
}
