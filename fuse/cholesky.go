package fuse

import (
	"errors"
	"math"
)

// errSingular says that observations do not fix a model's parameters.
var errSingular = errors.New("parameters not determined by the readings")

// A symmetric matrix, of which the lower triangle is kept, row by row. It is
// small (tens of rows), made thousands of times a day and used at once: a plain
// loop does that several times faster than a general library, which the tests
// hold it against.
type symmetric struct {
	n int
	a []float64 // row i begins at i(i+1)/2
}

func newSymmetric(n int) *symmetric { return &symmetric{n, make([]float64, n*(n+1)/2)} }

// row gives the elements (i, 0) … (i, i).
func (s *symmetric) row(i int) []float64 { return s.a[i*(i+1)/2 : i*(i+1)/2+i+1] }

// at gives element (i, j).
func (s *symmetric) at(i, j int) float64 {
	if j > i {
		i, j = j, i
	}
	return s.a[i*(i+1)/2+j]
}

// A factor is the lower triangle L of a positive definite matrix LLᵀ.
type factor struct{ symmetric }

// factorize turns the matrix into its factor, in its place.
func (s *symmetric) factorize() (*factor, error) {
	for i := range s.n {
		ri := s.row(i)
		for j := range i {
			rj := s.row(j)
			v := ri[j]
			for k := range j {
				v -= ri[k] * rj[k]
			}
			ri[j] = v / rj[j]
		}
		v := ri[i]
		for _, x := range ri[:i] {
			v -= x * x
		}
		if !(v > 0) {
			return nil, errSingular
		}
		ri[i] = math.Sqrt(v)
	}
	return &factor{*s}, nil
}

// solve turns b into C⁻¹b, in its place.
func (f *factor) solve(b []float64) {
	f.half(b)
	for i := f.n - 1; i >= 0; i-- {
		ri := f.row(i)
		b[i] /= ri[i]
		for j, x := range ri[:i] {
			b[j] -= x * b[i]
		}
	}
}

// half turns b into L⁻¹b, in its place: the dot product of two such is that of
// the vectors through C⁻¹.
func (f *factor) half(b []float64) {
	for i := range f.n {
		ri := f.row(i)
		v := b[i]
		for j, x := range ri[:i] {
			v -= x * b[j]
		}
		b[i] = v / ri[i]
	}
}

// logDet is ln|C|.
func (f *factor) logDet() float64 {
	var l float64
	for i := range f.n {
		l += math.Log(f.row(i)[i])
	}
	return 2 * l
}

// inverse gives C⁻¹.
func (f *factor) inverse() *symmetric {
	out := newSymmetric(f.n)
	e := make([]float64, f.n)
	for j := range f.n {
		clear(e)
		e[j] = 1
		f.solve(e)
		for i := j; i < f.n; i++ {
			out.row(i)[j] = e[i]
		}
	}
	return out
}

func dot(a, b []float64) float64 {
	var s float64
	for k, x := range a {
		s += x * b[k]
	}
	return s
}
