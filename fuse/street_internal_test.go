package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
)

// courseAlong is the course of a straight line at a depth of 1 m.
func courseAlong(group int, from, to plane.Pt) *course {
	n := int(to.Dist(from))
	c := &course{group: group, step: to.Dist(from) / float64(n)}
	for i := range n + 1 {
		c.points = append(c.points, coursePoint{at: from.Lerp(to, float64(i)/float64(n)), along: to.Sub(from).Unit(), depth: 1})
	}
	return c
}

// Only lines of other names count that run within three depths, about the same way, for
// three depths and more; which way they are drawn does not matter.
func TestWhatRunsBeside(t *testing.T) {
	own := courseAlong(0, plane.Pt{}, plane.Pt{E: 40})
	for _, c := range []struct {
		name   string
		other  *course
		beside int // points of 41
	}{
		{"two metres to the left", courseAlong(1, plane.Pt{N: 2}, plane.Pt{E: 40, N: 2}), 41},
		{"the same, drawn the other way", courseAlong(1, plane.Pt{E: 40, N: 2}, plane.Pt{N: 2}), 41},
		{"four metres to the left", courseAlong(1, plane.Pt{N: 4}, plane.Pt{E: 40, N: 4}), 0},
		{"the same line's other part", courseAlong(0, plane.Pt{N: 2}, plane.Pt{E: 40, N: 2}), 0},
		{"across", courseAlong(1, plane.Pt{E: 20, N: -20}, plane.Pt{E: 20.5, N: 20}), 0},
		{"for half of the way", courseAlong(1, plane.Pt{E: -10, N: -1}, plane.Pt{E: 20, N: -1}), 22},
	} {
		got := 0
		for _, here := range newSurroundings([]*course{own, nil, c.other}).beside(own) {
			if len(here) == 0 {
				continue
			}
			got++
			if a := math.Abs(here[0].across); here[0].group != 1 || a < 1-1e-9 || a > 2+1e-9 || here[0].cos < 0 {
				t.Errorf("%s: %+v", c.name, here)
			}
		}
		if got != c.beside {
			t.Errorf("%s: beside %d points, want %d", c.name, got, c.beside)
		}
	}
}

// A line that nothing runs beside has no street, and its widths are as they were.
func TestIsolatedLinesHaveNoStreet(t *testing.T) {
	own := courseAlong(0, plane.Pt{}, plane.Pt{E: 40})
	s := newStreet(own, newSurroundings([]*course{own, courseAlong(1, plane.Pt{N: 9}, plane.Pt{E: 40, N: 9})}).beside(own))
	p := &shapedPart{street: s}
	if s != nil || p.besideVariance(3) != 0 || p.besideSigma(3, 1.2) != 0 || p.besideLift(3) != 1 || p.besideStations(0, 0, 40) != nil {
		t.Errorf("%+v", s)
	}
}

// What the shares leave open, and what the distance of peak and null tells of them,
// against shares drawn by chance.
func TestLeftOpenAgainstDraws(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	here := neighbours{{1, 0.9, 1.1, 1}, {2, 2.1, 0.8, 1}, {3, -1.3, 1.4, 1}}
	c := courseAlong(0, plane.Pt{}, plane.Pt{E: 10})
	e := make([]effect, len(here))
	for k, n := range here {
		e[k] = effectOf(1, beside{n.across, n.depth, n.cos}, "")
	}
	own := 2 * (sq(noise.PinBase) + sq(noise.PinDepth)) / 4
	const apart = 0.08
	var all, near struct{ n, p2, d1, d2 float64 }
	for range 400_000 {
		w := []float64{rng.ExpFloat64(), rng.ExpFloat64(), rng.ExpFloat64()}
		share := (noise.BackMean + noise.BackShare*rng.NormFloat64()) / (w[0] + w[1] + w[2])
		var p, d, y float64
		for k := range e {
			p, d, y = p+share*w[k]*e[k].place, d+share*w[k]*e[k].depth, y+share*w[k]*apartOf(e[k])
		}
		all.n, all.p2, all.d1, all.d2 = all.n+1, all.p2+sq(p), all.d1+d, all.d2+sq(d)
		y += math.Sqrt(own) * rng.NormFloat64()
		if math.Abs(math.Abs(y)-apart) < 0.01 {
			near.n, near.p2, near.d1, near.d2 = near.n+1, near.p2+sq(p), near.d1+d, near.d2+sq(d)
		}
	}
	place, depth, lift := c.leftOpen(5, here)
	mean := all.d1 / all.n
	if want := math.Sqrt(all.p2 / all.n); math.Abs(place/want-1) > 0.02 {
		t.Errorf("place %.4f m, drawn %.4f", place, want)
	}
	if want := math.Sqrt(all.d2/all.n - sq(mean)); math.Abs(depth/want-1) > 0.02 || math.Abs(lift+mean) > 0.001 {
		t.Errorf("depth %.4f, lifted by %.4f; drawn %.4f and %.4f", depth, lift, want, -mean)
	}
	c.nulls = []nullSeen{{4, apart}, {4.5, apart}, {5, apart}, {6, apart}}
	_, told, toldLift := c.leftOpen(5, here)
	mean = near.d1 / near.n
	// The law of two normal variables, where the shares' is not quite one.
	if want := math.Sqrt(near.d2/near.n - sq(mean)); math.Abs(told/want-1) > 0.15 || math.Abs(toldLift+mean) > 0.01 {
		t.Errorf("with peak and null %.2f m apart: depth %.4f, lifted by %.4f; drawn %.4f and %.4f", apart, told, toldLift, want, -mean)
	}
	// Where they coincide over many readings beside a single neighbour, little flows back.
	one := here[:1]
	c.nulls = nil
	_, depth, lift = c.leftOpen(5, one)
	for range 20 {
		c.nulls = append(c.nulls, nullSeen{5, 0})
	}
	if _, told, toldLift := c.leftOpen(5, one); told > 0.6*depth || toldLift > 0.6*lift {
		t.Errorf("peak and null together narrow nothing: depth %.4f, lifted by %.4f; %.4f and %.4f without", told, toldLift, depth, lift)
	}
}
