package fuse

import (
	"math"
	"testing"

	"tracemap/fuse/noise"
)

// horizontal is the field across a straight filament along x between two
// stations, at height h above its line and station x, in units of µ0·I/2π:
// Biot–Savart, dB = µ0·I/4π · h du/((x−u)² + h²)^{3/2}, by Simpson's rule over v
// with u − x = h·sinh v, which follows the near part closely.
func horizontal(x, h, from, to float64) float64 {
	const n = 2000
	f := func(v float64) float64 { return 1 / (h * math.Cosh(v) * math.Cosh(v)) }
	return simpson(f, math.Asinh((from-x)/h), math.Asinh((to-x)/h), n) / 2
}

func simpson(f func(float64) float64, from, to float64, n int) float64 {
	step := (to - from) / float64(n)
	sum := f(from) + f(to)
	for k := 1; k < n; k++ {
		sum += f(from+step*float64(k)) * float64(2+2*(k%2))
	}
	return sum * step / 3
}

// pairDepth is what two coils s apart, the lower at height d over the line, take
// the depth for.
func pairDepth(field func(height float64) float64, d, s float64) float64 {
	bottom, top := field(d), field(d+s)
	return s * top / (bottom - top)
}

// The integral itself: an endless filament gives 1/d, an end right below half of
// it, and the finite one the closed form (Griffiths, Introduction to
// Electrodynamics, example 5.5: B = µ0·I/4πs · (sin θ2 − sin θ1)).
func TestFilament(t *testing.T) {
	for _, d := range []float64{0.5, 1, 2} {
		if got := horizontal(0, d, -2000, 2000); math.Abs(got*d-1) > 1e-5 {
			t.Errorf("endless, %v m deep: %v of 1/d", d, got*d)
		}
		for _, x := range []float64{-3, -1, 0, 2} {
			sine := func(u float64) float64 { return (u - x) / math.Hypot(u-x, d) }
			if got, want := horizontal(x, d, -200, 0), (sine(0)-sine(-200))/2/d; math.Abs(got/want-1) > 1e-6 {
				t.Errorf("ending, at %v: %v, want %v", x, got, want)
			}
		}
	}
	// Worked example: 100 mA at 1.2 m, coils 0.4 m apart, 16.667 and 12.5 nT.
	if got := pairDepth(func(h float64) float64 { return 1 / h }, 1.2, 0.4); math.Abs(got-1.2) > 1e-12 {
		t.Errorf("two coils over an endless line at 1.2 m read %v", got)
	}
}

// How shallow a depth reads before an end and before a right angle, against the
// field of the filament: the formula in use meets it within 2.5 % of the depth
// from one depth off to where it no longer matters.
func TestBendShareIsBiotSavart(t *testing.T) {
	const s = 0.4
	for _, d := range []float64{0.7, 1, 1.5} {
		for _, away := range []float64{1, 1.5, 2, 3, 4, 6, 8} {
			x := -away * d
			end := pairDepth(func(h float64) float64 { return horizontal(x, h, -500, 0) }, d, s)
			want := 1 - end/d
			// A right angle ends its leg: the other leg's field is along this one at
			// every place over it and induces nothing across.
			got := bendShare([]bend{{station: 0, turn: math.Pi / 2}}, x, d)
			if math.Abs(got-want) > 0.025 {
				t.Errorf("%v m deep, %v depths before the end: %.3f shallow, Biot–Savart has %.3f", d, away, got, want)
			}
		}
	}
	if got := bendShare(nil, 0, 1); got != 0 {
		t.Errorf("no bend: %v", got)
	}
	// Sharper bends do more, farther ones less, and none more than an end.
	last := 0.0
	for turn := 0.0; turn <= math.Pi; turn += 0.1 {
		got := bendShare([]bend{{station: 3, turn: turn}}, 2, 1)
		if got < last || got > bendShare([]bend{{station: 3, turn: math.Pi}}, 2, 1) {
			t.Errorf("turn of %.1f: %v, a smaller one %v", turn, got, last)
		}
		last = got
		if left := bendShare([]bend{{station: 3, turn: -turn}}, 2, 1); left != got {
			t.Errorf("turn of %.1f: %v to the left, %v to the right", turn, left, got)
		}
	}
}

