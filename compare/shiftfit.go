package compare

import (
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// An observation is what a line shows of the displacement in one direction: its
// blocks taken together, for what moves a line moves all of it.
type observation struct {
	line   int
	n, at  plane.Pt
	value  float64 // m
	noise  float64 // m²: what is different from block to block
	record float64 // m²: the record's own, one displacement of the line
	shared float64 // one σ of what all lines share, m
}

// least noise, m²: half a centimetre, to which drawings are kept.
const leastNoise = 0.005 * 0.005

// observations are those of all lines, one or two each, and the number of lines.
// A line with bends shows both components of its displacement.
func observations(bs []block) (out []observation, lines int) {
	for from := 0; from < len(bs); {
		to := from
		for to < len(bs) && bs[to].line == bs[from].line {
			to++
		}
		out = append(out, observe(bs[from:to])...)
		from = to
		lines++
	}
	return out, lines
}

func observe(bs []block) []observation {
	var a [2][2]float64
	var y plane.Pt
	var record, shared, weight float64
	for i := range bs {
		b := &bs[i]
		w := b.weight
		a[0][0] += w * b.n.E * b.n.E
		a[0][1] += w * b.n.E * b.n.N
		a[1][1] += w * b.n.N * b.n.N
		y = y.Add(b.n.Mul(w * b.lateral))
		record, shared, weight = record+w*b.record*b.record, shared+w*b.shared, weight+w
	}
	a[1][0] = a[0][1]
	lo, hi, dir := eigen2(a)
	var out []observation
	for k, n := range []plane.Pt{dir, dir.Left()} {
		info := []float64{hi, lo}[k]
		if k == 1 && lo < oneWay*hi {
			break
		}
		o := observation{line: bs[0].line, n: n, value: y.Dot(n) / info, noise: max(leastNoise, 1/info), record: record / weight, shared: shared / weight}
		var sum float64
		for i := range bs {
			w := bs[i].weight * square(bs[i].n.Dot(n))
			o.at, sum = o.at.Add(bs[i].at.Mul(w)), sum+w
		}
		o.at = o.at.Mul(1 / sum)
		out = append(out, o)
	}
	return out
}

// The parameters of a fit beside east and north.
const (
	rotation = 2
	scale    = 3
)

// A fit is a displacement, and what else is asked for, with its covariance once by
// the scatter of the lines and once by what both sides tell.
type fit struct {
	columns    []int
	t          [4]float64
	seen, told [4][4]float64
	free       float64 // degrees of freedom of the scatter
	shared     float64 // one σ of what all lines share, m
	extra      float64 // m²: variance of a line's displacement of its own, as seen
	lines, set int     // lines, and how many of them are set aside
	aside      map[int]bool
	across     bool // in one direction only
	normal     plane.Pt
	centre     plane.Pt
	reach      float64
}

func (f *fit) uses(column int) bool { return slices.Contains(f.columns, column) }

// row is an observation's part in the equations: value = n·(t + θ·J(p − c) + κ·(p − c)).
func (f *fit) row(o *observation) [4]float64 {
	d := o.at.Sub(f.centre)
	return [4]float64{o.n.E, o.n.N, o.n.Dot(d.Left()), o.n.Dot(d)}
}

func (f *fit) residual(o *observation) float64 {
	r := f.row(o)
	return o.value - r[0]*f.t[0] - r[1]*f.t[1] - r[2]*f.t[2] - r[3]*f.t[3]
}

// level is the chance that a test may use, where lines were set aside: as many
// choices of them as there are were tried.
func (f *fit) level(chance float64) float64 {
	for k := range f.set {
		chance *= float64(k+1) / float64(f.lines-k)
	}
	return chance
}

// mostAside is the share of the lines that may be set aside as moved by themselves.
const mostAside = 0.34

// fitRobustly fits by absolute values first, which no minority can turn, then by
// Tukey's biweight (P. Huber and E. Ronchetti, Robust Statistics, 2nd ed., 2009,
// §7.8). Lines that get no weight are set aside as moved by themselves, and the
// rest is fitted by least squares, with the scatter that it shows.
func fitRobustly(obs []observation, lines int, columns ...int) *fit {
	f := &fit{columns: columns, lines: lines, aside: map[int]bool{}}
	for i := range obs {
		f.centre = f.centre.Add(obs[i].at.Mul(1 / float64(len(obs))))
		f.shared += obs[i].shared / float64(len(obs))
	}
	for i := range obs {
		f.reach = max(f.reach, obs[i].at.Dist(f.centre))
	}
	w := make([]float64, len(obs))
	for round := range 60 {
		limit := math.Inf(1)
		if round >= 30 {
			var sizes []float64
			for i := range obs {
				sizes = append(sizes, math.Abs(f.residual(&obs[i]))/math.Sqrt(obs[i].noise+obs[i].record))
			}
			limit = 4.685 * max(1, 1.4826*median(sizes))
		}
		for i := range obs {
			v := obs[i].noise + obs[i].record
			z := math.Abs(f.residual(&obs[i])) / math.Sqrt(v)
			switch {
			case round == 0:
				w[i] = 1 / v
			case round < 30:
				w[i] = 1 / v / max(z, 0.1)
			case z < limit:
				w[i] = square(1-z*z/limit/limit) / v
			default:
				w[i] = 0
			}
		}
		f.solve(obs, w)
	}
	for i := range obs {
		if w[i] == 0 {
			f.aside[obs[i].line] = true
		}
	}
	if f.set = len(f.aside); float64(f.set) > mostAside*float64(lines) || lines-f.set < leastPairs {
		f.aside, f.set = map[int]bool{}, 0
	}
	f.leastSquares(obs)
	return f
}

// leastSquares fits the lines that are not set aside. The variance of a line's
// own displacement is the one that makes the residuals as large as their degrees
// of freedom ask for (R. Paule and J. Mandel, J. Res. NBS 87, 1982).
func (f *fit) leastSquares(all []observation) {
	var obs []observation
	record := 0.0
	for i := range all {
		if !f.aside[all[i].line] {
			obs = append(obs, all[i])
			record += all[i].record
		}
	}
	record /= float64(len(obs))
	w := make([]float64, len(obs))
	weigh := func(extra func(*observation) float64) [4][4]float64 {
		for i := range obs {
			w[i] = 1 / (obs[i].noise + extra(&obs[i]))
		}
		return f.solve(obs, w)
	}
	f.told = weigh(func(o *observation) float64 { return o.record })
	parameters := float64(len(f.columns))
	if f.across {
		parameters--
	}
	left := func(extra float64) float64 { // of the residuals, beyond their degrees of freedom
		weigh(func(*observation) float64 { return extra })
		sum := parameters - float64(len(obs))
		for i := range obs {
			sum += square(f.residual(&obs[i])) * w[i]
		}
		return sum
	}
	lo, hi := 0.0, 0.0
	if float64(len(obs)) > parameters && left(0) > 0 {
		for hi = 1e-4; left(hi) > 0 && hi < 1e6; hi *= 4 {
			lo = hi
		}
		for range 50 {
			if mid := (lo + hi) / 2; left(mid) > 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
	}
	f.extra = hi
	f.seen = weigh(func(*observation) float64 { return f.extra })
	// What is less certain by itself than lines scatter tells little of the scatter.
	scatter := max(f.extra, record, leastNoise)
	f.free = -parameters
	for i := range obs {
		f.free += scatter / (scatter + obs[i].noise)
	}
}

// solve solves the equations with weights and returns the covariance. Of lines that
// all run one way the displacement across them is found only.
func (f *fit) solve(obs []observation, w []float64) [4][4]float64 {
	var a [4][4]float64
	var y [4]float64
	for i := range obs {
		r := f.row(&obs[i])
		for _, p := range f.columns {
			y[p] += w[i] * r[p] * obs[i].value
			for _, q := range f.columns {
				a[p][q] += w[i] * r[p] * r[q]
			}
		}
	}
	lo, hi, dir := eigen2([2][2]float64{{a[0][0], a[0][1]}, {a[1][0], a[1][1]}})
	f.across, f.normal = lo < oneWay*hi, dir
	if f.across && len(f.columns) == 2 {
		t := dir.Mul((y[0]*dir.E + y[1]*dir.N) / hi)
		f.t = [4]float64{t.E, t.N}
		return [4][4]float64{{dir.E * dir.E / hi, dir.E * dir.N / hi}, {dir.E * dir.N / hi, dir.N * dir.N / hi}}
	}
	trace := a[0][0] + a[1][1]
	for p := range 4 {
		if f.uses(p) {
			a[p][p] += 1e-9*max(trace, a[p][p]) + 1e-12
		} else {
			a[p][p] = 1
		}
	}
	inverse := invert(a)
	f.t = [4]float64{}
	for _, p := range f.columns {
		for _, q := range f.columns {
			f.t[p] += inverse[p][q] * y[q]
		}
	}
	return inverse
}

// displacement is the covariance of east and north.
func (f *fit) displacement(c [4][4]float64) [2][2]float64 {
	return [2][2]float64{{c[0][0], c[0][1]}, {c[1][0], c[1][1]}}
}

// explained counts the lines that the displacement explains within what both sides
// tell and the lines scatter, and those that it brings much nearer to the record,
// or on which it would not show.
func (f *fit) explained(s *Shift, obs []observation) (agreeing, better int) {
	for from := 0; from < len(obs); {
		var z, shows, after, before float64
		to := from
		for ; to < len(obs) && obs[to].line == obs[from].line; to++ {
			o := &obs[to]
			by := o.n.Dot(s.at(o.at))
			left, v := o.value-by, o.noise+max(o.record, f.extra)+square(o.shared)
			z, shows = z+left*left/v, shows+by*by/v
			after, before = after+left*left, before+o.value*o.value
		}
		if !f.aside[obs[from].line] && z <= chi2Most[to-from-1] {
			agreeing++
		}
		if shows <= chi2Most[to-from-1] || after < remains*before {
			better++
		}
		from = to
	}
	return agreeing, better
}

// chi2Most is the 95 % quantile of χ² of one and two degrees of freedom.
var chi2Most = [...]float64{3.841, 5.991}

// bothWays reports whether every line shows both components of its displacement,
// each with a σ below half of it.
func (f *fit) bothWays(obs []observation) bool {
	size := math.Hypot(f.t[0], f.t[1])
	for i := range obs {
		if math.Sqrt(obs[i].noise) > size/2 {
			return false
		}
	}
	return len(obs) == 2*f.lines
}

// invert inverts a symmetric, positive definite matrix by Gauss and Jordan.
func invert(a [4][4]float64) [4][4]float64 {
	var out [4][4]float64
	for p := range 4 {
		out[p][p] = 1
	}
	for p := range 4 {
		k := 1 / a[p][p]
		for q := range 4 {
			a[p][q] *= k
			out[p][q] *= k
		}
		for r := range 4 {
			if r == p {
				continue
			}
			k := a[r][p]
			for q := range 4 {
				a[r][q] -= k * a[p][q]
				out[r][q] -= k * out[p][q]
			}
		}
	}
	return out
}

func inverse2(a [2][2]float64) [2][2]float64 {
	d := a[0][0]*a[1][1] - a[0][1]*a[1][0]
	return [2][2]float64{{a[1][1] / d, -a[0][1] / d}, {-a[1][0] / d, a[0][0] / d}}
}

// eigen2 returns the eigenvalues of a symmetric matrix and the direction of the
// larger.
func eigen2(a [2][2]float64) (lo, hi float64, dir plane.Pt) {
	mean, diff := (a[0][0]+a[1][1])/2, (a[0][0]-a[1][1])/2
	r := math.Hypot(diff, a[0][1])
	angle := math.Atan2(a[0][1], diff) / 2
	return mean - r, mean + r, plane.Pt{E: math.Cos(angle), N: math.Sin(angle)}
}
