package otherdays

import "math"

// coilSpacing is the distance of the locator's two coils, the lower of which
// stands on the ground, m.
const coilSpacing = 0.4

type vector struct{ x, y, z float64 }

// A wire is a straight piece of conductor from a to b; z is up, the ground 0.
type wire struct {
	a, b vector
	ma   float64
}

// field returns the flux density at p of all wires, nT: Biot–Savart of finite
// straight filaments, B = μ0 I/4π · (r1 × r2)(1/|r1| + 1/|r2|)/(|r1||r2| + r1·r2),
// in any textbook of electromagnetism.
func field(wires []wire, p vector) vector {
	var sum vector
	for _, w := range wires {
		r1 := vector{p.x - w.a.x, p.y - w.a.y, p.z - w.a.z}
		r2 := vector{p.x - w.b.x, p.y - w.b.y, p.z - w.b.z}
		l1 := math.Sqrt(r1.x*r1.x + r1.y*r1.y + r1.z*r1.z)
		l2 := math.Sqrt(r2.x*r2.x + r2.y*r2.y + r2.z*r2.z)
		k := 0.1 * w.ma * (l1 + l2) / (l1 * l2 * (l1*l2 + r1.x*r2.x + r1.y*r2.y + r1.z*r2.z))
		sum.x += k * (r1.y*r2.z - r1.z*r2.y)
		sum.y += k * (r1.z*r2.x - r1.x*r2.z)
		sum.z += k * (r1.x*r2.y - r1.y*r2.x)
	}
	return sum
}

// coils returns what the two coils show at a place, nT; their axis is
// horizontal and lies along across.
func coils(wires []wire, at, across spot) (bottom, top float64) {
	b := field(wires, vector{at.e, at.n, 0})
	t := field(wires, vector{at.e, at.n, coilSpacing})
	return math.Abs(b.x*across.e + b.y*across.n), math.Abs(t.x*across.e + t.y*across.n)
}

// measured returns the depth and the current that two coils give for one long
// wire: d = s·Bt/(Bb − Bt), I = d·Bb·2π/μ0.
func measured(bottom, top float64) (depth, ma float64) {
	depth = coilSpacing * top / (bottom - top)
	return depth, depth * bottom / 0.2
}

// peak returns how far to the left of at, within reach on either side, the
// response is greatest: that of the difference of both coils, or of the lower
// one alone.
func peak(wires []wire, at, left spot, reach float64, single bool) float64 {
	response := func(x float64) float64 {
		b, t := coils(wires, at.plus(left, x), left)
		if single {
			return b
		}
		return b - t
	}
	// Uphill from the middle first: a neighbour's own peak is not ours.
	x, step := 0.0, reach/8
	best := response(0)
	for range 8 {
		switch l, r := response(x-step), response(x+step); {
		case l > best && l >= r:
			x, best = x-step, l
		case r > best:
			x, best = x+step, r
		default:
			step /= 3
		}
	}
	// The top of a parabola through three points.
	l, r := response(x-step), response(x+step)
	if bend := l - 2*best + r; bend < 0 {
		x += 0.5 * step * (l - r) / bend
	}
	return x
}
