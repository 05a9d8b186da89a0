package clock

import "math"

// A product gathers factors and takes the logarithm of all of them at once:
// logarithms are most of the cost of a search.
type product struct{ v, l float64 }

func one() product { return product{v: 1} }

// times multiplies by x, which lies between 1e-50 and 1e50.
func (p *product) times(x float64) {
	if p.v *= x; p.v > 1e250 || p.v < 1e-250 {
		p.l += math.Log(p.v)
		p.v = 1
	}
}

func (p *product) log() float64 { return p.l + math.Log(p.v) }
