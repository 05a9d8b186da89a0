package compare

import (
	"math"

	"tracemap/geodesy/plane"
)

// A Shift is one displacement of all located lines against the record.
type Shift struct {
	East, North  float64 // m, located minus as-built; NaN where it cannot be told
	Sigma        float64 // one σ of the less certain direction, m
	SigmaEast    float64
	SigmaNorth   float64
	Significant  bool
	Pairs        int     // records that it rests on
	Agreeing     int     // of those, how many it explains within their uncertainty
	Rotation     float64 // degrees, anticlockwise about the site's middle; NaN where not significant
	RotationSig  float64 // one σ, degrees
	Across       bool    // the lines run one way only: the displacement along them cannot be told
	AcrossNormal plane.Pt
	Causes       []string

	cov    [2][2]float64 // m²
	centre plane.Pt      // that the rotation is about
	theta  float64       // radians; 0 where not significant
}

// at is the displacement at a place.
func (s *Shift) at(p plane.Pt) plane.Pt {
	t := plane.Pt{E: s.East, N: s.North}
	return t.Add(p.Sub(s.centre).Left().Mul(s.theta))
}

// A block is a straight stretch of a pair: one observation of the displacement
// across it.
type block struct {
	pair    int
	at, n   plane.Pt
	lateral float64
	sigma   float64 // of its own
	shared  float64 // σ of what all pairs share: the slow part of the located lines'
	weight  float64
}

// blockLength, m, is how far along a line errors hang together (pin-pointing
// does over some 12 m); what is shorter counts less.
const blockLength = 12.0

// blocks cuts the stations of a pair where the record turns by more than 15°.
func blocks(pair int, stations []Station) []block {
	var out []block
	for from := 0; from < len(stations); {
		to, length := from, 0.0
		for to < len(stations) && length < blockLength && stations[to].n.Dot(stations[from].n) > 0.966 && stations[to].piece == stations[from].piece {
			length += stations[to].Weight
			to++
		}
		b := block{pair: pair}
		var sum float64
		for i := from; i < to; i++ {
			s := &stations[i]
			w := max(s.Weight, 1e-6)
			b.at, b.n = b.at.Add(s.at.Mul(w)), b.n.Add(s.n.Mul(w))
			b.lateral += w * s.Lateral
			b.sigma += w * s.Lateral95 / k95
			b.shared += w * math.Sqrt(sharedOf(s.fixed)) * s.half / k95
			sum += w
		}
		b.at, b.n = b.at.Mul(1/sum), b.n.Unit()
		b.lateral, b.sigma, b.shared = b.lateral/sum, max(b.sigma/sum, 1e-3), b.shared/sum
		b.weight = min(1, length/blockLength) / (b.sigma * b.sigma)
		if known(b.lateral + b.weight) {
			out = append(out, b)
		}
		from = to
	}
	return out
}

// least three pairs are needed: with two nobody can tell which of them moved.
const leastPairs = 3

// significance: χ² of two degrees of freedom at 99.9 %, and a displacement that
// matters to anybody, m.
const (
	chi2Two  = 13.816
	leastFit = 0.05
	leastRot = 3.3 // σ
)

// findShift fits a displacement to all blocks, first by absolute values, which
// no minority can turn, then by Tukey's biweight (P. Huber and E. Ronchetti,
// Robust Statistics, 2nd ed., 2009, §7.8), and takes its uncertainty from what
// the pairs say among each other, but not for less than they say themselves.
func findShift(bs []block) Shift {
	none := Shift{East: math.NaN(), North: math.NaN(), Sigma: math.NaN(), SigmaEast: math.NaN(), SigmaNorth: math.NaN(), Rotation: math.NaN(), RotationSig: math.NaN()}
	none.Pairs = countPairs(bs)
	if len(bs) == 0 {
		return none
	}
	t, w := robust(bs, plane.Pt{}, false)
	s := none
	s.East, s.North, s.centre = t[0], t[1], middle(bs)
	s.spread(bs, t, w)
	s.turn(bs)
	s.judge(bs)
	return s
}

func countPairs(bs []block) int {
	pairs := map[int]bool{}
	for i := range bs {
		pairs[bs[i].pair] = true
	}
	return len(pairs)
}

func middle(bs []block) plane.Pt {
	var sum plane.Pt
	for i := range bs {
		sum = sum.Add(bs[i].at.Mul(1 / float64(len(bs))))
	}
	return sum
}

// row is a block's part in the equations: lateral = n·t + θ·n·J(p − c).
func (b *block) row(centre plane.Pt) [3]float64 {
	return [3]float64{b.n.E, b.n.N, b.n.Dot(b.at.Sub(centre).Left())}
}

