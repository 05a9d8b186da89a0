package plane_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
)

type pt = plane.Pt

// drawLine draws a line with some of everything that a survey brings: repeated
// points, tips where it doubles back, rings.
func drawLine(t *rapid.T, least int) plane.Polyline {
	coord := rapid.OneOf(rapid.Map(rapid.IntRange(-5, 5), func(i int) float64 { return float64(i) }),
		rapid.Float64Range(-5, 5))
	pts := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) pt {
		return pt{E: coord.Draw(t, "e"), N: coord.Draw(t, "n")}
	}), least, 12).Draw(t, "line")
	if len(pts) > 2 {
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 0:
			pts = append(pts, pts[0])
		case 1:
			pts = append(pts, pts[len(pts)-2], pts[len(pts)-2])
		}
	}
	return pts
}

func drawPt(t *rapid.T, name string) pt {
	r := rapid.Float64Range(-7, 7)
	return pt{E: r.Draw(t, name+" e"), N: r.Draw(t, name+" n")}
}

func TestAt(t *testing.T) {
	l := plane.Polyline{{0, 0}, {0, 0}, {3, 4}, {3, 4}, {3, 10}, {3, 10}}
	for _, c := range []struct {
		name   string
		s      float64
		p, dir pt
	}{
		{"start, repeated point passed over", 0, pt{0, 0}, pt{0.6, 0.8}},
		{"before the start", -3, pt{0, 0}, pt{0.6, 0.8}},
		{"midway", 2.5, pt{1.5, 2}, pt{0.6, 0.8}},
		{"vertex takes the next straight", 5, pt{3, 4}, pt{0, 1}},
		{"end takes the last straight", 11, pt{3, 10}, pt{0, 1}},
		{"past the end", 99, pt{3, 10}, pt{0, 1}},
	} {
		if p, dir := l.At(c.s); p.Dist(c.p) > 1e-12 || dir.Dist(c.dir) > 1e-12 {
			t.Errorf("%s: At(%v) = %v %v, want %v %v", c.name, c.s, p, dir, c.p, c.dir)
		}
	}
	if p, dir := (plane.Polyline{{2, 3}, {2, 3}}).At(1); p != (pt{2, 3}) || dir != (pt{}) {
		t.Errorf("line of one place: %v %v", p, dir)
	}
	if p, _ := (plane.Polyline{}).At(0); !math.IsNaN(p.E) {
		t.Errorf("empty line: %v, want NaN", p)
	}
	if p, _ := l.At(math.NaN()); !math.IsNaN(p.N) {
		t.Errorf("station NaN: %v, want NaN", p)
	}
}

func TestEvery(t *testing.T) {
	for _, c := range []struct {
		length, step float64
		want         []float64
	}{
		{0, 1, []float64{0}}, {math.NaN(), 1, []float64{0}}, {0.3, 1, []float64{0, 0.3}}, {3, 1, []float64{0, 1, 2, 3}},
		{3.4, 1, []float64{0, 1, 2, 3.4}}, {3.6, 1, []float64{0, 1, 2, 3, 3.6}},
	} {
		if got := plane.Every(c.length, c.step); !slices.Equal(got, c.want) {
			t.Errorf("Every(%v, %v) = %v, want %v", c.length, c.step, got, c.want)
		}
	}
}

// A point of the line is its own foot; its station is the one asked for, or
// that of another pass over the same place.
func TestAtAndNearestAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLine(t, 1)
		s := rapid.Float64Range(0, 1).Draw(t, "fraction") * l.Length()
		p, dir := l.At(s)
		f, ok := l.Nearest(p)
		if !ok || f.Dist > 1e-12 {
			t.Fatalf("Nearest(At(%v)) = %+v", s, f)
		}
		if q, _ := l.At(f.Station); q.Dist(p) > 1e-9 {
			t.Fatalf("At(%v) = %v, want %v", f.Station, q, p)
		}
		if n := dir.Len(); l.Length() > 0 && math.Abs(n-1) > 1e-12 {
			t.Fatalf("direction at %v has length %v", s, n)
		}
		if got := l.Resample([]float64{s})[0]; got != p {
			t.Fatalf("Resample = %v, want %v", got, p)
		}
	})
}

