package plane_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
)

func TestCrossings(t *testing.T) {
	road := plane.Polyline{{0, 0}, {10, 0}, {20, 0}}
	for _, c := range []struct {
		name string
		m    plane.Polyline
		want []plane.Crossing
	}{
		{"square across", plane.Polyline{{4, -3}, {4, 3}}, []plane.Crossing{{At: pt{4, 0}, A: 4, B: 3}}},
		{"through a vertex, given once", plane.Polyline{{10, -1}, {10, 1}}, []plane.Crossing{{At: pt{10, 0}, A: 10, B: 1}}},
		{"its vertex on ours", plane.Polyline{{9, -1}, {10, 0}, {10, 1}}, []plane.Crossing{{At: pt{10, 0}, A: 10, B: math.Sqrt2}}},
		{"touching is crossing", plane.Polyline{{5, 0}, {5, 9}}, []plane.Crossing{{At: pt{5, 0}, A: 5, B: 0}}},
		{"parallel", plane.Polyline{{0, 1}, {20, 1}}, nil},
		{"on it", plane.Polyline{{3, 0}, {7, 0}}, nil},
		{"short of it", plane.Polyline{{3, 5}, {3, 1e-9}}, nil},
		{"twice, by our station", plane.Polyline{{15, -1}, {15, 1}, {5, 1}, {5, -1}}, []plane.Crossing{{pt{5, 0}, 5, 13}, {pt{15, 0}, 15, 1}}},
	} {
		got := road.Crossings(c.m)
		if !slices.EqualFunc(got, c.want, func(a, b plane.Crossing) bool {
			return a.At.Dist(b.At) < 1e-9 && math.Abs(a.A-b.A) < 1e-9 && math.Abs(a.B-b.B) < 1e-9
		}) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestSelfCrossings(t *testing.T) {
	for _, c := range []struct {
		name string
		l    plane.Polyline
		want int
	}{
		{"straight", plane.Polyline{{0, 0}, {1, 0}, {2, 0}}, 0},
		{"loop", plane.Polyline{{0, 0}, {4, 0}, {4, 4}, {2, 4}, {2, -1}}, 1},
		{"ring", plane.Polyline{{0, 0}, {4, 0}, {4, 4}, {0, 0}}, 0},
		{"eight", plane.Polyline{{0, 0}, {4, 4}, {4, 0}, {0, 4}, {0, 0}}, 1},
		{"spur: out, and back to where it left", plane.Polyline{{0, 0}, {9, 0}, {9, 3}, {9, 0}}, 1},
		{"back to its own middle", plane.Polyline{{0, 0}, {9, 0}, {9, 3}, {4, 0}}, 1},
	} {
		if got := c.l.SelfCrossings(); len(got) != c.want {
			t.Errorf("%s: %v, want %d", c.name, got, c.want)
		}
	}
}

// A found crossing lies on both lines at the stations it gives.
func TestCrossingsLieOnBoth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, m := drawLine(t, 2), drawLine(t, 2)
		for _, c := range l.Crossings(m) {
			p, _ := l.At(c.A)
			q, _ := m.At(c.B)
			if p.Dist(c.At) > 1e-8 || q.Dist(c.At) > 1e-8 {
				t.Fatalf("crossing %+v, but the lines are at %v and %v", c, p, q)
			}
		}
	})
}

func TestSimplifyKeepsTheTip(t *testing.T) {
	for _, c := range []struct {
		name string
		pts  []pt
		tol  float64
		want []int
	}{
		{"straight", []pt{{0, 0}, {5, 0.1}, {10, 0}}, 0.2, []int{0, 2}},
		{"doubles back beyond its end", []pt{{0, 0}, {10, 0}, {5, 0}}, 0.2, []int{0, 1, 2}},
		{"doubles back wholly", []pt{{0, 0}, {10, 0}, {0, 0}}, 0.2, []int{0, 1, 2}},
		{"ring", []pt{{0, 0}, {5, 0}, {10, 0}, {10, 10}, {0, 0}}, 0.2, []int{0, 2, 3, 4}},
		{"one point", []pt{{1, 2}}, 1, []int{0}},
		{"none", nil, 1, nil},
		{"one place", []pt{{1, 2}, {1, 2}, {1, 2}}, 0, []int{0, 2}},
	} {
		if got, _ := plane.Simplify(c.pts, c.tol); !slices.Equal(got, c.want) {
			t.Errorf("%s: kept %v, want %v", c.name, got, c.want)
		}
	}
}

// The error told is the error made: no point of the dropped line is farther
// from its straight, and none of the straight farther from the line.
func TestSimplifyErrorIsTrue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLine(t, 2)
		before := slices.Clone(l)
		tol := rapid.Float64Range(0, 4).Draw(t, "tol")
		kept, made := plane.Simplify(l, tol)
		if !slices.Equal(l, before) {
			t.Fatal("the input was changed")
		}
		if len(made) != len(kept)-1 || kept[0] != 0 || kept[len(kept)-1] != len(l)-1 || !slices.IsSorted(kept) {
			t.Fatalf("kept %v, made %v", kept, made)
		}
		for i, m := range made {
			if m > tol {
				t.Fatalf("made %v, above tol %v", m, tol)
			}
			old := l[kept[i] : kept[i+1]+1]
			straight := plane.Polyline{old[0], old[len(old)-1]}
			var worst float64
			for _, p := range old {
				f, _ := straight.Nearest(p)
				worst = max(worst, f.Dist)
			}
			if math.Abs(worst-m) > 1e-12 {
				t.Fatalf("stretch %d: made %v, but the farthest vertex is off by %v", i, m, worst)
			}
			for k := range 101 {
				p, _ := straight.At(straight.Length() * float64(k) / 100)
				if f, _ := old.Nearest(p); f.Dist > m+1e-9 {
					t.Fatalf("stretch %d: a point of the straight is %v from the line, made %v", i, f.Dist, m)
				}
			}
		}
	})
}
