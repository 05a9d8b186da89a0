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

// A triangle is the lower triangle L of a positive definite matrix LLᵀ.
type triangle struct{ symmetric }

// factorize turns the matrix into its triangle, in its place.
func (s *symmetric) factorize() (*triangle, error) {
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
	return &triangle{*s}, nil
}

// solve turns b into C⁻¹b, in its place.
func (t *triangle) solve(b []float64) {
	t.half(b)
	for i := t.n - 1; i >= 0; i-- {
		ri := t.row(i)
		b[i] /= ri[i]
		for j, x := range ri[:i] {
			b[j] -= x * b[i]
		}
	}
}

// half turns b into L⁻¹b, in its place: the dot product of two such is that of
// the vectors through C⁻¹.
func (t *triangle) half(b []float64) {
	from := 0 // what begins with zeros keeps them
	for from < t.n && b[from] == 0 {
		from++
	}
	for i := from; i < t.n; i++ {
		ri := t.row(i)
		v := b[i]
		for j, x := range ri[from:i] {
			v -= x * b[from+j]
		}
		b[i] = v / ri[i]
	}
}

// logDet is ln|C|.
func (t *triangle) logDet() float64 {
	var l float64
	for i := range t.n {
		l += math.Log(t.row(i)[i])
	}
	return 2 * l
}

// inverse gives C⁻¹.
func (t *triangle) inverse() *symmetric {
	out := newSymmetric(t.n)
	e := make([]float64, t.n)
	for j := range t.n {
		clear(e)
		e[j] = 1
		t.solve(e)
		for i := j; i < t.n; i++ {
			out.row(i)[j] = e[i]
		}
	}
	return out
}

// largestBlock is how many observations may have a covariance with one another.
// Along a line so many readings reach a kilometre, far beyond any error that they
// share; without the cut the cost would grow with the cube of a line's readings.
const largestBlock = 300

// A covariance is that of observations in order along a line, factorized in
// blocks: what lies in different blocks counts as independent.
type covariance struct{ blocks []*triangle }

// newCovariance fills the lower triangle from cov(i, j), j ≤ i, and factorizes.
func newCovariance(n int, cov func(i, j int) float64) (*covariance, error) {
	c := &covariance{}
	count := (n + largestBlock - 1) / largestBlock
	for k := range count {
		from, to := k*n/count, (k+1)*n/count
		s := newSymmetric(to - from)
		for i := range s.n {
			row := s.row(i)
			for j := range row {
				row[j] = cov(from+i, from+j)
			}
		}
		t, err := s.factorize()
		if err != nil {
			return nil, err
		}
		c.blocks = append(c.blocks, t)
	}
	return c, nil
}

// each runs f over the blocks with their parts of b.
func (c *covariance) each(b []float64, f func(t *triangle, b []float64)) {
	for _, t := range c.blocks {
		f(t, b[:t.n])
		b = b[t.n:]
	}
}

// solve turns b into C⁻¹b, in its place.
func (c *covariance) solve(b []float64) { c.each(b, (*triangle).solve) }

// half turns b into L⁻¹b, in its place.
func (c *covariance) half(b []float64) { c.each(b, (*triangle).half) }

// logDet is ln|C|.
func (c *covariance) logDet() float64 {
	var l float64
	for _, t := range c.blocks {
		l += t.logDet()
	}
	return l
}

// inverseDiagonal gives the diagonal of C⁻¹.
func (c *covariance) inverseDiagonal() []float64 {
	var out []float64
	for _, t := range c.blocks {
		inv := t.inverse()
		for i := range t.n {
			out = append(out, inv.at(i, i))
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
