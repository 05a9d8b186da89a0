package compare

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
)

// All stations of a piece, walked as a whole, are those of plane.Every.
func TestStepsAreEvery(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(0.01, 200).Draw(t, "length")
		step := rapid.Float64Range(0.05, 30).Draw(t, "step")
		var got []float64
		steps(length, step, [][2]float64{{-5, length + 5}}, func(before, s, after float64) {
			if before > s || after < s {
				t.Fatalf("%v stands before %v, %v after", before, s, after)
			}
			got = append(got, s)
		})
		if want := plane.Every(length, step); !slices.EqualFunc(got, want, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }) {
			t.Fatalf("length %v, step %v: %v, want %v", length, step, got, want)
		}
	})
}

// The ranges inside a box hold just the stations whose places lie in it. Checks
// against: asking each place.
func TestInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Float64Range(-20, 20)
		n := rapid.IntRange(2, 8).Draw(t, "points")
		var p piece
		for range n {
			p.pts = append(p.pts, plane.Pt{E: coordinate.Draw(t, "e"), N: coordinate.Draw(t, "n")})
		}
		p.sta = p.pts.Stations()
		length := p.sta[n-1]
		area := box{plane.Pt{E: -7, N: -4}, plane.Pt{E: 6, N: 9}}
		ranges := p.inside(area)
		for i, r := range ranges {
			if r[0] > r[1] || i > 0 && r[0] <= ranges[i-1][1] {
				t.Fatalf("ranges %v", ranges)
			}
		}
		for k := range 101 {
			s := length * float64(k) / 100
			at, _ := p.pts.At(s)
			in := slices.ContainsFunc(ranges, func(r [2]float64) bool { return s >= r[0]-1e-9 && s <= r[1]+1e-9 })
			const rim = 1e-6
			if area.grown(-rim).has(at) && !in || !area.grown(rim).has(at) && in {
				t.Fatalf("station %v at %v: inside %v, ranges %v", s, at, in, ranges)
			}
		}
	})
}
