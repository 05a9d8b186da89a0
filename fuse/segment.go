package fuse

import (
	"math"

	"tracemap/geodesy/plane"
)

// An observed point with its weight 1/σ², m⁻²; weight 0 takes no part.
type observed struct {
	at     plane.Pt
	weight float64
}

// A span of an ordered path that one straight or one arc explains.
type span struct {
	first, last int // indices into the path, inclusive
	curvature   float64
	ratio       float64 // of the variance of its points to what they have; 1, or that of unrest
}

// Prices of a further element, in units of χ², beside that of the points: what
// the gain in fit must exceed before a path is broken. A straight with a free
// joint adds three parameters, an arc one more; the search over places and the
// errors shared by neighbours raise the price above the textbook's ln n each.
const (
	priceSpan = 8.0
	priceArc  = 5.0
	minRadius = 2.0 // m; sharper is a corner
	arcPoints = 5   // fewer cannot tell an arc from a corner
)

// segment divides an ordered path into straights and arcs so that the weighted
// squared distances plus the prices are least: dynamic programming over the last
// break, pruned where a break can hardly win again (Killick, Fearnhead, Eckley,
// JASA 107, 2012; Taubin's circle makes that a rule with rare exceptions). A straight is fitted by total
// least squares, an arc by Taubin's method (IEEE PAMI 13(11), 1991), both from
// running sums. Cost: between n and n².
func segment(path []observed) []span {
	n := len(path)
	price := priceSpan + 2*math.Log(float64(n))
	best := make([]float64, n+1) // best[j]: cost of the first j points
	prev := make([]int, n+1)
	chosen := make([]fitted, n+1)
	best[0] = -price
	var live []*sums
	for j := 1; j <= n; j++ {
		live = append(live, &sums{from: j - 1, origin: path[j-1].at})
		best[j] = math.Inf(1)
		for _, s := range live {
			s.add(&path[j-1])
			f := s.fit()
			if c := best[s.from] + f.cost + price; c < best[j] {
				best[j], prev[j], chosen[j] = c, s.from, f
			}
		}
		kept := live[:0]
		for _, s := range live {
			if best[s.from]+s.floor <= best[j] {
				kept = append(kept, s)
			}
		}
		live = kept
	}
	var out []span
	for j := n; j > 0; j = prev[j] {
		out = append(out, span{first: prev[j], last: j - 1, curvature: chosen[j].curvature, ratio: chosen[j].ratio})
	}
	for a, b := 0, len(out)-1; a < b; a, b = a+1, b-1 {
		out[a], out[b] = out[b], out[a]
	}
	return out
}

// sums are the running moments of a run of points about its first point.
type sums struct {
	from                int
	origin              plane.Pt
	n, weighted         int // points, and those that take part
	w, x, y, xx, xy, yy float64
	z, xz, yz, zz       float64 // z = x² + y²
	last                plane.Pt
	length              float64
	floor               float64 // no fit of a longer run can cost less
}

// fitted is what a run costs at the least, and as what.
type fitted struct {
	cost, curvature, ratio float64
}

func (s *sums) add(o *observed) {
	p := o.at.Sub(s.origin)
	if s.n > 0 {
		s.length += p.Dist(s.last)
	}
	s.last = p
	s.n++
	if o.weight == 0 {
		return
	}
	s.weighted++
	w, x, y := o.weight, p.E, p.N
	z := x*x + y*y
	s.w += w
	s.x += w * x
	s.y += w * y
	s.xx += w * x * x
	s.xy += w * x * y
	s.yy += w * y * y
	s.z += w * z
	s.xz += w * x * z
	s.yz += w * y * z
	s.zz += w * z * z
}

// fit gives the least cost of the run: its weighted squared distances from the
// best straight, or from the best arc plus the arc's price, or as unrest about
// either.
func (s *sums) fit() fitted {
	if s.w == 0 {
		return fitted{ratio: 1}
	}
	mx, my := s.x/s.w, s.y/s.w
	cxx, cxy, cyy := s.xx-s.w*mx*mx, s.xy-s.w*mx*my, s.yy-s.w*my*my
	half := (cxx + cyy) / 2
	best := fitted{cost: max(half-math.Hypot((cxx-cyy)/2, cxy), 0), ratio: 1}
	s.floor = best.cost
	if best.cost < priceArc {
		return best
	}
	if s.n < arcPoints {
		s.floor = 0 // with more points it may be an arc
		return best
	}
	chi, k, ok := s.taubin(mx, my)
	s.floor = min(s.floor, chi/2) // half: Taubin's circle is not quite the nearest one
	if ok && chi+priceArc < best.cost {
		best.cost, best.curvature = chi+priceArc, k
	}
	return s.orUnrest(best)
}

