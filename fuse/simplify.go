package fuse

import (
	"math"
	"slices"
)

// priceParam is what a parameter of the shape must gain in χ² of the full error
// model to be kept. The textbook price ln n is about 5; twice that because the
// place of every joint was chosen from many.
const priceParam = 5.0

// simplifyShape undoes corners and curves that the shared errors explain as
// well: for each corner, weakest first, the two stretches are replaced by one
// straight, one arc or one smooth chain if that costs less in the full model.
func simplifyShape(samples []sample, sts []stretch) []stretch {
	for len(sts) > 1 {
		best, at := -1e-9, -1
		var repl []stretch
		for k := range len(sts) - 1 {
			lone := shapeCost(samples, sts[k:k+2])
			for _, alt := range unions(samples, &sts[k], &sts[k+1]) {
				if gain := shapeCost(samples, alt) - lone; gain < best {
					best, at, repl = gain, k, alt
				}
			}
		}
		if at < 0 {
			return sts
		}
		sts = slices.Concat(sts[:at], repl, sts[at+2:])
	}
	return sts
}

// unions lists the simpler shapes that two neighbouring stretches may be.
func unions(samples []sample, a, b *stretch) [][]stretch {
	whole := span{first: a.first, last: b.last}
	out := [][]stretch{{firstShape(samples, whole)}}
	if b.last-a.first+1 >= arcPoints {
		// The turn of the chord directions over the length is the curvature.
		_, da := a.at(a.length() / 2)
		_, db := b.at(b.length() / 2)
		turn := angle(da, db)
		if l := (a.length() + b.length()) / 2; l > 1 {
			whole.curvature = turn / l
			n := whole.last - whole.first + 1
			if math.Abs(whole.curvature) > 1e-5 && arcAllowed(n, 2*l, whole.curvature) {
				out = append(out, []stretch{firstShape(samples, whole)})
			}
		}
	}
	if joinsSmoothly(a, b) {
		out = append(out, []stretch{joined(a, b, samples)})
	}
	return out
}

// shapeCost is χ² of the samples on the stretches under the full error model
// plus the price of the parameters; a corner counts as one more.
func shapeCost(samples []sample, sts []stretch) float64 {
	first, last := sts[0].first, sts[len(sts)-1].last
	part := partFit{samples: samples[first : last+1], rough: true}
	params := len(sts) - 1
	for k := range sts {
		st := sts[k]
		st.first -= first
		st.last -= first
		part.stretches = append(part.stretches, st)
		params += st.params()
	}
	if err := part.solve(); err != nil {
		return 1e18
	}
	return part.gls.q + priceParam*float64(params)
}
