package otherdays

import (
	"math"
	"testing"
)

// long returns a wire along east at depth d and to the left by b.
func long(b, d, ma float64) wire {
	return wire{vector{-5000, b, -d}, vector{5000, b, -d}, ma}
}

// The worked example of one long wire: 1.2 m deep, 100 mA, coils 0.4 m apart:
// 16.6667 nT and 12.5 nT by B = μ0 I/2πr.
func TestFieldOfOneWire(t *testing.T) {
	bottom, top := coils([]wire{long(0, 1.2, 100)}, spot{}, spot{0, 1})
	if math.Abs(bottom-16.6667) > 1e-4 || math.Abs(top-12.5) > 1e-4 {
		t.Errorf("coils show %.4f and %.4f nT, want 16.6667 and 12.5", bottom, top)
	}
	if depth, ma := measured(bottom, top); math.Abs(depth-1.2) > 1e-5 || math.Abs(ma-100) > 1e-3 {
		t.Errorf("measured %.4f m and %.2f mA, want 1.2 and 100", depth, ma)
	}
}

// Two parallel wires, the second with a share of the current: peaks of the
// difference and of one coil, and depth and current read at the latter, as
// found by numerical roots of the sum of two long wires' fields.
func TestFieldBesideANeighbour(t *testing.T) {
	for _, c := range []struct{ b, f, d, d2, diff, single, depth, ma float64 }{
		{1, -0.25, 1, 1, -0.033, -0.059, 0.859, 0.755},
		{1, 0.25, 1, 1, 0.039, 0.067, 1.142, 1.290},
		{1, -0.5, 1, 1, -0.062, -0.114, 0.719, 0.549},
		{2, -0.25, 1, 1, -0.0005, -0.020, 0.892, 0.848},
		{1.5, -0.3, 1.2, 0.9, -0.016, -0.069, 0.972, 0.727},
	} {
		wires := []wire{long(0, c.d, 1), long(c.b, c.d2, c.f)}
		diff, single := peak(wires, spot{}, spot{0, 1}, 0.6, false), peak(wires, spot{}, spot{0, 1}, 0.6, true)
		depth, ma := measured(coils(wires, spot{0, single}, spot{0, 1}))
		for _, x := range []struct {
			name            string
			got, want, most float64
		}{
			{"difference's peak", diff, c.diff, 0.0015}, {"coil's peak", single, c.single, 0.0015},
			{"depth", depth, c.depth, 0.002}, {"current", ma, c.ma, 0.003},
		} {
			if math.Abs(x.got-x.want) > x.most {
				t.Errorf("neighbour at %g m with %g: %s %.4f, want %.4f", c.b, c.f, x.name, x.got, x.want)
			}
		}
	}
}

// A line 1 m deep that ends: depth of the pair 4, 3, 2, 1 m before the end, by
// the half-infinite wire B · ½(1 − u/√(u² + d²)). A right-angled bend gives the
// same depths before it.
func TestFieldBeforeAnEndAndABend(t *testing.T) {
	end := []wire{{vector{-5000, 0, -1}, vector{0, 0, -1}, 50}}
	bend := append(end[:1:1], wire{vector{0, 0, -1}, vector{0, 5000, -1}, 50})
	for before, want := range map[float64]float64{4: 0.955, 3: 0.928, 2: 0.874, 1: 0.782} {
		for name, wires := range map[string][]wire{"end": end, "bend": bend} {
			if got, _ := measured(coils(wires, spot{-before, 0}, spot{0, 1})); math.Abs(got-want) > 0.001 {
				t.Errorf("%g m before the %s: %.4f m, want %.3f", before, name, got, want)
			}
		}
	}
}

// Cutting a course into wires keeps its ends and never cuts a corner.
func TestWiresFollowTheCourse(t *testing.T) {
	c := lay("x", spot{3, 4}, 0.7, []turn{{straight: 20.1, angle: 1.2}, {straight: 9, angle: -1, radius: 12}, {straight: 15}})
	c.bury(newDice("x", 1), 1)
	c.energise(10, 0, nil)
	list := c.asWires(1, c.ma)
	if a, z := list[0].a, list[len(list)-1].b; (spot{a.x, a.y}) != c.at[0] || (spot{z.x, z.y}) != c.at[len(c.at)-1] {
		t.Error("the wires begin or end elsewhere")
	}
	for _, p := range c.at {
		near := math.Inf(1)
		for _, w := range list {
			a, b := spot{w.a.x, w.a.y}, spot{w.b.x, w.b.y}
			d := b.minus(a)
			f := min(1, max(0, (p.minus(a).e*d.e+p.minus(a).n*d.n)/(d.e*d.e+d.n*d.n)))
			near = min(near, p.minus(a.plus(d, f)).length())
		}
		if near > 0.05 { // 2 m chord of a 12 m radius: 0.042 m
			t.Fatalf("%v lies %.3f m off the wires", p, near)
		}
	}
}