// robust fits east, north and, if asked, a rotation; it gives the final weights.
func robust(bs []block, centre plane.Pt, turn bool) (t [3]float64, w []float64) {
	w = make([]float64, len(bs))
	size := 2
	if turn {
		size = 3
	}
	residual := func(i int) float64 {
		r := bs[i].row(centre)
		return bs[i].lateral - r[0]*t[0] - r[1]*t[1] - r[2]*t[2]
	}
	for round := range 60 {
		scale := 0.0
		if round >= 30 {
			var sizes []float64
			for i := range bs {
				sizes = append(sizes, math.Abs(residual(i))/bs[i].sigma)
			}
			scale = 4.685 * max(1, 1.4826*median(sizes))
		}
		for i := range bs {
			z := math.Abs(residual(i)) / bs[i].sigma
			switch {
			case round < 30:
				w[i] = bs[i].weight / max(z, 0.1)
			case z < scale:
				w[i] = bs[i].weight * math.Pow(1-z*z/scale/scale, 2)
			default:
				w[i] = 0
			}
		}
		var a [3][3]float64
		var y [3]float64
		for i := range bs {
			r := bs[i].row(centre)
			for p := range size {
				y[p] += w[i] * r[p] * bs[i].lateral
				for q := range size {
					a[p][q] += w[i] * r[p] * r[q]
				}
			}
		}
		t = solve(ridged(a, size), y)
	}
	return t, w
}

// ridged makes equations solvable whose lines all run one way: the direction
// that they say nothing about is left at zero, and for parameters not asked for
// the solution is zero.
func ridged(a [3][3]float64, size int) [3][3]float64 {
	trace := a[0][0] + a[1][1]
	for p := range 3 {
		if p >= size {
			a[p] = [3]float64{}
			a[p][p] = 1
		} else {
			a[p][p] += 1e-9*trace + 1e-12
		}
	}
	return a
}

// solve solves three equations by Cramer's rule.
func solve(a [3][3]float64, y [3]float64) [3]float64 {
	d := det(a)
	var out [3]float64
	for k := range 3 {
		b := a
		for p := range 3 {
			b[p][k] = y[p]
		}
		out[k] = det(b) / d
	}
	return out
}

func det(a [3][3]float64) float64 {
	return a[0][0]*(a[1][1]*a[2][2]-a[1][2]*a[2][1]) - a[0][1]*(a[1][0]*a[2][2]-a[1][2]*a[2][0]) + a[0][2]*(a[1][0]*a[2][1]-a[1][1]*a[2][0])
}

// spread finds the covariance of the displacement. Blocks of one pair share
// their error: the pair is the unit. What all pairs share – the slow satellite
// error of the day – does not go down with their number.
func (s *Shift) spread(bs []block, t [3]float64, w []float64) {
	var a, model, seen [2][2]float64
	scores := map[int][2]float64{}
	own := map[int][2][2]float64{}
	var order []int
	var shared, sum float64
	for i := range bs {
		b := &bs[i]
		n := [2]float64{b.n.E, b.n.N}
		r := b.lateral - n[0]*t[0] - n[1]*t[1]
		score, m := scores[b.pair], own[b.pair]
		if _, ok := scores[b.pair]; !ok {
			order = append(order, b.pair)
		}
		for p := range 2 {
			score[p] += w[i] * n[p] * r
			for q := range 2 {
				a[p][q] += w[i] * n[p] * n[q]
				m[p][q] += w[i] * n[p] * n[q] * b.sigma
			}
		}
		scores[b.pair], own[b.pair] = score, m
		shared, sum = shared+w[i]*b.shared, sum+w[i]
	}
	for _, k := range order {
		for p := range 2 {
			for q := range 2 {
				seen[p][q] += scores[k][p] * scores[k][q]
				for o := range 2 {
					// A pair whose own error is σ throughout moves the sum by σ·Σw·n·nᵀ.
					model[p][q] += own[k][p][o] * own[k][q][o]
				}
			}
		}
	}
	if n := float64(len(order)); n > 1 {
		for p := range 2 {
			for q := range 2 {
				seen[p][q] *= n / (n - 1)
			}
		}
	}
	inv := inverse2(a)
	c := sandwich(inv, model)
	if e := sandwich(inv, seen); e[0][0]+e[1][1] > c[0][0]+c[1][1] {
		c = e
	}
	if sum > 0 {
		c[0][0] += square(shared / sum)
		c[1][1] += square(shared / sum)
	}
	s.cov = c
	lo, hi, dir := eigen2(a)
	if lo < 0.02*hi {
		s.Across, s.AcrossNormal = true, dir
		// Nothing is known along the lines.
		e := plane.Pt{E: s.East, N: s.North}
		e = dir.Mul(e.Dot(dir))
		s.East, s.North = e.E, e.N
		v := c[0][0]*dir.E*dir.E + 2*c[0][1]*dir.E*dir.N + c[1][1]*dir.N*dir.N
		s.cov = [2][2]float64{{v, 0}, {0, v}}
	}
	s.SigmaEast, s.SigmaNorth = math.Sqrt(s.cov[0][0]), math.Sqrt(s.cov[1][1])
	_, big, _ := eigen2(s.cov)
	s.Sigma = math.Sqrt(big)
}

