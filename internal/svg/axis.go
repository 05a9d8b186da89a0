package svg

import (
	"math"
	"strconv"
)

// An Axis maps values onto a drawing: Low lies at From, High at To.
type Axis struct {
	Low, High float64
	From, To  float64
}

// At gives the place of a value on the drawing.
func (a Axis) At(v float64) float64 {
	if a.High == a.Low {
		return (a.From + a.To) / 2
	}
	return a.From + (v-a.Low)/(a.High-a.Low)*(a.To-a.From)
}

// Step gives the smallest of 1, 2, 5 × a power of ten that divides span into at
// most n steps; 1 for a span that is not positive.
func Step(span float64, n int) float64 {
	if !(span > 0) || math.IsInf(span, 0) {
		return 1
	}
	raw := span / float64(max(n, 1))
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if step := m * power; step >= raw*(1-1e-9) {
			return step
		}
	}
	return 10 * power
}

// Ticks gives the multiples of a round step within the axis, at most n+1 of them.
func (a Axis) Ticks(n int) (values []float64, step float64) {
	step = Step(a.High-a.Low, n)
	first := math.Ceil(a.Low/step - 1e-9)
	for k := 0.0; k <= float64(n)+1; k++ {
		v := (first + k) * step
		if v > a.High+step*1e-9 {
			break
		}
		values = append(values, v)
	}
	return values, step
}

// Label writes a tick's value with the decimals that its step needs, with a true
// minus sign.
func Label(v, step float64) string {
	decimals := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	text := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	if v < 0 && math.Abs(v) >= step/2 {
		return "−" + text
	}
	return text
}
