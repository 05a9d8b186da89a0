package present

import (
	"fmt"
	"math"
	"strconv"
)

// Known reports whether a measurement is there and finite.
func Known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Round rounds v to a number of decimals; halves away from zero, no minus zero.
func Round(v float64, decimals int) float64 {
	k := math.Pow10(decimals)
	if r := math.Round(v*k) / k; r != 0 {
		return r
	}
	return 0
}

// Fixed writes a number with all its decimals.
func Fixed(v float64, decimals int) string {
	return strconv.FormatFloat(Round(v, decimals), 'f', decimals, 64)
}

// Count writes a number with the word for one or for many: "1 line", "3 lines".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// AppendNumber appends a number without an exponent, with as many digits as it takes
// to read the same back. Nearly all numbers here are rounded, and small enough to be
// counted in billionths exactly: their digits are then those of a whole number, at
// half the cost of looking for the shortest text.
func AppendNumber(b []byte, v float64) []byte {
	const one = 1_000_000_000
	n := int64(0)
	if math.Abs(v) < 1e6 { // no two decimals of 15 digits are one double, so none is shorter
		n = int64(math.Round(v * one))
	}
	if n == 0 || float64(n)/one != v {
		return strconv.AppendFloat(b, v, 'f', -1, 64)
	}
	if n < 0 {
		b, n = append(b, '-'), -n
	}
	b = strconv.AppendInt(b, n/one, 10)
	rest := n % one
	if rest > 0 {
		b = append(b, '.')
	}
	for ; rest > 0; rest = rest % (one / 10) * 10 {
		b = append(b, '0'+byte(rest/(one/10)))
	}
	return b
}
