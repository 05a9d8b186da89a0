package simulate

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// stream gives a source of random numbers for one purpose. Purposes have
// streams of their own, so that asking for one more error leaves all others as
// they were.
func stream(seed uint64, purpose string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// A Range is an interval from which a value is drawn evenly; equal ends give a
// fixed value.
type Range [2]float64

func (r Range) draw(rng *rand.Rand) float64 { return r[0] + (r[1]-r[0])*rng.Float64() }

// studentT draws from Student's t with df > 2 degrees of freedom, scaled to
// variance 1; df = 0 means the normal distribution.
func studentT(rng *rand.Rand, df int) float64 {
	z := rng.NormFloat64()
	if df == 0 {
		return z
	}
	var chi2 float64
	for range df {
		n := rng.NormFloat64()
		chi2 += n * n
	}
	f := float64(df)
	return z / math.Sqrt(chi2/f) * math.Sqrt((f-2)/f)
}

// either draws a value of choices, or zero when there are none.
func either[T any](rng *rand.Rand, choices []T) T {
	var zero T
	if len(choices) == 0 {
		return zero
	}
	return choices[rng.IntN(len(choices))]
}

// sign draws −1 or 1.
func sign(rng *rand.Rand) float64 {
	if rng.IntN(2) == 0 {
		return -1
	}
	return 1
}
