package otherdays

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// A dice is the one source of chance of a day.
type dice struct{ *rand.Rand }

// newDice returns the dice of a kind of day and a seed.
func newDice(kind string, seed uint64) dice {
	h := fnv.New64a()
	h.Write([]byte(kind))
	return dice{rand.New(rand.NewPCG(seed, h.Sum64()))}
}

func (d dice) between(a, b float64) float64 { return a + (b-a)*d.Float64() }
func (d dice) normal(sigma float64) float64 { return sigma * d.NormFloat64() }
func (d dice) chance(p float64) bool        { return d.Float64() < p }
func (d dice) sign() float64 {
	if d.chance(0.5) {
		return -1
	}
	return 1
}

// A memory is a first-order Gauss–Markov process: standard deviation sigma,
// correlation exp(−x/reach), x in seconds or metres.
type memory struct{ sigma, reach, now float64 }

// newMemory returns a process that has been running for ever.
func newMemory(d dice, sigma, reach float64) *memory {
	return &memory{sigma, reach, d.normal(sigma)}
}

// after moves the process on by x and returns its value there.
func (m *memory) after(d dice, x float64) float64 {
	a := math.Exp(-x / m.reach)
	m.now = a*m.now + d.normal(m.sigma*math.Sqrt(1-a*a))
	return m.now
}
