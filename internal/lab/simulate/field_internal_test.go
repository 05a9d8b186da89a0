package simulate

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.6g, want %.6g ± %g", what, got, want, tolerance)
	}
}

// integrate sums the law of Biot and Savart, dB = µ0 I/4π · dl × r / r³, over
// many short pieces: the definition itself, with the midpoint rule.
func integrate(f filament, at vec, pieces int) vec {
	var sum vec
	d := f.b.sub(f.a)
	for k := range pieces {
		t := (float64(k) + 0.5) / float64(pieces)
		var r, dl vec
		for i := range 3 {
			dl[i] = d[i] / float64(pieces)
			r[i] = at[i] - (f.a[i] + t*d[i])
		}
		c := dl.cross(r)
		cube := math.Pow(r.dot(r), 1.5)
		for i := range 3 {
			sum[i] += 0.1 * f.current * c[i] / cube
		}
	}
	return sum
}

func TestFieldAgainstIntegration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Float64Range(-8, 8)
		f := filament{
			a:       vec{coordinate.Draw(t, "a0"), coordinate.Draw(t, "a1"), rapid.Float64Range(-4, -0.8).Draw(t, "a2")},
			b:       vec{coordinate.Draw(t, "b0"), coordinate.Draw(t, "b1"), rapid.Float64Range(-4, -0.8).Draw(t, "b2")},
			current: rapid.Float64Range(-100, 100).Draw(t, "I"),
		}
		at := vec{coordinate.Draw(t, "p0"), coordinate.Draw(t, "p1"), rapid.Float64Range(0, 1).Draw(t, "p2")}
		got, want := fieldOf([]filament{f}, at), integrate(f, at, 4000)
		for i := range 3 {
			// The midpoint rule is off by h²/24·f″: below 1e-4 of the field with
			// pieces of 6 mm at 0.8 m.
			if math.Abs(got[i]-want[i]) > 1e-6+1e-4*math.Sqrt(want.dot(want)) {
				t.Fatalf("component %d: got %g nT, integrated %g nT", i, got[i], want[i])
			}
		}
	})
}

// across is a section over straight wires that run north: x is to the west.
func across(spacing float64, wires ...[3]float64) section { // x, depth, current
	c := section{left: vec{-1, 0, 0}, spacing: spacing}
	const far = 1e4 // m: what lies beyond adds 1e-8
	for _, w := range wires {
		c.wires = append(c.wires, filament{a: vec{-w[0], -far, -w[1]}, b: vec{-w[0], far, -w[1]}, current: w[2]})
	}
	return c
}

// The worked example of a textbook wire, B = µ0 I/2πr with µ0/2π = 2e-7 T·m/A:
// at 1.2 m below the lower coil, coils 0.4 m apart, 100 mA.
func TestTwoCoils(t *testing.T) {
	c := across(0.4, [3]float64{0, 1.2, 100})
	bottom, top, vertical := c.coils(0)
	near(t, "bottom coil, nT", math.Abs(bottom), 16.6667, 1e-4) // as printed
	near(t, "top coil, nT", math.Abs(top), 12.5, 1e-4)
	near(t, "vertical, nT", vertical, 0, 1e-9)
	depth, current := c.measure(0)
	near(t, "depth, m", depth, 1.2, 1e-6) // the wire is 20 km long
	near(t, "current, mA", current, 100, 1e-4)
	for _, x := range []float64{-2.3, -0.4, 0.7, 1.2, 3} {
		bottom, _, vertical = c.coils(x)
		r2 := x*x + 1.2*1.2
		near(t, "horizontal k·I·d/(x²+d²)", math.Abs(bottom), 0.2*100*1.2/r2, 1e-5)
		near(t, "vertical k·I·x/(x²+d²)", math.Abs(vertical), 0.2*100*math.Abs(x)/r2, 1e-5)
	}
}

// Off the line a pair reads deep: d 1, s 0.4 gives 1.017 at 0.1 d and 1.071 at
// 0.2 d, from s·Bh(d+s)/(Bh(d) − Bh(d+s)).
func TestOffTheLineReadsDeep(t *testing.T) {
	c := across(0.4, [3]float64{0, 1, 100})
	for x, want := range map[float64]float64{0: 1, 0.1: 1.017, 0.2: 1.071} {
		got, _ := c.measure(x)
		near(t, "depth", got, want, 0.0006) // three decimals
	}
}

// Widths of the response in multiples of the depth, from the closed formulas:
// single coil d√(1/r − 1) to either side, total field d√(1/r² − 1).
func TestWidthOfResponse(t *testing.T) {
	c := across(0.25, [3]float64{0, 1, 100})
	full := func(coil Coil, level float64) float64 {
		peak := c.response(coil, 0)
		return 2 * bisect(func(x float64) float64 { return c.response(coil, x) - level*peak }, 0, 3)
	}
	near(t, "single 80 %", full(Single, 0.8), 1.000, 0.001)
	near(t, "single 50 %", full(Single, 0.5), 2.000, 0.001)
	near(t, "total 80 %", full(Total, 0.8), 1.500, 0.001)
	near(t, "total 50 %", full(Total, 0.5), 3.464, 0.001)
	// Differential with s/d = 0.25, computed from the two single coils.
	bisectCrosses := func(level float64) float64 {
		peak := c.response(Differential, 0)
		return 2 * bisect(func(x float64) float64 { return c.response(Differential, x) - level*peak }, 0, 1)
	}
	near(t, "differential 80 %", bisectCrosses(0.8), 0.609, 0.001)
	near(t, "differential 50 %", bisectCrosses(0.5), 1.080, 0.001)
}

