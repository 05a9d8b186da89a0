package report

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tracemap/internal/svg"
)

// What a window leaves out of a path cannot be seen in it: no point of the path that
// lies in the window is missing, and nothing is there that the path has not.
func TestWindowKeepsWhatShows(t *testing.T) {
	f := window{0, 0, 100, 50}
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Float64Range(-300, 400)
		path := make([]svg.Point, rapid.IntRange(2, 12).Draw(t, "points"))
		for i := range path {
			path[i] = svg.Point{X: coordinate.Draw(t, "x"), Y: coordinate.Draw(t, "y")}
		}
		kept := f.within(path)
		for i := 1; i < len(path); i++ {
			for k := range 101 {
				s := float64(k) / 100
				p := svg.Point{X: path[i-1].X + s*(path[i].X-path[i-1].X), Y: path[i-1].Y + s*(path[i].Y-path[i-1].Y)}
				if p.X > 0 && p.X < 100 && p.Y > 0 && p.Y < 50 && !hasStraight(kept, path[i-1], path[i]) {
					t.Fatalf("%v shows at %v and is left out of %v", path, p, kept)
				}
			}
		}
		for i := 1; i < len(kept); i++ {
			if a, b := kept[i-1], kept[i]; !math.IsNaN(a.X) && !math.IsNaN(b.X) && !hasStraight(path, a, b) {
				t.Fatalf("%v to %v is no straight of %v", a, b, path)
			}
		}
	})
}

func hasStraight(path []svg.Point, a, b svg.Point) bool {
	for i := 1; i < len(path); i++ {
		if path[i-1] == a && path[i] == b {
			return true
		}
	}
	return false
}

// A path far away is left out, and so is one whose circle does not reach the window.
func TestWindowLeavesOut(t *testing.T) {
	f := window{0, 0, 100, 50}
	if got := f.within([]svg.Point{{X: -10, Y: 5}, {X: -20, Y: 400}, {X: 300, Y: 400}}); got != nil {
		t.Errorf("kept %v", got)
	}
	for _, c := range []struct {
		x, y, radius float64
		near         bool
	}{{50, 25, 1, true}, {-10, 25, 9, false}, {-10, 25, 11, true}, {50, 80, 29, false}, {50, 80, 31, true}} {
		if got := f.near(svg.Point{X: c.x, Y: c.y}, c.radius); got != c.near {
			t.Errorf("circle of %v about %v, %v: %v", c.radius, c.x, c.y, got)
		}
	}
}
