package compare_test

import (
	"math"
	"testing"

	"tracemap/compare"
)

// residuals are published check points: east, north, height, m.
type residuals struct{ e, n, h []float64 }

func rms(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum / float64(len(v)))
}

// Q. Abdullah, "Mapping Matters", PE&RS, May 2014, p. 397, tables 2 and 3: seven
// check points. The page prints standard deviations 0.075, 0.073, 0.030; the
// root mean squares and 95 % figures are computed from its residuals by
// FGDC-STD-007.3-1998, appendix 3-A.
var abdullah = residuals{
	[]float64{-.060, .100, -.060, -.112, -.120, -.100, -.060},
	[]float64{.080, -.045, .080, .007, .150, -.045, .080},
	[]float64{.055, -.006, -.017, .042, -.011, .013, .048},
}

// ASPRS Positional Accuracy Standards, edition 1 (2014), annex D: five check
// points; residuals from memory, and they fit its printed .147, 0.255, 0.160.
var annexD = residuals{
	[]float64{-.140, -.100, .017, -.070, .130},
	[]float64{-.070, -.100, -.070, .150, .120},
	[]float64{-.071, .010, .102, -.100, .087},
}

func TestPublishedAccuracies(t *testing.T) {
	const digits = 0.00006 // m: half of the last digit given
	x, y, z := rms(abdullah.e), rms(abdullah.n), rms(abdullah.h)
	near(t, "RMSE x", x, 0.0908, digits)
	near(t, "RMSE y", y, 0.0809, digits)
	near(t, "RMSE z", z, 0.0332, digits)
	h, within := compare.NSSDAHorizontal(x, y)
	near(t, "horizontal, unequal axes", h, 0.2101, digits)
	if !within {
		t.Error("a ratio of 0.89 is within the standard")
	}
	equal := math.Hypot(x, y) / math.Sqrt2
	h, _ = compare.NSSDAHorizontal(equal, equal)
	near(t, "horizontal, 1.7308 RMSEr", h, 0.2105, digits)
	near(t, "vertical", compare.NSSDAVertical(z), 0.0650, digits)
	// With 0.02 m of the check points' own error, edition 2.
	near(t, "edition 2, horizontal", compare.ASPRS2(math.Hypot(x, y), 0.02), 0.1233, digits)
	near(t, "edition 2, vertical", compare.ASPRS2(z, 0.02), 0.0387, digits)
	near(t, "edition 2, 3-D", math.Hypot(compare.ASPRS2(math.Hypot(x, y), 0.02), compare.ASPRS2(z, 0.02)), 0.1292, digits)

	x, y, z = rms(annexD.e), rms(annexD.n), rms(annexD.h)
	near(t, "annex D RMSEr", math.Hypot(x, y), 0.1472, digits)
	equal = math.Hypot(x, y) / math.Sqrt2
	h, _ = compare.NSSDAHorizontal(equal, equal)
	near(t, "annex D horizontal", h, 0.2548, digits)
	near(t, "annex D vertical", compare.NSSDAVertical(z), 0.1595, digits)

	// USGS lidar report, Barataria 2013, 51 open-terrain points: RMSEz 0.0574002 m
	// gives 0.1125044 m.
	near(t, "Barataria", compare.NSSDAVertical(0.0574002), 0.1125044, 1e-7)
}

// Where the standard has no formula the figure is on the safe side of the true
// radius, which is by numerical integration 2.005 and 1.970 of the larger σ at
// ratios 0.4 and 0.2 (computed with SciPy from the distribution of the radius of
// two independent normal variables).
func TestElongatedErrors(t *testing.T) {
	for ratio, exact := range map[float64]float64{0.4: 2.005, 0.2: 1.970} {
		h, within := compare.NSSDAHorizontal(1, ratio)
		if within || h < exact {
			t.Errorf("ratio %v: %v, within %v; want at least %v and not within", ratio, h, within, exact)
		}
	}
	if h, _ := compare.NSSDAHorizontal(0, 0); h != 0 {
		t.Errorf("no error gives %v", h)
	}
}
