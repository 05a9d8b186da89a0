package fuse

import "math"

// A beside is a long straight conductor that runs along a line: how far to the left
// of it, how deep, m, and the current in it as a share of the line's own, positive
// along with it and negative back.
type beside struct{ across, depth, share float64 }

// peakReach is how far from over a line, in depths, its peak is looked for: beyond that
// it is a neighbour's.
const peakReach = 0.6

// readBeside is what a locator reads of a long straight line at a depth, m, among
// conductors beside it: how far to the left of the line the peak lies, m, and the depth
// that two coils give there, m. The peak is that of the difference of both coils, or
// of the bottom coil alone. The field across the line of a long wire at (a, −z) in
// units of µ0·I/2π is (z + h)/((x − a)² + (z + h)²) at a height h (Biot–Savart for an
// endless wire: Griffiths, Introduction to Electrodynamics, example 5.5).
func readBeside(depth float64, wires []beside, single bool) (shift, read float64) {
	field := func(x, h float64) float64 {
		z := depth + h
		b := z / (x*x + z*z)
		for _, w := range wires {
			x, z := x-w.across, w.depth+h
			b += w.share * z / (x*x + z*z)
		}
		return math.Abs(b)
	}
	response := func(x float64) float64 {
		if single {
			return field(x, 0)
		}
		return field(x, 0) - field(x, coilsApart)
	}
	x, best := 0.0, response(0)
	for step := peakReach * depth / 4; step > 1e-3*depth; {
		switch l, r := response(x-step), response(x+step); {
		case math.Abs(x) >= peakReach*depth:
			step = 0
		case l > best && l >= r:
			x, best = x-step, l
		case r > best:
			x, best = x+step, r
		default:
			step /= 3
		}
	}
	bottom, top := field(x, 0), field(x, coilsApart)
	return x, coilsApart * top / (bottom - top)
}

// nullBeside is how far to the left of a line the null lies, m: where its vertical
// field and its neighbours' cancel, to the first order of the shares. The vertical
// field of a wire is −(x − a)/((x − a)² + z²) in the same units.
func nullBeside(depth float64, wires []beside) float64 {
	var x float64
	for _, w := range wires {
		x += w.share * w.across / (sq(w.across) + sq(w.depth))
	}
	return sq(depth) * x
}