// orUnrest is the fit with the variance that its own points tell, if that costs
// less.
func (s *sums) orUnrest(f fitted) fitted {
	n := float64(max(s.weighted, unrestPoints))
	s.floor = min(s.floor, n*(1+math.Log(max(s.floor/n, leastUnrest)))+priceUnrest)
	if c := unrestCost(s.weighted, float64(s.weighted)/s.w, f.cost); c < f.cost {
		return fitted{cost: c, curvature: f.curvature, ratio: f.cost / float64(s.weighted)}
	}
	return f
}

// mostTurn, radians, is how much an arc may turn from one reading to the next:
// with more, the readings cannot tell it from corners.
const mostTurn = 0.5

// arcAllowed reports whether n readings over a length may stand on an arc.
func arcAllowed(n int, length, curvature float64) bool {
	k := math.Abs(curvature)
	return k*minRadius <= 1 && k*length < math.Pi && length > 1 && k*length < mostTurn*float64(n-1)
}

// taubin fits a circle from the moments and gives its χ², its signed curvature
// in the direction of the run, and whether it may stand as an arc.
func (s *sums) taubin(mx, my float64) (chi, curvature float64, ok bool) {
	w := s.w
	// Central moments, each divided by the weight.
	mxx := s.xx/w - mx*mx
	myy := s.yy/w - my*my
	mxy := s.xy/w - mx*my
	mz := mxx + myy
	zc := s.z / w // raw second moment about the origin
	// With u = x − mx, v = y − my: u² + v² = z − 2·mx·x − 2·my·y + m², so
	m2 := mx*mx + my*my
	mxz := s.xz/w - 2*mx*s.xx/w - 2*my*s.xy/w + m2*mx - mx*(zc-2*mx*mx-2*my*my+m2)
	myz := s.yz/w - 2*mx*s.xy/w - 2*my*s.yy/w + m2*my - my*(zc-2*mx*mx-2*my*my+m2)
	mzz := s.zz/w - 4*mx*s.xz/w - 4*my*s.yz/w + 4*mx*mx*s.xx/w + 8*mx*my*s.xy/w + 4*my*my*s.yy/w +
		2*m2*zc - 4*m2*m2 + m2*m2
	cov := mxx*myy - mxy*mxy
	varZ := mzz - mz*mz
	a3 := 4 * mz
	a2 := -3*mz*mz - mzz
	a1 := varZ*mz + 4*cov*mz - mxz*mxz - myz*myz
	a0 := mxz*(mxz*myy-myz*mxy) + myz*(myz*mxx-mxz*mxy) - varZ*cov
	x, y := 0.0, math.Inf(1)
	for range 20 { // Newton from 0 finds the smallest root, monotonically
		yn := a0 + x*(a1+x*(a2+a3*x))
		if !(math.Abs(yn) < math.Abs(y)) {
			break
		}
		y = yn
		dx := yn / (a1 + x*(2*a2+3*x*a3))
		if x -= dx; math.Abs(dx) < 1e-14*mz || x < 0 {
			break
		}
	}
	x = max(x, 0)
	det := x*x - x*mz + cov
	cx := (mxz*(myy-x) - myz*mxy) / det / 2
	cy := (myz*(mxx-x) - mxz*mxy) / det / 2
	r2 := cx*cx + cy*cy + mz
	r := math.Sqrt(r2)
	if !(r < 1e6) {
		return s.floor, 0, false
	}
	// Σw(ρ² − r²)²/(2r)² approximates Σw(ρ − r)² for distances ≪ r.
	b := r2 - cx*cx - cy*cy // ρ² − r² = z' − 2cx·u − 2cy·v − b
	q := mzz + 4*cx*cx*mxx + 4*cy*cy*myy + b*b - 4*cx*mxz - 4*cy*myz - 2*b*mz + 8*cx*cy*mxy
	chi = max(w*q/(4*r2), 0)
	// Side: the centre left of the run's chord means a left bend.
	centre := plane.Pt{E: cx + mx, N: cy + my}
	side := s.last.Cross(centre)
	curvature = math.Copysign(1/r, side)
	ok = arcAllowed(s.n, s.length, curvature)
	return chi, curvature, ok
}
