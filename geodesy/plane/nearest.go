package plane

import "math"

// Foot is the place on a line that is nearest to a point.
type Foot struct {
	At      Pt      // the place on the line
	Station float64 // its station, m
	Seg     int     // it lies on the straight from vertex Seg to vertex Seg+1
	T       float64 // its fraction along that straight, 0 to 1
	Dist    float64 // distance from the point to it, m; never negative
	// Offset is how far the point lies to the left of the line, m, negative on
	// the right. Between the ends it is ±Dist. Beyond an end of an open line it
	// is measured square to the end's direction, so a point straight ahead of
	// the end has Offset 0 whatever its Dist.
	Offset float64
}

// Beyond reports whether the point lies past an end of the line rather than
// beside it.
func (f Foot) Beyond() bool { return f.Dist > 0 && math.Abs(f.Offset) < f.Dist*(1-1e-9) }

// Nearest gives the foot of p on the line. Of several places that are equally
// near, to the last bit, the one with the lowest station is taken. At a bend, where a whole wedge of
// points has the vertex as its foot, the side is told from both straights; at
// the tip of a line that doubles back it is told from the straight that leads
// to the tip. In a ring the point where it closes is a vertex like any other.
// The second result is false when the line has no point or a coordinate is NaN.
func (l Polyline) Nearest(p Pt) (Foot, bool) {
	best := Foot{Dist: math.Inf(1)}
	var station float64
	for i := range max(1, len(l)-1) {
		if len(l) == 0 {
			break
		}
		b := l[min(i+1, len(l)-1)]
		if t, at, d := footOnSegment(l[i], b, p); d < best.Dist {
			best = Foot{At: at, Station: station + t*l[i].Dist(b), Seg: i, T: t, Dist: d}
		}
		station += l[i].Dist(b)
	}
	if math.IsInf(best.Dist, 1) {
		return Foot{}, false
	}
	best.Offset = l.offset(p, best)
	return best, true
}

// footOnSegment gives the fraction along ab, the place and the distance of the
// point of ab nearest to p. A fraction of 0 or 1 gives a or b to the last bit.
func footOnSegment(a, b, p Pt) (t float64, at Pt, dist float64) {
	ab := b.Sub(a)
	if len2 := ab.Dot(ab); len2 > 0 {
		t = min(max(p.Sub(a).Dot(ab)/len2, 0), 1)
	}
	switch t {
	case 0:
		at = a
	case 1:
		at = b
	default:
		at = a.Lerp(b, t)
	}
	return t, at, p.Dist(at)
}

// offset gives the signed offset of p from its foot.
func (l Polyline) offset(p Pt, f Foot) float64 {
	d := p.Sub(f.At)
	if f.Dist == 0 {
		return 0
	}
	if f.T > 0 && f.T < 1 {
		return math.Copysign(f.Dist, l[f.Seg+1].Sub(l[f.Seg]).Cross(d))
	}
	v := f.Seg
	if f.T == 1 {
		v++
	}
	in, out := l.directionInto(v), l.directionOutOf(v)
	switch {
	case in == Pt{} && out == Pt{}: // all in one place: there is no left
		return f.Dist
	case in == Pt{}:
		return out.Cross(d)
	case out == Pt{}:
		return in.Cross(d)
	}
	// Within the wedge that has the vertex as its foot, the mean direction tells
	// the side: the wedge reaches from the one normal to the other.
	side := in.Add(out).Cross(d)
	if in.Dot(out) < 0 && math.Abs(in.Cross(out)) < 1e-9 {
		side = in.Cross(d) // a tip: the mean direction is rounding only
	}
	return math.Copysign(f.Dist, side)
}

// directionInto gives the unit direction of the line as it comes to vertex v,
// and zero where it begins there. Repeated points are passed over.
func (l Polyline) directionInto(v int) Pt {
	for i := v; i > 0; i-- {
		if l[i-1] != l[v] {
			return l[v].Sub(l[i-1]).Unit()
		}
	}
	if l.Closed() {
		for i := len(l) - 1; i > v; i-- {
			if l[i] != l[v] {
				return l[v].Sub(l[i]).Unit()
			}
		}
	}
	return Pt{}
}

// directionOutOf gives the unit direction of the line as it leaves vertex v,
// and zero where it ends there.
func (l Polyline) directionOutOf(v int) Pt {
	for i := v; i < len(l)-1; i++ {
		if l[i+1] != l[v] {
			return l[i+1].Sub(l[v]).Unit()
		}
	}
	if l.Closed() {
		for i := range v {
			if l[i] != l[v] {
				return l[i].Sub(l[v]).Unit()
			}
		}
	}
	return Pt{}
}
