package plane_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/peterstace/simplefeatures/geom"
	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
)

type corridorCase struct {
	name  string
	line  []pt
	half  []float64
	holes int // how many holes the area has
}

func even(n int, half float64) []float64 {
	return slices.Repeat([]float64{half}, n)
}

func curve(n int, f func(t float64) pt) []pt {
	pts := make([]pt, n)
	for i := range pts {
		pts[i] = f(float64(i) / float64(n-1))
	}
	return pts
}

func varying(n int) []float64 {
	half := make([]float64, n)
	for i := range half {
		half[i] = 0.4 + 0.25*math.Sin(float64(i)/3)
	}
	return half
}

func corridorCases() []corridorCase {
	turn := 2 * math.Pi
	circle := curve(41, func(t float64) pt { return pt{10 * math.Cos(turn*t), 10 * math.Sin(turn*t)} })
	circle[40] = circle[0]
	return []corridorCase{
		{"one point", []pt{{3, 4}}, []float64{0.5}, 0},
		{"one place thrice", []pt{{3, 4}, {3, 4}, {3, 4}}, []float64{0.5, 0.2, 0.7}, 0},
		{"straight", []pt{{0, 0}, {10, 3}}, []float64{0.3, 0.6}, 0},
		{"a disc that holds the rest", []pt{{0, 0}, {0.3, 0}}, []float64{1, 0.2}, 0},
		{"a jump of the width", []pt{{0, 0}, {5, 0}, {5.3, 0}, {9, 0}}, []float64{0.2, 0.2, 1.5, 1.5}, 0},
		{"repeated vertices", []pt{{0, 0}, {5, 0}, {5, 0}, {5, 0.0001}, {5, 6}}, even(5, 0.3), 0},
		{"repeated vertex with another width", []pt{{0, 0}, {5, 0}, {5, 0}, {9, 1}}, []float64{0.2, 0.2, 1, 0.2}, 0},
		{"gentle sine", curve(200, func(t float64) pt { return pt{200 * t, 5 * math.Sin(6*t)} }), varying(200), 0},
		{"right angles", []pt{{0, 0}, {10, 0}, {10, 10}, {20, 10}, {20, 0}}, []float64{0.3, 0.4, 0.3, 0.5, 0.3}, 0},
		{"bulge and waist", []pt{{0, 0}, {5, 0}, {10, 0}, {15, 0}, {20, 0}}, []float64{0.2, 2, 0.1, 2, 0.2}, 0},
		{"a big disc with two tails to one side", []pt{{0, 0}, {3, 0}, {0, 1}}, []float64{0.1, 2, 0.1}, 0},
		{"hairpin closer than its width", []pt{{0, 0}, {20, 0}, {20, 0.4}, {0, 0.4}}, even(4, 0.5), 0},
		{"hairpin wider than its width", []pt{{0, 0}, {20, 0}, {20, 2.4}, {0, 2.4}}, even(4, 0.5), 0},
		{"doubles back", []pt{{0, 0}, {20, 0}, {7, 0}}, []float64{0.3, 0.5, 0.4}, 0},
		{"doubles back wholly", []pt{{0, 0}, {20, 0}, {0, 0}}, even(3, 0.3), 0},
		{"doubles back at a tiny angle", []pt{{0, 0}, {20, 0}, {0, 0.01}}, even(3, 0.3), 0},
		{"doubles back, almost parallel and apart", []pt{{0, 0}, {50, 0}, {0, 0.61}}, even(3, 0.3), 0},
		{"loop over itself", curve(100, func(t float64) pt {
			return pt{30 * (t + 0.8*math.Sin(turn*t)), 10 * (1 - math.Cos(turn*t))}
		}), varying(100), 1},
		{"crossing", []pt{{0, 0}, {20, 0}, {20, 10}, {10, 10}, {10, -10}}, even(5, 0.3), 1},
		{"eight", []pt{{0, 0}, {10, 10}, {10, 0}, {0, 10}, {0, 0}}, even(5, 0.2), 2},
		{"ring", circle, even(41, 0.5), 1},
		{"ring clockwise", reversed(circle), even(41, 0.5), 1},
		{"ring of uneven width", circle, varying(41), 1},
		{"ring filled up", circle, even(41, 12), 0},
		{"ring not quite closed", circle[:40], even(40, 0.9), 1},
		{"triangle ring", []pt{{0, 0}, {10, 0}, {5, 8}, {0, 0}}, even(4, 0.2), 1},
		{"out and back ring", []pt{{0, 0}, {10, 0}, {20, 0}, {10, 0}, {0, 0}}, even(5, 0.2), 0},
		{"bends tighter than the width", []pt{{0, 0}, {5, 0}, {5.1, 0.1}, {5.1, 0.2}, {5, 0.3}, {0, 3}}, even(6, 0.6), 0},
		{"steps shorter than the width", curve(60, func(t float64) pt {
			return pt{3 * t, 0.05 * math.Sin(200*t)}
		}), even(60, 0.8), 0},
		{"spiral", curve(150, func(t float64) pt {
			return pt{(2 + 8*t) * math.Cos(3*turn*t), (2 + 8*t) * math.Sin(3*turn*t)}
		}), even(150, 0.5), 0},
		{"width nought", []pt{{0, 0}, {10, 0}, {10, 10}}, even(3, 0), 0},
		{"width a hair", []pt{{0, 0}, {10, 0}, {10, 10}, {5, -5}}, even(4, 1e-9), 1},
		{"width huge", []pt{{0, 0}, {10, 0}, {10, 10}, {3, 4}}, []float64{4000, 4001, 4000, 3999.5}, 0},
		{"far from the origin", []pt{{5e6, 9e6}, {5e6 + 10, 9e6}, {5e6 + 10, 9e6 + 10}}, even(3, 0.3), 0},
		{"sides that just touch", []pt{{0, 0}, {10, 0}, {10, 1}, {0, 1}}, even(4, 0.5), 0},
		{"sides that almost touch", []pt{{0, 0}, {10, 0}, {10, 1.0001}, {0, 1.0001}}, even(4, 0.5), 0},
		{"end that just touches its side", []pt{{0, 0}, {10, 0}, {10, 5}, {5, 5}, {5, 0.6}}, even(5, 0.3), 1},
	}
}

