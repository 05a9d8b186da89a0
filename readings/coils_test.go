package readings_test

import (
	"fmt"
	"math"
	"testing"

	"tracemap/readings"
	"tracemap/remarks"
)

const mu0 = 4 * math.Pi * 1e-7 // T·m/A

// wireField is the field in T at a distance of a wire that is long but finite,
// summed piece by piece by the law of Biot and Savart: it shares nothing with
// the closed formula under test.
func wireField(distance, current float64) float64 {
	const half, step = 2000.0, 0.005 // m
	sum := 0.0
	for z := step / 2; z < half; z += step {
		r2 := z*z + distance*distance
		sum += 2 * step * distance / (r2 * math.Sqrt(r2))
	}
	return mu0 / (4 * math.Pi) * current * sum
}

func TestLineDepthAgainstBiotSavart(t *testing.T) {
	for _, depth := range []float64{0.4, 1.2, 3} {
		const spacing, current = 0.4, 0.1 // m, A
		bottom, top := wireField(depth, current), wireField(depth+spacing, current)
		if got := readings.LineDepth(bottom, top, spacing); math.Abs(got-depth) > 1e-4 { // m: the sum's step and ends
			t.Errorf("depth = %.6f, want %v", got, depth)
		}
		if got := readings.LineCurrent(depth, bottom*1e9); math.Abs(got-100) > 1e-2 { // mA: likewise
			t.Errorf("current at %v m = %.4f mA, want 100", depth, got)
		}
	}
}

// The worked example of an infinite wire 1.2 m deep with 100 mA, coils 0.4 m
// apart: 50/3 nT and 12.5 nT (Biot–Savart, B = µ0·I/2πr, by hand); and what 1 %
// of one coil makes of it.
func TestLineDepthWorkedExample(t *testing.T) {
	for _, c := range []struct{ bottom, top, want float64 }{
		{50. / 3, 12.5, 1.2},
		{50. / 3 * 1.01, 12.5, 1.1538},
		{50. / 3, 12.5 * 1.01, 1.2495},
	} {
		if got := readings.LineDepth(c.bottom, c.top, 0.4); math.Abs(got-c.want) > 5e-5 { // m: the example's last figure
			t.Errorf("LineDepth(%v, %v, 0.4) = %.5f, want %v", c.bottom, c.top, got, c.want)
		}
	}
	if got := readings.LineCurrent(1.2, 50./3); math.Abs(got-100) > 1e-9 {
		t.Errorf("LineCurrent(1.2, 50/3) = %v mA, want 100", got)
	}
}

// A sonde is a pair of near poles: their field along the axis between, from
// Coulomb's law of poles, again not the formula under test. At 1.2 m the ratio
// of two coils 0.4 m apart is (1.6/1.2)³ = 2.3704.
func TestSondeDepthAgainstTwoPoles(t *testing.T) {
	field := func(height float64) float64 {
		const half = 0.001 // m, half the distance of the poles
		r2 := height*height + half*half
		return 2 * half / (r2 * math.Sqrt(r2))
	}
	for _, depth := range []float64{0.5, 1.2, 4} {
		if got := readings.SondeDepth(field(depth), field(depth+0.4), 0.4); math.Abs(got-depth) > 1e-4 { // m: (half/depth)²
			t.Errorf("depth = %.6f, want %v", got, depth)
		}
	}
	ratio := math.Pow(1.6/1.2, 3)
	if math.Abs(ratio-2.3704) > 5e-5 {
		t.Errorf("ratio = %v, want 2.3704", ratio)
	}
	if got := readings.LineDepth(ratio, 1, 0.4); math.Abs(got-0.292) > 5e-4 {
		t.Errorf("a sonde read as a line = %.4f m, want 0.292", got)
	}
	if got := readings.SondeDepth(1.6/1.2, 1, 0.4); math.Abs(got-3.97) > 5e-3 {
		t.Errorf("a line read as a sonde = %.4f m, want 3.97", got)
	}
}

func TestCoilsThatAreNoLineBelow(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range [][3]float64{{1, 1, 0.4}, {1, 2, 0.4}, {1, 0, 0.4}, {1, -1, 0.4}, {-1, -2, 0.4}, {2, 1, 0}, {2, 1, -0.4}, {inf, 1, 0.4}, {nan, 1, 0.4}, {2, nan, 0.4}, {2, 1, nan}} {
		if got := readings.LineDepth(c[0], c[1], c[2]); !math.IsNaN(got) {
			t.Errorf("LineDepth%v = %v, want NaN", c, got)
		}
		if got := readings.SondeDepth(c[0], c[1], c[2]); !math.IsNaN(got) {
			t.Errorf("SondeDepth%v = %v, want NaN", c, got)
		}
	}
}

// Coils decide over the logged depth, in any unit; the current needs a known
// one.
func TestCoilColumns(t *testing.T) {
	for _, c := range []struct {
		suffix      string
		scale       float64
		wantCurrent float64
	}{
		{"_nt", 1, 100}, {"_pt", 1000, 100}, {"_ut", 1e-3, 100}, {"", 7.3, math.NaN()},
	} {
		text := fmt.Sprintf("time,depth_m,bottom_coil%s,top_coil%s,coil_spacing_m\n2026-03-05T08:00:00Z,1.21,%v,%v,0.4\n",
			c.suffix, c.suffix, 50./3*c.scale, 12.5*c.scale)
		r := only(t, read(t, text, readings.Options{}))
		if math.Abs(r.CoilDepth-1.2) > 1e-9 || r.BestDepth() != r.CoilDepth || r.Depth != 1.21 {
			t.Errorf("coil%s: coil depth %v, best %v, logged %v; want 1.2, 1.2, 1.21", c.suffix, r.CoilDepth, r.BestDepth(), r.Depth)
		}
		if diff := math.Abs(r.CoilCurrent - c.wantCurrent); diff > 1e-6 || math.IsNaN(r.CoilCurrent) != math.IsNaN(c.wantCurrent) {
			t.Errorf("coil%s: current = %v, want %v", c.suffix, r.CoilCurrent, c.wantCurrent)
		}
		if r.Flags != 0 {
			t.Errorf("coil%s: flags = %v, want none", c.suffix, r.Flags)
		}
	}
}

// The standard deviation of a depth from two coils of 1 % each, 0.4 m apart, is
// 5.7 % at 1.2 m (propagated by hand through d = s·Bt/(Bb − Bt)): 0.068 m, with
// the display's 0.03 m 0.074 m, of which 1.96 times is 0.146 m.
func TestCoilsDisagree(t *testing.T) {
	for _, c := range []struct {
		depth, current float64
		want           bool
	}{
		{1.2, 100, false}, {1.34, 100, false}, {1.35, 100, true}, {1.06, 100, false}, {1.05, 100, true},
		{1.2, 114, false}, {1.2, 116, true}, {1.2, 84, true},
	} {
		text := fmt.Sprintf("time,depth_m,current_ma,bottom_coil_nt,top_coil_nt,coil_spacing_m\n2026-03-05T08:00:00Z,%v,%v,%v,12.5,0.4\n",
			c.depth, c.current, 50./3)
		if got := only(t, read(t, text, readings.Options{})).Flags.Has(remarks.CoilsDisagree); got != c.want {
			t.Errorf("logged %v m, %v mA: disagree = %v, want %v", c.depth, c.current, got, c.want)
		}
	}
}
