package clock

import (
	"math"

	"tracemap/geodesy/plane"
)

// drift is one σ of the offset, s, that the receiver's slow error brings about:
// what it moves along the line between two passes in opposite directions looks
// like twice the walker's way in the clock's error, and of a line that was walked
// back k times all share the error of the first pass: ½·slow·pace·√(1 + 1/k). Lines
// are walked at different times. 0 without passes.
func (p *passes) drift() float64 {
	var v float64 // of the offset's variances
	lines := 0
	for k := 0; k < len(p.pairs); {
		line := p.pairs[k].line
		var slow, pace float64
		n := 0
		for ; k < len(p.pairs) && p.pairs[k].line == line; k++ {
			pair := &p.pairs[k]
			a, b := &p.d.walk[pair.second[0]], &p.d.walk[pair.second[len(pair.second)-1]]
			mid, ok := p.d.tr.At(p.base.at((a.t+b.t)/2, p.d.mid))
			way := p.d.where(p.base.at(a.t, p.d.mid)).Dist(p.d.where(p.base.at(b.t, p.d.mid)))
			if ok && way > 1 {
				slow += math.Sqrt(mid.Slow.Mean())
				pace += (b.t - a.t) / way
				n++
			}
		}
		if n > 0 {
			m := float64(n)
			s := 0.5 * slow / m * pace / m
			v += s * s * (1 + 1/m)
			lines++
		}
	}
	if lines == 0 {
		return 0
	}
	return math.Sqrt(v) / float64(lines)
}

// nearestSegment gives the piece of the path nearest to q, of equals the first,
// as the number of its end, and where on it; false where none lies within reach.
// The search starts at a guess.
func nearestSegment(path plane.Polyline, q plane.Pt, reach float64, guess int) (seg int, u float64, ok bool) {
	guess = min(max(guess, 1), len(path)-1)
	best, dist := reach*reach, reach
	for n := range path {
		k := n
		switch n {
		case 0:
			k = guess
		case guess:
			continue
		}
		a := path[k-1]
		d, w := path[k].Sub(a), q.Sub(a)
		// No point of the piece is further from its start than it is long.
		if math.Abs(w.E) > math.Abs(d.E)+dist || math.Abs(w.N) > math.Abs(d.N)+dist {
			continue
		}
		t := 0.0
		if l := d.Dot(d); l > 0 {
			t = min(max(w.Dot(d)/l, 0), 1)
		}
		off := q.Sub(a.Lerp(path[k], t))
		if e := off.Dot(off); e < best || e == best && (!ok || k < seg) {
			seg, u, best, ok = k, t, e, true
			dist = math.Sqrt(e) * (1 + 1e-12)
		}
	}
	return seg, u, ok
}
