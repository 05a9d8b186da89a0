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

// A triangle is the lower triangle L of a positive definite matrix LLᵀ. Of row i
// the first of first[i] elements are zeros.
type triangle struct {
	symmetric
	first []int
}

// factorize turns the matrix into its triangle, in its place. What a row begins
// with zeros stays zero (a skyline: the parameters of far stretches of a line know
// nothing of one another), and costs nothing.
func (s *symmetric) factorize() (*triangle, error) {
	first := make([]int, s.n)
	for i := range s.n {
		ri := s.row(i)
		from := 0
		for from < i && ri[from] == 0 {
			from++
		}
		first[i] = from
		for j := from; j < i; j++ {
			rj := s.row(j)
			k := max(from, first[j])
			ri[j] = (ri[j] - dot(rj[k:j], ri[k:])) / rj[j]
		}
		v := ri[i] - dot(ri[from:i], ri[from:])
		if !(v > 0) {
			return nil, errSingular
		}
		ri[i] = math.Sqrt(v)
	}
	return &triangle{*s, first}, nil
}

// solve turns b into C⁻¹b, in its place.
func (t *triangle) solve(b []float64) {
	t.half(b)
	t.rest(b)
}

// half turns b into L⁻¹b, in its place: the dot product of two such is that of
// the vectors through C⁻¹.
func (t *triangle) half(b []float64) {
	from := 0 // what begins with zeros keeps them
	for from < t.n && b[from] == 0 {
		from++
	}
	t.halfFrom(from, b[from:])
}

// halfFrom is half for a vector that is zero before from; b holds the rest of it.
func (t *triangle) halfFrom(from int, b []float64) {
	for i := from; i < t.n; i++ {
		ri := t.row(i)
		k := max(from, t.first[i])
		b[i-from] = (b[i-from] - dot(ri[k:i], b[k-from:])) / ri[i]
	}
}

// rest turns b into L⁻ᵀb, in its place.
func (t *triangle) rest(b []float64) {
	for i := t.n - 1; i >= 0; i-- {
		ri := t.row(i)
		v := b[i] / ri[i]
		b[i] = v
		head := b[t.first[i]:i]
		for j, x := range ri[t.first[i]:i] {
			head[j] -= x * v
		}
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

// largestBlock is how many observations may have a covariance with one another.
// Along a line so many readings reach a kilometre, far beyond any error that they
// share; without the cut the cost would grow with the cube of a line's readings.
const largestBlock = 300

// A covariance is that of observations in order along a line, factorized in
// blocks: what lies in different blocks counts as independent.
type covariance struct{ blocks []*triangle }

// newCovariance fills the lower triangle row by row, and factorizes: row gives
// the covariances of i with from and those that follow it.
func newCovariance(n int, row func(i, from int, to []float64)) (*covariance, error) {
	c := &covariance{}
	count := (n + largestBlock - 1) / largestBlock
	for k := range count {
		from, to := k*n/count, (k+1)*n/count
		s := newSymmetric(to - from)
		for i := range s.n {
			row(from+i, from, s.row(i))
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

// halfOf is L⁻¹s, in memory of its own.
func (c *covariance) halfOf(s stretched) stretched {
	out := stretched{from: s.from, v: make([]float64, c.behind(s.from+len(s.v))-s.from)}
	copy(out.v, s.v)
	start := 0
	for _, t := range c.blocks {
		end := start + t.n
		if lo := max(s.from, start); lo < min(end, s.from+len(out.v)) {
			t.halfFrom(lo-start, out.v[lo-s.from:end-s.from])
		}
		start = end
	}
	return out
}

// behind is where the block ends that holds what lies before end.
func (c *covariance) behind(end int) int {
	at := 0
	for _, t := range c.blocks {
		if at >= end {
			break
		}
		at += t.n
	}
	return max(at, end)
}

// restOf is L⁻ᵀs, in memory of its own.
func (c *covariance) restOf(s stretched) stretched {
	start := 0
	out := stretched{from: -1}
	for _, t := range c.blocks {
		end := start + t.n
		if lo, hi := max(s.from, start), min(end, s.from+len(s.v)); lo < hi {
			if out.from < 0 {
				out.from = start
			}
			block := make([]float64, t.n)
			copy(block[lo-start:], s.v[lo-s.from:hi-s.from])
			t.rest(block)
			out.v = append(out.v, block...)
		}
		start = end
	}
	out.from = max(out.from, 0)
	return out
}

// rest turns b into L⁻ᵀb, in its place.
func (c *covariance) rest(b []float64) { c.each(b, (*triangle).rest) }

// logDet is ln|C|.
func (c *covariance) logDet() float64 {
	var l float64
	for _, t := range c.blocks {
		l += t.logDet()
	}
	return l
}

// inverseDiagonal gives the diagonal of C⁻¹ = L⁻ᵀL⁻¹.
func (c *covariance) inverseDiagonal() []float64 {
	var out []float64
	for _, t := range c.blocks {
		e := make([]float64, t.n)
		for i := range t.n {
			clear(e)
			e[i] = 1
			t.half(e)
			out = append(out, dot(e[i:], e[i:]))
		}
	}
	return out
}

// dot is the scalar product of a and the first of b. Four sums at a time do not
// wait for one another.
func dot(a, b []float64) float64 {
	b = b[:len(a)]
	var s0, s1, s2, s3 float64
	k := 0
	for ; k+4 <= len(a); k += 4 {
		x, y := a[k:k+4:k+4], b[k:k+4:k+4]
		s0 += x[0] * y[0]
		s1 += x[1] * y[1]
		s2 += x[2] * y[2]
		s3 += x[3] * y[3]
	}
	for ; k < len(a); k++ {
		s0 += a[k] * b[k]
	}
	return (s0 + s1) + (s2 + s3)
}