func TestNearestSide(t *testing.T) {
	left := plane.Polyline{{0, 0}, {10, 0}, {10, 10}}       // turns left at (10, 0)
	tip := plane.Polyline{{0, 0}, {10, 0}, {5, 0}}          // doubles back
	sharp := plane.Polyline{{0, 0}, {10, 0}, {0, 0.01}}     // almost doubles back, to the left
	ring := plane.Polyline{{0, 0}, {4, 0}, {4, 4}, {0, 0}}  // counter-clockwise
	twice := plane.Polyline{{0, 0}, {5, 0}, {5, 0}, {5, 5}} // the bend given twice
	for _, c := range []struct {
		name            string
		l               plane.Polyline
		p               pt
		station, offset float64
	}{
		{"beside, left", left, pt{5, 2}, 5, 2},
		{"beside, right", left, pt{5, -2}, 5, -2},
		{"outer wedge of a left bend is right", left, pt{13, -4}, 10, -5},
		{"edge of the wedge", left, pt{13, 0}, 10, -3},
		{"inside of the bend", left, pt{9, 3}, 13, 1},
		{"ahead of the end, a little left", left, pt{9, 15}, 20, 1},
		{"behind the start", left, pt{-5, -1}, 0, -1},
		{"beyond the tip, left of the way in", tip, pt{13, 4}, 10, 5},
		{"beyond the tip, right of the way in", tip, pt{13, -4}, 10, -5},
		{"beyond a sharp tip: outside of the bend", sharp, pt{13, 4}, 10, -5},
		{"outside the closing point of a ring", ring, pt{-3, -1}, 0, -math.Sqrt(10)},
		{"outside a corner of a ring", ring, pt{7, -4}, 4, -5},
		{"inside a ring", ring, pt{3, 1}, 3, 1},
		{"bend given twice", twice, pt{8, -4}, 5, -5},
		{"on the line", left, pt{3, 0}, 3, 0},
		{"one point", plane.Polyline{{1, 1}}, pt{4, 5}, 0, 5},
		{"one place twice", plane.Polyline{{1, 1}, {1, 1}}, pt{4, 5}, 0, 5},
	} {
		f, ok := c.l.Nearest(c.p)
		if !ok || math.Abs(f.Station-c.station) > 1e-9 || math.Abs(f.Offset-c.offset) > 1e-9 {
			t.Errorf("%s: Nearest(%v) = station %v offset %v, want %v %v", c.name, c.p, f.Station, f.Offset, c.station, c.offset)
		}
	}
	if f, _ := left.Nearest(pt{9, 15}); !f.Beyond() {
		t.Errorf("a point ahead of the end is not beyond: %+v", f)
	}
	if f, _ := left.Nearest(pt{13, -4}); f.Beyond() {
		t.Errorf("a point outside a bend is beyond: %+v", f)
	}
	if _, ok := (plane.Polyline{}).Nearest(pt{}); ok {
		t.Error("an empty line has a foot")
	}
	if _, ok := left.Nearest(pt{math.NaN(), 0}); ok {
		t.Error("NaN has a foot")
	}
}

// Against brute force: the distance to a thousand points along the line.
func TestNearestAgainstBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, p := drawLine(t, 1), drawPt(t, "p")
		f, ok := l.Nearest(p)
		if !ok {
			t.Fatal("no foot")
		}
		brute := math.Inf(1)
		for i := range 1001 {
			q, _ := l.At(l.Length() * float64(i) / 1000)
			brute = min(brute, q.Dist(p))
		}
		if f.Dist > brute+1e-12 || brute > f.Dist+l.Length()/1000 {
			t.Fatalf("Dist = %v, brute force %v", f.Dist, brute)
		}
		if math.Abs(f.At.Dist(p)-f.Dist) > 1e-12 || math.Abs(f.Offset) > f.Dist*(1+1e-12) {
			t.Fatalf("foot does not fit together: %+v", f)
		}
		if !f.Beyond() && math.Abs(math.Abs(f.Offset)-f.Dist) > 1e-8*f.Dist {
			t.Fatalf("beside the line, but |Offset| is not Dist: %+v", f)
		}
	})
}

// Drawn the other way round, a line has the same points on the other hand.
func TestNearestReversed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, p := drawLine(t, 2), drawPt(t, "p")
		r := slices.Clone(l)
		slices.Reverse(r)
		a, _ := l.Nearest(p)
		b, _ := r.Nearest(p)
		if math.Abs(a.Dist-b.Dist) > 1e-12 {
			t.Fatalf("distance %v, reversed %v", a.Dist, b.Dist)
		}
		// Only where one straight is the nearest, and away from vertices: the side
		// of a tip is told from the way in, which the reversed line has not.
		near := 0
		for i := range len(l) - 1 {
			if f, _ := l[i : i+2].Nearest(p); f.Dist < a.Dist+1e-9 {
				near++
			}
		}
		if near == 1 && a.T > 0 && a.T < 1 && math.Abs(a.Offset+b.Offset) > 1e-9 {
			t.Fatalf("offset %v, reversed %v", a.Offset, b.Offset)
		}
	})
}

func TestIndexAgainstNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := []plane.Polyline{drawLine(t, 0), drawLine(t, 1), drawLine(t, 2), drawLine(t, 5)}
		p := drawPt(t, "p")
		within := rapid.Float64Range(0, 6).Draw(t, "within")
		x := plane.NewIndex(lines...)
		got := map[int]plane.Foot{}
		last := 0.0
		for _, h := range x.Near(p, within) {
			if h.Dist < last {
				t.Fatal("hits are not in order of distance")
			}
			last = h.Dist
			got[h.Line] = h.Foot
		}
		for i, l := range lines {
			want, ok := l.Nearest(p)
			f, found := got[i]
			if found != (ok && want.Dist <= within) {
				t.Fatalf("line %d: found %v, Nearest says %+v %v", i, found, want, ok)
			}
			if found && (f.Seg != want.Seg || f.Dist != want.Dist || f.Offset != want.Offset || math.Abs(f.Station-want.Station) > 1e-12) {
				t.Fatalf("line %d: %+v, Nearest says %+v", i, f, want)
			}
			if x.Length(i) != l.Length() {
				t.Fatalf("line %d: Length %v, want %v", i, x.Length(i), l.Length())
			}
			if len(l) > 0 {
				p1, d1 := x.At(i, 2)
				if p2, d2 := l.At(2); p1 != p2 || d1 != d2 {
					t.Fatalf("line %d: At = %v %v, want %v %v", i, p1, d1, p2, d2)
				}
			}
		}
	})
}

func BenchmarkIndexNear(b *testing.B) {
	var lines []plane.Polyline
	for i := range 50 {
		var l plane.Polyline
		for j := range 40 {
			l = append(l, pt{float64(j) * 5, float64(i)*4 + math.Sin(float64(j))})
		}
		lines = append(lines, l)
	}
	x := plane.NewIndex(lines...)
	for b.Loop() {
		x.Near(pt{100, 100}, 3)
	}
}
