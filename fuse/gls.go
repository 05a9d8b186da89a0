package fuse

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// errSingular says that observations do not fix a model's parameters.
var errSingular = errors.New("parameters not determined by the readings")

// A glsFit is a generalised least-squares fit of y = Xβ + e with Cov(e) = C:
// β̂ = (XᵀC⁻¹X + P)⁻¹XᵀC⁻¹y, where P holds weak prior information on β.
// (Aitken, Proc. Roy. Soc. Edinburgh 55, 1935.)
type glsFit struct {
	beta []float64
	cov  *mat.SymDense // of β̂
	// q is (y−Xβ̂)ᵀC⁻¹(y−Xβ̂): χ² with n−p degrees of freedom under the model.
	q float64
	// logDet is ln|C| + ln|XᵀC⁻¹X|, for the restricted likelihood.
	logDet float64
	chol   mat.Cholesky
	cx     *mat.Dense // C⁻¹X
	cr     []float64  // C⁻¹(y − Xβ̂)
}

// solveGLS fits; x has a column a parameter. prior, when set, gives 1/σ² of a
// zero-mean prior for each parameter.
func solveGLS(y []float64, x *mat.Dense, c *mat.SymDense, prior []float64) (*glsFit, error) {
	n, p := x.Dims()
	f := &glsFit{}
	if !f.chol.Factorize(c) {
		return nil, errSingular
	}
	f.cx = mat.NewDense(n, p, nil)
	if err := f.chol.SolveTo(f.cx, x); err != nil && !isCondition(err) {
		return nil, errSingular
	}
	normal := mat.NewSymDense(p, nil)
	rhs := mat.NewVecDense(p, nil)
	yv := mat.NewVecDense(n, y)
	for a := range p {
		for b := a; b < p; b++ {
			normal.SetSym(a, b, mat.Dot(x.ColView(a), f.cx.ColView(b)))
		}
		rhs.SetVec(a, mat.Dot(f.cx.ColView(a), yv))
		if prior != nil {
			normal.SetSym(a, a, normal.At(a, a)+prior[a])
		}
	}
	var nc mat.Cholesky
	if !nc.Factorize(normal) {
		return nil, errSingular
	}
	beta := mat.NewVecDense(p, nil)
	if err := nc.SolveVecTo(beta, rhs); err != nil && !isCondition(err) {
		return nil, errSingular
	}
	f.beta = beta.RawVector().Data
	f.cov = mat.NewSymDense(p, nil)
	if err := nc.InverseTo(f.cov); err != nil && !isCondition(err) {
		return nil, errSingular
	}
	r := mat.NewVecDense(n, nil)
	r.MulVec(x, beta)
	r.SubVec(yv, r)
	cr := mat.NewVecDense(n, nil)
	if err := f.chol.SolveVecTo(cr, r); err != nil && !isCondition(err) {
		return nil, errSingular
	}
	f.cr = cr.RawVector().Data
	f.q = mat.Dot(r, cr)
	f.logDet = f.chol.LogDet() + nc.LogDet()
	return f, nil
}

// isCondition tells a warning about a poor condition from a failure.
func isCondition(err error) bool {
	var c mat.Condition
	return errors.As(err, &c) && !math.IsInf(float64(c), 1)
}

// variance of xᵀβ̂.
func (f *glsFit) variance(x []float64) float64 {
	v := mat.NewVecDense(len(x), x)
	return max(mat.Inner(v, f.cov, v), 0)
}

// leaveOneOut gives, for each observation, its difference from what the others
// predict for it, and the σ of that difference.
func (f *glsFit) leaveOneOut() (diff, sigma []float64) {
	n := len(f.cr)
	inv := mat.NewSymDense(n, nil)
	if err := f.chol.InverseTo(inv); err != nil && !isCondition(err) {
		return make([]float64, n), ones(n)
	}
	diff, sigma = make([]float64, n), make([]float64, n)
	var half mat.Dense
	half.Mul(f.cx, f.cov)
	for i := range n {
		m := inv.At(i, i) - mat.Dot(half.RowView(i), f.cx.RowView(i))
		m = max(m, 1e-12)
		diff[i] = f.cr[i] / m
		sigma[i] = 1 / math.Sqrt(m)
	}
	return diff, sigma
}

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}
