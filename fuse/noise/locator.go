package noise

import (
	"math"

	"tracemap/readings"
)

// PinSigma is one σ of pin-pointing across the line, m, for a reading at the
// given depth (NaN: unknown, taken as 1.5 m).
func PinSigma(r *readings.Reading, depth float64) float64 {
	if math.IsNaN(depth) {
		depth = 1.5
	}
	return math.Hypot(PinBase, PinDepth*depth) * pinFactor(r)
}

// pinFactor widens for coils and signals that find the line less well. Common
// practice, no source; the order follows from the field of two conductors.
func pinFactor(r *readings.Reading) float64 {
	k := 1.0
	switch r.Response {
	case readings.Null:
		k = 1.6
	case readings.Omni:
		k = 2
	case readings.Single:
		k = 1.3
	}
	switch r.Method {
	case readings.Passive:
		k *= 2
	case readings.Induction:
		k *= 1.2
	}
	return k
}

// DepthSigma is one σ of a single logged depth, m, without the part common to a
// whole line. depth is what the line's other readings say of it, never the logged
// depth itself: σ grows with depth, and a reading that happens to be shallow would
// count for more than one that happens to be deep (see depthProfile in fuse).
func DepthSigma(r *readings.Reading, depth float64) float64 {
	s := math.Hypot(DepthBase, DepthRel*depth) * deepFactor(depth)
	switch r.Response {
	case readings.Null, readings.Single:
		s *= 1.5
	case readings.Omni:
		s *= 2
	}
	switch r.Method {
	case readings.Passive:
		s *= 4
	case readings.Induction:
		s *= 1.5
	}
	return s
}

// deepFactor is by how much a depth is worse than its share of the depth alone: 1
// down to DepthSure, 2 from DepthDeep on, and between them growing steadily.
func deepFactor(depth float64) float64 {
	return math.Exp2(min(max((depth-DepthSure)/(DepthDeep-DepthSure), 0), 1))
}
