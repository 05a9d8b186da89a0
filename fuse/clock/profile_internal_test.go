package clock

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"tracemap/fuse/noise"
)

// covariance of two values of the law.
func (c *course) covariance(a, b *sounding) (v float64) {
	d := math.Abs(a.s-b.s) / c.reach
	if c.smooth {
		v = c.spread * (1 + math.Sqrt(3)*d) * math.Exp(-math.Sqrt(3)*d)
	} else {
		v = c.spread * math.Exp(-d)
	}
	if a == b {
		v += c.white
	}
	if a.second == b.second {
		v += anyLevel
	}
	if a.second && b.second {
		v += passError * math.Exp(-math.Abs(a.s-b.s)/noise.DepthLength)
	}
	return v
}

// draw makes values of the law at the soundings' stations.
func (c *course) draw(rng *rand.Rand, v []sounding) []sounding {
	cov := mat.NewSymDense(len(v), nil)
	for i := range v {
		for j := range v[:i+1] {
			cov.SetSym(i, j, c.covariance(&v[i], &v[j]))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		panic("no covariance")
	}
	var l mat.TriDense
	chol.LTo(&l)
	e := mat.NewVecDense(len(v), nil)
	for i := range v {
		e.SetVec(i, rng.NormFloat64())
	}
	var y mat.VecDense
	y.MulVec(&l, e)
	for i := range v {
		v[i].y = y.AtVec(i)
	}
	return v
}

// stations are n places along a line, in order.
func stations(rng *rand.Rand, n int, length float64, second bool) []sounding {
	v := make([]sounding, n)
	for k := range v {
		v[k] = sounding{s: length * rng.Float64(), second: second}
	}
	inOrder(v)
	return v
}

func inOrder(v []sounding) {
	slices.SortStableFunc(v, func(a, b sounding) int { return cmp.Compare(a.s, b.s) })
	for k := range v {
		v[k].reading = k
	}
}

// The filter's log-likelihood against the normal density with the covariance matrix
// written out.
func TestFilterIsTheNormalDensity(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	for _, smooth := range []bool{false, true} {
		c := course{white: 0.02, spread: 0.3, reach: 7, smooth: smooth, known: true}
		const n = 20
		v := stations(rng, n, 60, false)
		for k := range v {
			v[k].second = k%3 == 0
		}
		c.draw(rng, v)
		cov := mat.NewSymDense(n, nil)
		off := mat.NewVecDense(n, nil)
		for i := range v {
			off.SetVec(i, v[i].y)
			for j := range v[:i+1] {
				cov.SetSym(i, j, c.covariance(&v[i], &v[j]))
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(cov) {
			t.Fatal("no covariance")
		}
		var solved mat.VecDense
		if err := chol.SolveVecTo(&solved, off); err != nil {
			t.Fatal(err)
		}
		want := -0.5 * (chol.LogDet() + mat.Dot(off, &solved))
		k := c.filter()
		var got float64
		for i := range v {
			got += k.next(&v[i])
		}
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("smooth %v: %v, the density is %v", smooth, got, want)
		}
	}
}

// The law is found again from what it makes: the share of noise and the smoothness decide
// how much one reading foretells of the next.
func TestCourseIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	for _, smooth := range []bool{false, true} {
		c := course{white: 0.01, spread: 0.1, reach: 16, smooth: smooth}
		var passes [][]sounding
		for range 30 {
			passes = append(passes, c.draw(rng, stations(rng, 100, 300, false)))
		}
		got := courseOf(passes)
		if got.white < 0.007 || got.white > 0.014 || got.spread < 0.04 || got.spread > 0.25 || got.reach < 8 || got.reach > 32 || got.smooth != smooth {
			t.Errorf("%+v; made with %+v", got, c)
		}
	}
}

// Two passes that have nothing to do with one another: that the Bayes factor exceeds e^L
// has a chance of e^−L at the most (Markov's inequality, its expectation being 1). Two
// over one line exceed it nearly always.
func TestChanceAgreementIsRare(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 10))
	c := course{white: 0.002, spread: 0.05, reach: 16, known: true}
	run := func(v []sounding) (l float64) {
		k := c.filter()
		for i := range v {
			l += k.next(&v[i])
		}
		return l
	}
	const pairs = 3000
	over, found := map[float64]int{}, 0
	for range pairs {
		a := c.draw(rng, stations(rng, 25, 100, false))
		b := c.draw(rng, stations(rng, 25, 100, true))
		both := append(slices.Clone(a), b...)
		inOrder(both)
		factor := run(both) - run(a) - run(b)
		for _, l := range []float64{1, 3} {
			if factor > l {
				over[l]++
			}
		}
		both = stations(rng, 50, 100, false)
		for k := range both {
			both[k].second = k%2 == 1
		}
		c.draw(rng, both)
		a, b = a[:0], b[:0]
		for _, v := range both {
			if v.second {
				b = append(b, v)
			} else {
				a = append(a, v)
			}
		}
		if run(both)-run(a)-run(b) > 3 {
			found++
		}
	}
	for l, n := range over {
		if share := float64(n) / pairs; share > math.Exp(-l)+3*math.Sqrt(math.Exp(-l)/pairs) {
			t.Errorf("above %v by chance in %.2f %% of the pairs", l, 100*share)
		}
	}
	if found < pairs*9/10 {
		t.Errorf("one line is known in %d of %d pairs", found, pairs)
	}
}