// bentField is the field across the first leg – from minus infinity along x to 0 –
// of a line that turns there by an angle and goes on, by summing Biot–Savart over
// both legs.
func bentField(x, h, turn float64) float64 {
	first := horizontal(x, h, -500, 0)
	// The second leg: dl = (cos, sin)du from the corner. Only its part along x
	// makes a field across x at height h: B_y = µ0I/4π · h·cos(turn)/r³.
	const reach = 500.0
	sin, cos := math.Sincos(turn)
	// u = reach·v² follows the near part closely.
	f := func(v float64) float64 {
		u := reach * v * v
		dx, dy := x-u*cos, -u*sin
		return h * cos / math.Pow(dx*dx+dy*dy+h*h, 1.5) * 2 * reach * v
	}
	return first + simpson(f, 0, 1, 20000)/2
}

// Bends of less than a right angle against both legs' fields, one depth away and
// beyond: the formula claims too little by less than 3 % of the depth and too much
// by less than 6 %.
func TestBendsOfFittings(t *testing.T) {
	const d, s = 1.0, 0.4
	for _, degrees := range []float64{11.25, 22.5, 45, 60, 90} {
		for _, away := range []float64{1, 2, 3, 5} {
			want := 1 - pairDepth(func(h float64) float64 { return bentField(-away, h, degrees*math.Pi/180) }, d, s)/d
			got := bendShare([]bend{{station: 0, turn: degrees * math.Pi / 180}}, -away, d)
			if got < want-0.03 || got > want+0.06 {
				t.Errorf("%v°, %v depths away: %.3f shallow, Biot–Savart has %.3f", degrees, away, got, want)
			}
		}
	}
}

// By how much a bend lowers the logged current, which is that of the depth read:
// I ∝ depth · B. Against Biot–Savart within a tenth of ln(current), one depth off
// and beyond.
func TestBendCurrentIsBiotSavart(t *testing.T) {
	const d, s = 1.0, 0.4
	for _, away := range []float64{1, 1.5, 2, 3, 4} {
		field := func(h float64) float64 { return horizontal(-away, h, -500, 0) }
		depth := pairDepth(field, d, s)
		want := -math.Log(depth * field(d))
		got := noise.BendCurrent * bendShare([]bend{{station: 0, turn: math.Pi / 2}}, -away, d)
		if math.Abs(got-want) > 0.1 {
			t.Errorf("%v depths before the end: ln(current) lower by %.3f, Biot–Savart has %.3f", away, got, want)
		}
	}
}

// Peak and null apart beside a quarter of the current flowing back a depth away:
// the depth reads 14 % shallow (two filaments, coils 0.4 m apart), which the σ of
// such a depth covers.
func TestPeakNullApart(t *testing.T) {
	const d, b, f = 1.0, 1.0, -0.25
	across := func(x, h float64) float64 { return h/(x*x+h*h) + f*h/((x-b)*(x-b)+h*h) }
	peak, best := 0.0, math.Inf(-1)
	for x := -0.5; x < 0.5; x += 1e-4 {
		if v := across(x, d); v > best {
			peak, best = x, v
		}
	}
	depth := pairDepth(func(h float64) float64 { return across(peak, h) }, d, 0.4)
	if math.Abs(depth-0.859) > 0.002 || math.Abs(peak+0.059) > 0.001 {
		t.Errorf("peak at %.3f m, depth %.3f m", peak, depth)
	}
	if noise.DepthApart < 1-depth {
		t.Errorf("σ of such a depth %v of it, less than the error %v", noise.DepthApart, 1-depth)
	}
}

// What a depth beside a bend is corrected by, against the sum of both legs' fields by
// Simpson's rule: within 0.5 % of the depth for fittings of 11.25° to 90° from a
// quarter of the depth on, less than that nearer, where the bend's place is not known.
func TestBendsAreCorrectedByBiotSavart(t *testing.T) {
	for _, d := range []float64{0.7, 1, 2} {
		for _, degrees := range []float64{11.25, 22.5, 45, 90} {
			turn := degrees * math.Pi / 180
			for _, away := range []float64{0.25, 0.5, 1, 2, 4} {
				want := 1 - pairDepth(func(h float64) float64 { return bentField(-away*d, h, turn) }, d, coilsApart)/d
				if got := shallowBefore(away*d, d, math.Cos(turn)); math.Abs(got-want) > 0.005 {
					t.Errorf("%v°, %v m deep, %v depths away: %.4f shallow, the fields' sum has %.4f", degrees, d, away, got, want)
				}
			}
		}
	}
	if share, doubt := shallowBeside(nil, 3, 1); share != 0 || doubt != 0 {
		t.Errorf("no bend: %v ± %v", share, doubt)
	}
	// Nobody knows what lies behind an end: no correction, all of it σ.
	if share, doubt := shallowBeside([]bend{{station: 0, turn: 1, end: true}}, 1, 1); share != 0 || doubt < 0.1 {
		t.Errorf("one depth before an end: %v ± %v", share, doubt)
	}
}