func reversed(pts []pt) []pt {
	r := slices.Clone(pts)
	slices.Reverse(r)
	return r
}

func TestCorridor(t *testing.T) {
	for _, c := range corridorCases() {
		t.Run(c.name, func(t *testing.T) {
			line, half := slices.Clone(c.line), slices.Clone(c.half)
			got, err := plane.Corridor(line, half)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(line, c.line) || !slices.Equal(half, c.half) {
				t.Error("the input was changed")
			}
			checkCorridor(t, c.line, c.half, got)
			if holes := len(got[0]) - 1; holes != c.holes {
				t.Errorf("%d holes, want %d", holes, c.holes)
			}
		})
	}
}

// Any line at all: repeated points, tips, rings, tight bends, sudden widths.
func TestCorridorOfAnyLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := drawLine(t, 1)
		width := rapid.OneOf(rapid.Float64Range(0, 1), rapid.Float64Range(0, 5), rapid.Just(0.5))
		half := rapid.SliceOfN(width, len(line), len(line)).Draw(t, "half")
		got, err := plane.Corridor(line, half)
		if err != nil {
			t.Fatal(err)
		}
		checkCorridor(t, line, half, got)
	})
}

// Whatever the numbers, there is an error or a valid polygon, never a panic.
func TestCorridorOfWildNumbers(t *testing.T) {
	wild := rapid.OneOf(rapid.Float64Range(-1e8, 1e8), rapid.Float64Range(-1e4, 1e4), rapid.Float64Range(-1e-3, 1e-3),
		rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e8, -1e8, 5e-324, 1e-9, 2e8, math.NaN()}))
	rapid.Check(t, func(t *rapid.T) {
		line := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) pt { return pt{wild.Draw(t, "e"), wild.Draw(t, "n")} }), 0, 6).Draw(t, "line")
		half := rapid.SliceOfN(rapid.Map(wild, math.Abs), len(line), len(line)).Draw(t, "half")
		got, err := plane.Corridor(line, half)
		if err != nil {
			for _, fault := range []string{"no vertex", " is at ", "half width at "} {
				if strings.Contains(err.Error(), fault) {
					return
				}
			}
			t.Fatal(err) // not a fault of the input
		}
		checkValid(t, got[0], func(p pt) geom.XY { return geom.XY{X: p.E, Y: p.N} })
	})
}

func TestCorridorRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		line []pt
		half []float64
		want string
	}{
		{nil, nil, "no vertex"},
		{[]pt{{0, 0}, {1, 1}}, []float64{1}, "2 vertices but 1 half widths"},
		{[]pt{{0, 0}, {nan, 1}}, even(2, 1), "vertex 1 is at NaN"},
		{[]pt{{0, 0}, {1, -inf}}, even(2, 1), "vertex 1 is at 1, -Inf"},
		{[]pt{{0, 0}, {1, 1}}, []float64{1, nan}, "half width at vertex 1 is NaN"},
		{[]pt{{0, 0}, {1, 1}}, []float64{-0.1, 1}, "half width at vertex 0 is -0.1"},
		{[]pt{{0, 0}, {1, 1}}, []float64{1, inf}, "half width at vertex 1 is +Inf"},
		{[]pt{{0, 0}, {1e12, 1}}, even(2, 1), "vertex 1 is at 1e+12"},
	} {
		_, err := plane.Corridor(c.line, c.half)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("Corridor(%v, %v) = %v, want %q", c.line, c.half, err, c.want)
		}
	}
}