// judge says whether the displacement is one: it is many σ, it matters, and most
// pairs show it.
func (s *Shift) judge(bs []block) {
	left, before, weight := map[int]float64{}, map[int]float64{}, map[int]float64{}
	for i := range bs {
		b := &bs[i]
		z := b.lateral - b.n.Dot(s.at(b.at))
		left[b.pair] += b.weight * z * z
		before[b.pair] += b.weight * b.lateral * b.lateral
		weight[b.pair] += b.weight * b.sigma * b.sigma
	}
	better := 0
	for pair := range left {
		if left[pair]/weight[pair] <= k95*k95 {
			s.Agreeing++
		}
		if left[pair] < before[pair] {
			better++
		}
	}
	inv := inverse2(s.cov)
	v := s.vector()
	chi2 := v.E*v.E*inv[0][0] + 2*v.E*v.N*inv[0][1] + v.N*v.N*inv[1][1]
	s.Significant = s.Pairs >= leastPairs && (chi2 > chi2Two && v.Len() > leastFit || known(s.Rotation)) &&
		2*s.Agreeing > s.Pairs && 3*better >= 2*s.Pairs
}

// turn looks for a rotation beside the displacement. It needs two pairs more: a
// few lines that moved can always be turned into each other.
func (s *Shift) turn(bs []block) {
	if s.Pairs < leastPairs+2 || s.Across {
		return
	}
	t, w := robust(bs, s.centre, true)
	var a [3][3]float64
	var rr, ww, far float64
	for i := range bs {
		r := bs[i].row(s.centre)
		for p := range 3 {
			for q := range 3 {
				a[p][q] += w[i] * r[p] * r[q]
			}
		}
		z := bs[i].lateral - r[0]*t[0] - r[1]*t[1] - r[2]*t[2]
		rr, ww = rr+w[i]*z*z, ww+w[i]
		far = max(far, bs[i].at.Sub(s.centre).Len())
	}
	// The variance of the third parameter is the last element of the inverse.
	v := solve(ridged(a, 3), [3]float64{0, 0, 1})[2]
	sigma := math.Sqrt(v * max(1, rr/float64(max(1, s.Pairs-2))))
	if math.Abs(t[2]) < leastRot*sigma || math.Abs(t[2])*far < 2*leastFit {
		return
	}
	s.East, s.North, s.theta = t[0], t[1], t[2]
	s.Rotation, s.RotationSig = t[2]*180/math.Pi, sigma*180/math.Pi
}

func inverse2(a [2][2]float64) [2][2]float64 {
	trace := a[0][0] + a[1][1]
	a[0][0] += 1e-9*trace + 1e-15
	a[1][1] += 1e-9*trace + 1e-15
	d := a[0][0]*a[1][1] - a[0][1]*a[1][0]
	return [2][2]float64{{a[1][1] / d, -a[0][1] / d}, {-a[1][0] / d, a[0][0] / d}}
}

// sandwich gives a·b·a for symmetric matrices.
func sandwich(a, b [2][2]float64) [2][2]float64 {
	var out [2][2]float64
	for p := range 2 {
		for q := range 2 {
			for i := range 2 {
				for j := range 2 {
					out[p][q] += a[p][i] * b[i][j] * a[j][q]
				}
			}
		}
	}
	return out
}

// eigen2 gives the eigenvalues of a symmetric matrix and the direction of the
// larger.
func eigen2(a [2][2]float64) (lo, hi float64, dir plane.Pt) {
	mean, diff := (a[0][0]+a[1][1])/2, (a[0][0]-a[1][1])/2
	r := math.Hypot(diff, a[0][1])
	angle := math.Atan2(a[0][1], diff) / 2
	return mean - r, mean + r, plane.Pt{E: math.Cos(angle), N: math.Sin(angle)}
}

func (s *Shift) vector() plane.Pt { return plane.Pt{E: s.East, N: s.North} }

func (s *Shift) size() float64 { return s.vector().Len() }
