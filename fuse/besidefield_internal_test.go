package fuse

import (
	"math"
	"testing"
)

// wireField integrates the law of Biot and Savart along a straight wire of 2,000 m by
// Simpson's rule, in units of µ0·I/2π: the field across it and the vertical one, at an
// offset to the left of it and a height over it. Independent of the closed form.
func wireField(across, over float64) (horizontal, vertical float64) {
	// B = µ0·I/4π ∫ ds × r/r³; with s = r0·tan(u) the integrand is smooth in u.
	r0 := math.Hypot(across, over)
	end := math.Atan(1000 / r0)
	const n = 2000
	var sum float64
	for k := range n + 1 {
		u := -end + 2*end*float64(k)/n
		w := 4.0
		switch {
		case k == 0 || k == n:
			w = 1
		case k%2 == 0:
			w = 2
		}
		sum += w * math.Cos(u) / r0
	}
	b := sum * (2 * end / n) / 3 / 2
	return b * over / r0, -b * across / r0
}

// Peak, depth and null among neighbours, against a sweep by the millimetre through the
// integrated field.
func TestReadBesideAgainstIntegration(t *testing.T) {
	for _, c := range []struct {
		depth  float64
		wires  []beside
		single bool
	}{
		{1.2, nil, false},
		{1.2, []beside{{1.1, 1.0, -0.2}}, false},
		{1.2, []beside{{1.1, 1.0, -0.2}}, true},
		{0.7, []beside{{-0.8, 1.3, 0.15}}, false},
		{1.5, []beside{{-0.7, 1.5, -0.1}, {1.3, 0.8, -0.1}}, false},
	} {
		total := func(x, h float64) (across, up float64) {
			across, up = wireField(x, c.depth+h)
			for _, w := range c.wires {
				a, u := wireField(x-w.across, w.depth+h)
				across, up = across+w.share*a, up+w.share*u
			}
			return across, up
		}
		best, at, null, least := 0.0, 0.0, 0.0, math.Inf(1)
		for x := -0.4; x <= 0.4; x += 0.002 {
			bottom, up := total(x, 0)
			top, _ := total(x, coilsApart)
			if c.single {
				top = 0
			}
			if bottom-top > best {
				best, at = bottom-top, x
			}
			if math.Abs(up) < least {
				least, null = math.Abs(up), x
			}
		}
		bottom, _ := total(at, 0)
		top, _ := total(at, coilsApart)
		depth := coilsApart * top / (bottom - top)
		shift, read := readBeside(c.depth, c.wires, c.single)
		if math.Abs(shift-at) > 0.003 || math.Abs(read-depth) > 0.002 {
			t.Errorf("%+v: peak at %.3f m, depth %.3f m; a sweep gives %.3f and %.3f", c, shift, read, at, depth)
		}
		// The null is of first order only.
		if n := nullBeside(c.depth, c.wires); math.Abs(n-null) > 0.1*math.Abs(null)+0.003 {
			t.Errorf("%+v: null at %.3f m, a sweep gives %.3f", c, n, null)
		}
	}
}
