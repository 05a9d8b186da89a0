package compare

import (
	"math"
	"slices"

	"tracemap/present"
)

// quantile gives the p-quantile of ascending values by linear interpolation
// between order statistics (R. Hyndman and Y. Fan, Am. Stat. 50, 1996, type 7);
// NaN for none.
func quantile(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	at := p * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-1)
	j := min(i+1, len(sorted)-1)
	return sorted[i] + (at-float64(i))*(sorted[j]-sorted[i])
}

// median gives the middle of values; NaN for none.
func median(values []float64) float64 {
	return quantile(sorted(values), 0.5)
}

// lerp is the value at fraction t of the way from a to b.
func lerp(a, b, t float64) float64 { return a + t*(b-a) }

func sorted(values []float64) []float64 {
	v := slices.DeleteFunc(slices.Clone(values), func(x float64) bool { return !present.Known(x) })
	slices.Sort(v)
	return v
}
