package fuse

import "math"

// A decay gives e^(−|x−y|) between any two of a list of numbers, and what is made
// of it, without an exponential a pair: e^(x−y) is a product of what each of them
// has alone.
type decay struct{ x, up, down []float64 }

// widestDecay is how far numbers may lie from their middle: e⁶⁰⁰ is a number.
const widestDecay = 600

func newDecay(x []float64) decay {
	d := decay{x: x}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range x {
		lo, hi = min(lo, v), max(hi, v)
	}
	mid := (lo + hi) / 2
	if !(hi-mid <= widestDecay) {
		return d
	}
	d.up, d.down = make([]float64, len(x)), make([]float64, len(x))
	for k, v := range x {
		d.up[k], d.down[k] = math.Exp(v-mid), math.Exp(mid-v)
	}
	return d
}

// of is e^(−|x−y|) of the numbers i and j.
func (d *decay) of(i, j int) float64 {
	if d.up == nil {
		return math.Exp(-math.Abs(d.x[i] - d.x[j]))
	}
	return min(d.up[i]*d.down[j], d.down[i]*d.up[j])
}

// matern is (1 + |x−y|)·e^(−|x−y|): Matérn's kernel with ν = 3/2.
func (d *decay) matern(i, j int) float64 {
	return (1 + math.Abs(d.x[i]-d.x[j])) * d.of(i, j)
}