type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

// checkCorridor holds a corridor against its promises.
func checkCorridor(t failer, line []pt, half []float64, got [][][]pt) {
	t.Helper()
	if len(got) != 1 {
		t.Fatalf("%d polygons, want 1", len(got))
	}
	checkValid(t, got[0], func(p pt) geom.XY { return geom.XY{X: p.E, Y: p.N} })
	for i, r := range got[0] {
		if r[0] != r[len(r)-1] {
			t.Fatalf("ring %d is not closed", i)
		}
		if (signedArea(r) > 0) != (i == 0) {
			t.Fatalf("ring %d has area %v", i, signedArea(r))
		}
	}
	for _, p := range within(line, half) {
		if !holds(got[0], p) {
			t.Fatalf("the corridor does not hold %v", p)
		}
	}
	for _, r := range got[0] {
		for _, p := range r {
			if d := beyond(line, half, p); d > 0.02 { // m: growing stops at 13 mm, with as much trimming
				t.Fatalf("vertex %v is %v m outside", p, d)
			}
		}
	}
}

// checkValid asks simplefeatures whether the polygon is valid as it is.
func checkValid(t failer, rings [][]pt, xy func(pt) geom.XY) {
	t.Helper()
	var coords [][]float64
	for _, r := range rings {
		var c []float64
		for _, p := range r {
			q := xy(p)
			c = append(c, q.X, q.Y)
		}
		coords = append(coords, c)
	}
	if err := geom.NewPolygonXY(coords...).Validate(); err != nil {
		t.Fatalf("not valid: %v", err)
	}
}

// within samples the discs that the corridor must hold: about points of the
// line, 16 directions, a hair within the half width.
func within(line []pt, half []float64) []pt {
	var out []pt
	for i := range line {
		j := min(i+1, len(line)-1)
		for k := range 5 {
			f := float64(k) / 5
			c, r := line[i].Lerp(line[j], f), half[i]+f*(half[j]-half[i])
			for a := range 16 {
				sin, cos := math.Sincos(0.1 + float64(a)*math.Pi/8)
				out = append(out, c.Add(pt{cos, sin}.Mul(r*(1-1e-9))))
			}
		}
	}
	return out
}

// beyond gives how far p lies outside the widest corridor that is allowed: 1.6 %
// more than the half width, at least 5 mm.
func beyond(line []pt, half []float64, p pt) float64 {
	best := math.Inf(1)
	for i := range line {
		j := min(i+1, len(line)-1)
		f := func(t float64) float64 {
			return line[i].Lerp(line[j], t).Dist(p) - 1.016*max(0.005, half[i]+t*(half[j]-half[i]))
		}
		lo, hi := 0.0, 1.0
		for range 60 { // f has one minimum
			a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
			if f(a) < f(b) {
				hi = b
			} else {
				lo = a
			}
		}
		best = min(best, f(lo), f(0), f(1))
	}
	return best
}

func signedArea(r []pt) float64 {
	var s float64
	for i := 1; i < len(r); i++ {
		s += r[i-1].Sub(r[0]).Cross(r[i].Sub(r[0])) / 2
	}
	return s
}

// holds tells by counting crossings whether a polygon holds p.
func holds(rings [][]pt, p pt) bool {
	in := false
	for _, r := range rings {
		for i := 1; i < len(r); i++ {
			a, b := r[i-1], r[i]
			if (a.N > p.N) != (b.N > p.N) && p.E < a.E+(p.N-a.N)/(b.N-a.N)*(b.E-a.E) {
				in = !in
			}
		}
	}
	return in
}

func BenchmarkCorridor(b *testing.B) {
	for _, c := range corridorCases() {
		if len(c.line) < 40 {
			continue
		}
		b.Run(strings.ReplaceAll(c.name, " ", "_"), func(b *testing.B) {
			for b.Loop() {
				if _, err := plane.Corridor(c.line, c.half); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	long := curve(2000, func(t float64) pt { return pt{4000 * t, 30 * math.Sin(60*t)} })
	b.Run("typical_2000", func(b *testing.B) {
		for b.Loop() {
			if _, err := plane.Corridor(long, varying(2000)); err != nil {
				b.Fatal(err)
			}
		}
	})
	line := curve(40, func(t float64) pt { return pt{200 * t, 5 * math.Sin(6*t)} })
	half := varying(40)
	b.Run("typical_40", func(b *testing.B) {
		for b.Loop() {
			if _, err := plane.Corridor(line, half); err != nil {
				b.Fatal(err)
			}
		}
	})
}
