package present

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// A number is written as the standard library writes it at its shortest, rounded or
// not, and without an exponent.
func TestAppendNumberIsShortest(t *testing.T) {
	for _, v := range []float64{0, math.Copysign(0, -1), 1, -1, 0.1, -0.05, 1e-9, -4e-10, 5e-324, 0.1 + 0.2, 180, -179.999999999, 999999.999999999, 1e6, 1000000.5, 4503599627370497.5, 1e21, math.MaxFloat64, math.Inf(1), math.NaN()} {
		sameNumber(t, v)
	}
	rapid.Check(t, func(t *rapid.T) {
		sameNumber(t, rapid.Float64().Draw(t, "any"))
		v := rapid.Float64Range(-2e6, 2e6).Draw(t, "of a map")
		for decimals := range 12 {
			sameNumber(t, Round(v, decimals))
			sameNumber(t, Round(v/1e6, decimals))
		}
	})
}

func sameNumber(t rapid.TB, v float64) {
	t.Helper()
	if got, want := string(AppendNumber(nil, v)), strconv.FormatFloat(v, 'f', -1, 64); got != want {
		t.Fatalf("%v is written %s, want %s", v, got, want)
	}
}
