package compare

import (
	"math"

	"tracemap/geodesy/plane"
	"tracemap/present"
)

// A block is a straight stretch of a line: what it shows of the displacement
// across it.
type block struct {
	line    int
	at, n   plane.Pt
	lateral float64
	record  float64 // one σ of the record, m
	shared  float64 // one σ of what all lines share: the slow part of the located lines'
	weight  float64 // 1/m²: of the part of the located line's that is its own
}

// blockLength, m, is how far along a line errors hang together (pin-pointing
// does over some 12 m); what is shorter counts less.
const blockLength = 12.0

// straight is the cosine of 15°: what turns by less is one straight.
const straight = 0.966

// blocks cuts the stations of a line where it turns by more than 15°, and where
// there is a gap. How the record is cut into pieces does not matter.
func blocks(line int, stations []Station) []block {
	stations = offBends(stations)
	var out []block
	for from := 0; from < len(stations); {
		to, length := from, 0.0
		for to < len(stations) && length < blockLength && stations[to].n.Dot(stations[from].n) > straight && stations[to].chain == stations[from].chain {
			length += stations[to].Weight
			to++
		}
		b := block{line: line}
		var sum, own float64
		for i := from; i < to; i++ {
			s := &stations[i]
			w := max(s.Weight, 1e-6)
			b.at, b.n = b.at.Add(s.at.Mul(w)), b.n.Add(s.n.Mul(w))
			b.lateral += w * s.Lateral
			b.record += w * s.accuracy / present.Line95
			b.shared += w * math.Sqrt(sharedOf(s.fixed)) * s.half / present.Line95
			own += w * math.Sqrt(1-sharedOf(s.fixed)) * s.half / present.Line95
			sum += w
		}
		b.at, b.n = b.at.Mul(1/sum), b.n.Unit()
		b.lateral, b.record, b.shared = b.lateral/sum, b.record/sum, b.shared/sum
		b.weight = max(1e-3, min(1, length/blockLength)) / (square(own/sum) + leastNoise)
		if present.Known(b.lateral + b.weight + b.record) {
			out = append(out, b)
		}
		from = to
	}
	return out
}

// offBends leaves out the stations near a bend, from where the normal meets the
// located line beyond its own bend and shows another distance than that of the two
// straights: within the displacement times the tangent of half the turn. Of a line
// that has no others it keeps all.
func offBends(stations []Station) []Station {
	const beyond = 1.5 // m: the next station on the other straight
	most := 0.0
	for i := range stations {
		most = max(most, math.Abs(stations[i].Lateral))
	}
	var out []Station
	for i := range stations {
		s := &stations[i]
		near := false
		for _, way := range []int{-1, 1} {
			for k := i + way; k >= 0 && k < len(stations) && !near; k += way {
				o := &stations[k]
				away := math.Abs(o.along - s.along)
				if o.chain != s.chain || away > steepest*most+beyond {
					break
				}
				cos := o.n.Dot(s.n)
				half := math.Sqrt(max(0, 1-cos) / max(1e-9, 1+cos)) // tan of half the turn
				near = cos < straight && away <= most*min(half, steepest)+beyond
			}
		}
		if !near {
			out = append(out, *s)
		}
	}
	if len(out) == 0 {
		return stations
	}
	return out
}

// steepest bounds the tangent of half a turn: 152°.
const steepest = 4.0