// A second wire at b with a share f of the current, d = d2 = 1 unless said, coils
// 0.4 m apart: positions of the peaks and of the null, and depth and current at
// the single coil's peak, found by solving the two-wire field for its roots.
func TestSecondWire(t *testing.T) {
	cases := []struct{ b, d, d2, f, diff, single, null, depth, current float64 }{
		{1, 1, 1, -0.25, -0.033, -0.059, -0.126, 0.859, 0.755},
		{1, 1, 1, 0.25, 0.039, 0.067, 0.126, 1.142, 1.290},
		{1, 1, 1, -0.5, -0.062, -0.114, -0.260, 0.719, 0.549},
		{1, 1, 1, -1, -0.113, -0.217, -0.618, 0.445, 0.246},
		{2, 1, 1, -0.25, -0.0005, -0.020, -0.098, 0.892, 0.848},
		{2, 1, 1, -1, -0.002, -0.075, -0.414, 0.616, 0.497},
		{1.5, 1.2, 0.9, -0.3, -0.016, -0.069, -0.204, 0.972, 0.727},
	}
	for _, k := range cases {
		c := across(0.4, [3]float64{0, k.d, 1}, [3]float64{k.b, k.d2, k.f})
		near(t, "differential peak", c.peak(Differential, 1.5), k.diff, 0.001)
		single := c.peak(Single, 1.5)
		near(t, "single peak", single, k.single, 0.001)
		near(t, "null", c.peak(Vertical, 1.5), k.null, 0.001)
		depth, current := c.measure(single)
		near(t, "depth", depth, k.depth, 0.002)
		near(t, "current", current, k.current, 0.002)
	}
}

// To first order in f: null f·b·d²/D², single peak f·b·d2·d³/D⁴, with
// D² = b² + d2².
func TestSecondWireFirstOrder(t *testing.T) {
	for _, k := range [][3]float64{{1, 1, 1}, {1.5, 1.2, 0.9}, {0.7, 1, 2}, {2, 1, 0.5}} {
		b, d, d2, f := k[0], k[1], k[2], 0.001
		D2 := b*b + d2*d2
		c := across(1e-3, [3]float64{0, d, 1}, [3]float64{b, d2, f})
		near(t, "null", c.peak(Vertical, 1.5), f*b*d*d/D2, 3e-6) // second order in f
		near(t, "single peak", c.peak(Single, 1.5), f*b*d2*d*d*d/(D2*D2), 3e-6)
	}
}

// A wire that ends at 0, seen at 4, 3, 2, 1 m before the end, d 1, s 0.4:
// B × ½(1 + u/√(u²+d²)) and the depth of the pair.
func TestEndReadsShallow(t *testing.T) {
	for u, want := range map[float64][2]float64{4: {0.985, 0.955}, 3: {0.974, 0.928}, 2: {0.947, 0.874}, 1: {0.854, 0.782}} {
		c := section{left: vec{-1, 0, 0}, spacing: 0.4,
			wires: []filament{{a: vec{0, -1e4, -1}, b: vec{0, u, -1}, current: 100}}}
		bottom, _, _ := c.coils(0)
		near(t, "field ÷ that of a long wire", math.Abs(bottom)/20, want[0], 0.0006)
		depth, _ := c.measure(0)
		near(t, "depth", depth, want[1], 0.0006)
	}
}

// A right angle: on the incoming leg depth errs as at an end, the peak stays,
// and the null moves outwards by 0.15, 0.20, 0.26 d at 3, 2, 1 d before it.
func TestRightAngle(t *testing.T) {
	for u, want := range map[float64]float64{3: 0.15, 2: 0.20, 1: 0.26} {
		c := section{left: vec{-1, 0, 0}, spacing: 0.4, wires: []filament{
			{a: vec{0, -1e4, -1}, b: vec{0, u, -1}, current: 100},
			{a: vec{0, u, -1}, b: vec{-1e4, u, -1}, current: 100}, // to the left
		}}
		near(t, "peak", c.peak(Differential, 1.5), 0, 1e-4)
		near(t, "null, outwards", -c.peak(Vertical, 1.5), want, 0.006)
	}
}

// A line sloping by β reads its vertical depth, and a current of I/cos β when
// the coil is across: here the wire of a whole Line is used, with its stations.
func TestSlopingLine(t *testing.T) {
	p := newPen(inStreet(0, 0), 30).straight(400)
	l := &Line{Path: p.path, Current: 50, Onward: [2]bool{true, true}}
	for _, s := range l.Path.Stations {
		l.Depth = append(l.Depth, 1.5+0.1*(s-200)/10)
	}
	c := l.section(200, 0.4)
	depth, current := c.measure(0)
	near(t, "depth, m", depth, 1.5, 0.0005) // 100 depths of wire to either side
	near(t, "current, mA", current, 50/math.Cos(math.Atan(0.01)), 0.1)
}
