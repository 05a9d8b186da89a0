package fuse

import (
	"hash/maphash"
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// priceParam is what a parameter of the shape must gain in χ² of the full error
// model to be kept. The textbook price ln n is about 5; twice that because the
// place of every joint was chosen from many.
const priceParam = 5.0

// simplifyShape undoes corners and curves that the shared errors explain as
// well: for each corner, weakest first, the two stretches are replaced by one
// straight, one arc or one smooth chain if that costs less in the full model.
func simplifyShape(samples []sample, sts []stretch, tried *memory) []stretch {
	// What a corner's end would gain changes only where a neighbour has changed.
	known := make([]*union, max(len(sts)-1, 0))
	for len(sts) > 1 {
		best := union{gain: -1e-9, at: -1}
		for k := range known {
			if known[k] == nil {
				known[k] = tried.bestUnion(samples, sts[k:k+2])
			}
			if known[k].gain < best.gain {
				best = *known[k]
				best.at = k
			}
		}
		if best.at < 0 {
			return sts
		}
		sts = slices.Concat(sts[:best.at], []stretch{best.into}, sts[best.at+2:])
		known = slices.Delete(known, best.at, best.at+1)
		for k := max(best.at-1, 0); k <= best.at && k < len(known); k++ {
			known[k] = nil
		}
	}
	return sts
}

// A union is what two neighbouring stretches may become, and by how much the cost
// changes.
type union struct {
	gain float64
	at   int
	into stretch
}

// A memory keeps the unions that were tried for a part. A part is fitted many times
// with a few of its readings in or out, and most of its corners see nothing of that.
type memory struct {
	seed  maphash.Seed
	known map[uint64]*union // by all that the union hangs on
}

func newMemory() *memory { return &memory{maphash.MakeSeed(), map[uint64]*union{}} }

// bestUnion is the function's, worked out once.
func (m *memory) bestUnion(samples []sample, two []stretch) *union {
	if m == nil {
		return bestUnion(samples, two)
	}
	var h maphash.Hash
	h.SetSeed(m.seed)
	for k := range two {
		st := &two[k]
		maphash.WriteComparable(&h, [2]int{st.first, st.last})
		maphash.WriteComparable(&h, [2]plane.Pt{st.start, st.dir})
		for _, p := range st.pieces {
			maphash.WriteComparable(&h, p)
		}
	}
	for k := two[0].first; k <= two[1].last; k++ {
		maphash.WriteComparable(&h, samples[k])
	}
	key := h.Sum64()
	u, ok := m.known[key]
	if !ok {
		u = bestUnion(samples, two)
		m.known[key] = u
	}
	return u
}

// bestUnion is the union of two stretches that costs least.
func bestUnion(samples []sample, two []stretch) *union {
	best := &union{gain: math.Inf(1)}
	lone := shapeCost(samples, two)
	for _, alt := range unions(samples, &two[0], &two[1]) {
		if gain := shapeCost(samples, []stretch{alt}) - lone; gain < best.gain {
			best.gain, best.into = gain, alt
		}
	}
	return best
}

// unions lists the simpler shapes that two neighbouring stretches may be.
func unions(samples []sample, a, b *stretch) []stretch {
	whole := span{first: a.first, last: b.last}
	out := []stretch{firstShape(samples, whole)}
	if b.last-a.first+1 >= arcPoints {
		// The turn of the chord directions over the length is the curvature.
		_, da := a.at(a.length() / 2)
		_, db := b.at(b.length() / 2)
		turn := angle(da, db)
		if l := (a.length() + b.length()) / 2; l > 1 {
			whole.curvature = turn / l
			n := whole.last - whole.first + 1
			if math.Abs(whole.curvature) > 1e-5 && arcAllowed(n, 2*l, whole.curvature) {
				out = append(out, firstShape(samples, whole))
			}
		}
	}
	if joinsSmoothly(a, b) {
		out = append(out, joined(a, b, samples))
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
