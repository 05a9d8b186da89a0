package simulate

import "math"

// vec is a vector: east, north, up, metres. The ground is at up = 0.
type vec [3]float64

func (a vec) sub(b vec) vec { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

func (a vec) dot(b vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func (a vec) cross(b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// A filament is a straight piece of a thin wire with a current flowing from a
// to b, mA.
type filament struct {
	a, b    vec
	current float64
}

// fieldOf gives the magnetic flux density of filaments at a place, nT. The law
// of Biot and Savart for a straight piece, integrated: with r1, r2 the vectors
// from its ends to the place,
//
//	B = µ0 I/4π · (r1 × r2)(|r1| + |r2|) / (|r1||r2|(|r1||r2| + r1·r2))
//
// µ0/4π = 1e-7 T·m/A = 0.1 nT·m/mA. The soil is taken as non-magnetic and the
// return current as far away.
func fieldOf(wires []filament, at vec) vec {
	var sum vec
	for i := range wires {
		r1, r2 := at.sub(wires[i].a), at.sub(wires[i].b)
		l1, l2 := math.Sqrt(r1.dot(r1)), math.Sqrt(r2.dot(r2))
		k := 0.1 * wires[i].current * (l1 + l2) / (l1 * l2 * (l1*l2 + r1.dot(r2)))
		c := r1.cross(r2)
		sum[0] += k * c[0]
		sum[1] += k * c[1]
		sum[2] += k * c[2]
	}
	return sum
}

// A section is the vertical plane across a line in which the locator is swept:
// foot is the place on the ground above the line, left the unit vector to its
// left.
type section struct {
	wires      []filament
	foot, left vec
	spacing    float64 // of the two coils, m
}

// coils gives the fields across the line, nT, at the bottom coil on the ground
// and at the top one, at an offset x to the left; and the vertical field.
func (c *section) coils(x float64) (bottom, top, vertical float64) {
	at := vec{c.foot[0] + x*c.left[0], c.foot[1] + x*c.left[1], 0}
	low := fieldOf(c.wires, at)
	at[2] = c.spacing
	high := fieldOf(c.wires, at)
	return low.dot(c.left), high.dot(c.left), low[2]
}

// A Coil is the arrangement that the operator points with.
type Coil uint8

const (
	// Differential is the difference of two horizontal coils: a narrow peak, moved
	// least by neighbours.
	Differential Coil = iota
	// Single is one horizontal coil: a broader peak.
	Single
	// Vertical is the vertical coil: a null over the line.
	Vertical
	// Total is the size of the whole field, whatever its direction.
	Total
)

func (c *section) response(coil Coil, x float64) float64 {
	bottom, top, vertical := c.coils(x)
	switch coil {
	case Single:
		return math.Abs(bottom)
	case Vertical:
		return -math.Abs(vertical)
	case Total:
		return math.Hypot(bottom, vertical)
	}
	return math.Abs(bottom) - math.Abs(top)
}

// peak gives the offset of the coil's peak (or the null, for Vertical) that a
// sweep starting over the line leads to, within reach metres.
func (c *section) peak(coil Coil, reach float64) float64 {
	if coil == Vertical {
		return c.null(reach)
	}
	const step = 0.02
	x, here := 0.0, c.response(coil, 0)
	way := step
	next := c.response(coil, way)
	if other := c.response(coil, -way); other > next {
		way, next = -way, other
	}
	for next > here && math.Abs(x) < reach {
		x, here = x+way, next
		next = c.response(coil, x+way)
	}
	before := c.response(coil, x-way)
	bow := before - 2*here + next // parabola through the last three
	if bow >= 0 {
		return x
	}
	return x + way*0.5*(before-next)/bow
}

// null gives the zero of the vertical field nearest to the line; reach when
// there is none.
func (c *section) null(reach float64) float64 {
	vertical := func(x float64) float64 { _, _, v := c.coils(x); return v }
	const step = 0.05
	here := vertical(0)
	for d := step; d <= reach; d += step {
		for _, x := range []float64{d, -d} {
			if vertical(x)*here <= 0 {
				return bisect(vertical, x-math.Copysign(step, x), x)
			}
		}
	}
	return math.NaN()
}

// bisect finds the zero of f between a and b.
func bisect(f func(float64) float64, a, b float64) float64 {
	fa := f(a)
	for range 30 {
		m := (a + b) / 2
		if fm := f(m); fm*fa > 0 {
			a, fa = m, fm
		} else {
			b = m
		}
	}
	return (a + b) / 2
}

// measure gives what two coils make of the field at an offset: depth below the
// bottom coil, m, d = s·Bt/(Bb − Bt), and current, mA, I = 2π d Bb/µ0.
func (c *section) measure(x float64) (depth, current float64) {
	bottom, top, _ := c.coils(x)
	bottom, top = math.Abs(bottom), math.Abs(top)
	depth = c.spacing * top / (bottom - top)
	return depth, depth * bottom / 0.2 // µ0/2π = 0.2 nT·m/mA
}
