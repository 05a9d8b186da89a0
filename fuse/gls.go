package fuse

import (
	"math"
	"slices"
)

// A glsFit is a generalised least-squares fit of y = Xβ + e with Cov(e) = C:
// β̂ = (XᵀC⁻¹X + P)⁻¹XᵀC⁻¹y, where P holds weak prior information on β.
// (Aitken, Proc. Roy. Soc. Edinburgh 55, 1935.)
type glsFit struct {
	beta []float64
	// normal is the triangle of XᵀC⁻¹X + P, whose inverse is the covariance of β̂.
	normal *triangle
	// q is (y−Xβ̂)ᵀC⁻¹(y−Xβ̂): χ² with n−p degrees of freedom under the model.
	q float64
	// logDet is ln|C| + ln|XᵀC⁻¹X|, for the restricted likelihood.
	logDet float64
	c      *covariance
	hx     []stretched // L⁻¹X with LLᵀ = C, a column a parameter
	cr     []float64   // C⁻¹(y − Xβ̂)
}

// solveGLS fits; x has a column a parameter. prior, when set, gives 1/σ² of a
// zero-mean prior for each parameter. Cost n²p within a block of C.
func solveGLS(y []float64, x []stretched, c *covariance, prior []float64) (*glsFit, error) {
	p := len(x)
	f := &glsFit{c: c, hx: make([]stretched, p)}
	for k := range x {
		f.hx[k] = c.halfOf(x[k])
	}
	normal := newSymmetric(p)
	for a := range p {
		row := normal.row(a)
		for b := range row {
			row[b] = f.hx[a].dot(f.hx[b])
		}
		if prior != nil {
			row[a] += prior[a]
		}
	}
	var err error
	if f.normal, err = normal.factorize(); err != nil {
		return nil, err
	}
	f.beta, f.cr = f.answer(y)
	f.q = dot(f.cr, f.cr)
	c.rest(f.cr)
	f.logDet = c.logDet() + f.normal.logDet()
	return f, nil
}

// answer gives β̂ and L⁻¹(y − Xβ̂) for observations y of the same design and covariance.
func (f *glsFit) answer(y []float64) (beta, residual []float64) {
	r := slices.Clone(y)
	f.c.half(r)
	beta = make([]float64, len(f.hx))
	for k, h := range f.hx {
		beta[k] = dot(h.v, r[h.from:])
	}
	f.normal.solve(beta)
	for k, h := range f.hx {
		for i, v := range h.v {
			r[h.from+i] -= v * beta[k]
		}
	}
	return beta, r
}

// A stretched vector is zero before from and behind the end of v: most of a long
// line knows nothing of one of its parameters.
type stretched struct {
	from int
	v    []float64
}

func stretchOf(v []float64) stretched {
	from, to := 0, len(v)
	for from < to && v[from] == 0 {
		from++
	}
	for to > from && v[to-1] == 0 {
		to--
	}
	return stretched{from, v[from:to]}
}

// at gives element i.
func (s stretched) at(i int) float64 {
	if i < s.from || i >= s.from+len(s.v) {
		return 0
	}
	return s.v[i-s.from]
}

func (s stretched) dot(o stretched) float64 {
	from, to := max(s.from, o.from), min(s.from+len(s.v), o.from+len(o.v))
	if from >= to {
		return 0
	}
	return dot(s.v[from-s.from:to-s.from], o.v[from-o.from:])
}

// variance of xᵀβ̂.
func (f *glsFit) variance(x []float64) float64 {
	h := slices.Clone(x)
	f.normal.half(h)
	return dot(h, h)
}

// leaveOneOut gives, for each observation, its difference from what the others
// predict for it, and the σ of that difference. (With P = C⁻¹ − C⁻¹X·Cov·XᵀC⁻¹
// it is (Py)ᵢ/Pᵢᵢ with variance 1/Pᵢᵢ.)
func (f *glsFit) leaveOneOut() (diff, sigma []float64) {
	n := len(f.cr)
	inv := f.c.inverseDiagonal()
	diff, sigma = make([]float64, n), make([]float64, n)
	cx := make([]stretched, len(f.hx)) // C⁻¹X
	for k, h := range f.hx {
		cx[k] = f.c.restOf(h)
	}
	row := make([]float64, len(cx))
	for i := range n {
		for k := range cx {
			row[k] = cx[k].at(i)
		}
		f.normal.half(row)
		m := max(inv[i]-dot(row, row), 1e-12)
		diff[i] = f.cr[i] / m
		sigma[i] = 1 / math.Sqrt(m)
	}
	return diff, sigma
}

// A kriged value is β's part plus what the observations say of a random part with
// covariances k to them and variance k0 at the place: value xᵀβ̂ + kᵀC⁻¹r, variance
// k0 − kᵀC⁻¹k + (x − XᵀC⁻¹k)ᵀ Cov (x − XᵀC⁻¹k). (Universal kriging.)
func (f *glsFit) krige(x, k []float64, k0 float64) (value, variance float64) {
	value = dot(x, f.beta) + dot(k, f.cr)
	half := slices.Clone(k)
	f.c.half(half)
	h := stretchOf(half)
	d := slices.Clone(x)
	for c := range d {
		d[c] -= f.hx[c].dot(h)
	}
	return value, max(k0-h.dot(h), 0) + f.variance(d)
}
