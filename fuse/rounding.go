package fuse

import (
	"math"
	"slices"
)

// Two corners to one side, close together, may be a bend of long radius of which
// only two or three readings tell: too few for the search to see an arc. Such a bend
// is held against the corners; where both explain the day about as well, the width
// covers both.

const (
	mostOnBend  = 4   // readings between the two corners
	leastOfTurn = 0.1 // rad, at each of the two
)

// tryRounding tries a bend for every two corners to one side.
func (p *shapedPart) tryRounding(ps []Placed, sc *scales) {
	for k := 0; k+2 < len(p.fit.stretches); k++ {
		round, ok := rounded(p.fit.stretches[k : k+3])
		if !ok {
			continue
		}
		f := &partFit{samples: slices.Clone(p.fit.samples), wander: p.fit.wander}
		f.stretches = slices.Concat(p.fit.stretches[:k], []stretch{round}, p.fit.stretches[k+3:])
		if f.solve() != nil {
			continue
		}
		other := &shapedPart{path: p.path, typicalDepth: p.typicalDepth, fit: f, memory: p.memory}
		if other.complete(ps, sc) {
			p.compete(other, other.lead(ps, p))
		}
	}
}

// rounded makes one chain of three straights: the outer two, and in place of the one
// between them the arc that touches both and passes through its middle.
func rounded(three []stretch) (stretch, bool) {
	a, b, c := &three[0], &three[1], &three[2]
	if b.last-b.first >= mostOnBend || len(b.pieces) > 1 || a.pieces[len(a.pieces)-1].curvature != 0 || c.pieces[0].curvature != 0 ||
		len(a.pieces)+len(c.pieces) > 6 {
		return stretch{}, false
	}
	endA, dirA := a.at(a.length())
	midB, dirB := b.at(b.length() / 2)
	startC, dirC := c.at(0)
	first, second := angle(dirA, dirB), angle(dirB, dirC)
	turn := first + second
	if first*second <= 0 || min(math.Abs(first), math.Abs(second)) < leastOfTurn || math.Abs(turn) > 0.9*math.Pi {
		return stretch{}, false
	}
	// The two straights meet at q, sa beyond the end of the first and sc before the
	// start of the last.
	cross := dirA.Cross(dirC)
	gap := startC.Sub(endA)
	sa, sc := gap.Cross(dirC)/cross, gap.Cross(dirA)/cross
	q := endA.Add(dirA.Mul(sa))
	half := math.Abs(turn) / 2
	radius := q.Dist(midB) / (1/math.Cos(half) - 1)
	tangent := radius * math.Tan(half)
	before, after := a.pieces[len(a.pieces)-1].length+sa-tangent, c.pieces[0].length+sc-tangent
	if !(radius >= minRadius) || before < 0.5 || after < 0.5 {
		return stretch{}, false
	}
	out := stretch{first: a.first, last: c.last}
	out.start, out.dir = a.start, a.dir
	out.pieces = append(slices.Clone(a.pieces), piece{length: radius * math.Abs(turn), curvature: math.Copysign(1/radius, turn)})
	out.pieces = append(out.pieces, c.pieces...)
	out.pieces[len(a.pieces)-1].length = before
	out.pieces[len(a.pieces)+1].length = after
	return out, true
}

// kinkReach, m: a corner farther than this from the arc in its place is told from it by
// the readings.
const kinkReach = 0.7

// tryKinks tries two straights that meet in a corner for every arc that turns little:
// which of the two it is, the prices of the shape decide as often as the readings.
// (A choice between models is an error of its own: Hjort, Claeskens, JASA 98, 2003, from
// memory.)
func (p *shapedPart) tryKinks(ps []Placed, sc *scales) {
	for k := 0; k < len(p.fit.stretches); k++ {
		for i := 0; i < len(p.fit.stretches[k].pieces); i++ {
			two, ok := p.fit.kinked(k, i)
			if !ok {
				continue
			}
			f := &partFit{samples: slices.Clone(p.fit.samples), wander: p.fit.wander}
			f.stretches = slices.Concat(p.fit.stretches[:k], two[:], p.fit.stretches[k+1:])
			if f.solve() != nil {
				continue
			}
			other := &shapedPart{path: p.path, typicalDepth: p.typicalDepth, fit: f, memory: p.memory}
			if other.complete(ps, sc) {
				p.compete(other, other.lead(ps, p))
			}
			if k >= len(p.fit.stretches) {
				break
			}
		}
	}
}

// kinked parts stretch k at the middle of its piece i, an arc, in two that meet where the
// tangents at the arc's ends do.
func (f *partFit) kinked(k, i int) (two [2]stretch, ok bool) {
	st := &f.stretches[k]
	arc := st.pieces[i]
	turn := math.Abs(arc.curvature * arc.length)
	if arc.curvature == 0 || turn > math.Pi/2 || (1/math.Cos(turn/2)-1)/math.Abs(arc.curvature) > kinkReach {
		return two, false
	}
	var from float64
	for _, p := range st.pieces[:i] {
		from += p.length
	}
	split := st.first
	for split <= st.last && (f.samples[split].out || f.local[split] < from+arc.length/2) {
		split++
	}
	if split-st.first < 2 || st.last-split < 1 {
		return two, false
	}
	tangent := math.Tan(turn/2) / math.Abs(arc.curvature)
	two[0] = firstShape(f.samples, span{first: st.first, last: split - 1})
	if i > 0 {
		if st.pieces[i-1].curvature != 0 {
			return two, false
		}
		two[0].start, two[0].dir, two[0].pieces = st.start, st.dir, slices.Clone(st.pieces[:i])
		two[0].pieces[i-1].length += tangent
	}
	two[1] = firstShape(f.samples, span{first: split, last: st.last})
	if i+1 < len(st.pieces) {
		if st.pieces[i+1].curvature != 0 {
			return two, false
		}
		end, dir := st.at(from + arc.length)
		two[1].start, two[1].dir, two[1].pieces = end.Sub(dir.Mul(tangent)), dir, slices.Clone(st.pieces[i+1:])
		two[1].pieces[0].length += tangent
	}
	return two, true
}
