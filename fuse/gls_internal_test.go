package fuse

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"tracemap/internal/python"
)

// A task is a generalised least-squares problem.
type task struct {
	Y     []float64   `json:"y"`
	X     [][]float64 `json:"x"` // a column a parameter
	C     [][]float64 `json:"c"`
	Prior []float64   `json:"prior"`
	// A place to predict at: its row of X, its covariances and its variance.
	Row []float64 `json:"row"`
	K   []float64 `json:"k"`
	K0  float64   `json:"k0"`
}

// anyTask invents a problem: a smooth random part with one shared length, white
// noise, and a polynomial trend.
func anyTask(rng *rand.Rand, n, p int) task {
	at := make([]float64, n+1) // the last is the place to predict at
	for i := range at {
		at[i] = 50 * rng.Float64()
	}
	length, amp := 3+20*rng.Float64(), 0.1+rng.Float64()
	cov := func(a, b float64) float64 { return amp * amp * math.Exp(-math.Abs(a-b)/length) }
	t := task{Y: make([]float64, n), X: make([][]float64, p), Prior: make([]float64, p), K0: amp * amp}
	row := func(s float64) []float64 {
		out := make([]float64, p)
		for c := range out {
			out[c] = math.Pow(s/25-1, float64(c))
		}
		return out
	}
	for i := range n {
		t.Y[i] = rng.NormFloat64() + at[i]/10
		ci := make([]float64, n)
		for j := range n {
			ci[j] = cov(at[i], at[j])
		}
		ci[i] += 0.01 + 0.1*rng.Float64()
		t.C = append(t.C, ci)
		t.K = append(t.K, cov(at[i], at[n]))
	}
	for c := range p {
		t.X[c] = make([]float64, n)
		for i := range n {
			t.X[c][i] = row(at[i])[c]
		}
		t.Prior[c] = rng.Float64()
	}
	t.Row = row(at[n])
	return t
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

// byPairs fills a row of a covariance pair by pair.
func byPairs(cov func(i, j int) float64) func(i, from int, to []float64) {
	return func(i, from int, to []float64) {
		for k := range to {
			to[k] = cov(i, from+k)
		}
	}
}

func (t *task) fit(tb testing.TB) *glsFit {
	tb.Helper()
	c, err := newCovariance(len(t.Y), byPairs(func(i, j int) float64 { return t.C[i][j] }))
	if err != nil {
		tb.Fatal(err)
	}
	var columns []stretched
	for _, x := range t.X {
		columns = append(columns, stretchOf(x))
	}
	f, err := solveGLS(t.Y, columns, c, t.Prior)
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

const glsScript = `
import json, sys
import numpy as np, scipy.linalg as la
out = []
for t in json.load(sys.stdin):
    y, x, c, p = np.array(t["y"]), np.array(t["x"]).T, np.array(t["c"]), np.diag(t["prior"])
    # Generalised least squares by whitening with scipy's Cholesky factor, the prior as
    # observations of zero, solved as an ordinary problem by LAPACK's QR.
    l = la.cholesky(c, lower=True)
    xw, yw = la.solve_triangular(l, x, lower=True), la.solve_triangular(l, y, lower=True)
    a, b = np.vstack([xw, np.sqrt(p)]), np.concatenate([yw, np.zeros(len(p))])
    beta = la.lstsq(a, b)[0]
    r = y - x @ beta
    q = float(r @ la.solve(c, r, assume_a="pos"))
    cov = la.inv(a.T @ a)
    logdet = float(np.linalg.slogdet(c)[1] + np.linalg.slogdet(a.T @ a)[1])
    k, row = np.array(t["k"]), np.array(t["row"])
    # Prediction as one more observation of infinite variance would be: by the joint
    # normal law of trend, data and target.
    big = np.block([[c + x @ la.inv(p) @ x.T, (k + x @ la.inv(p) @ row)[:, None]],
                    [(k + x @ la.inv(p) @ row)[None, :], np.array([[t["k0"] + row @ la.inv(p) @ row]])]])
    s = la.solve(big[:-1, :-1], big[:-1, -1], assume_a="pos")
    out.append({"beta": beta.tolist(), "cov": cov.tolist(), "q": q, "logdet": logdet,
                "value": float(s @ y), "variance": float(big[-1, -1] - s @ big[:-1, -1])})
print(json.dumps(out))
`

// Parameters, their covariance, χ², the determinants and a predicted value
// against numpy and SciPy, which solve the same problem another way.
func TestGLSAgainstSciPy(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var tasks []task
	for k := range 12 {
		tasks = append(tasks, anyTask(rng, 6+rng.IntN(60), 1+k%4))
	}
	var want []struct {
		Beta            []float64
		Cov             [][]float64
		Q, Logdet       float64
		Value, Variance float64
	}
	python.Ask(t, glsScript, tasks, &want)
	near := func(name string, i int, got, want float64) {
		if math.Abs(got-want) > 1e-7*(1+math.Abs(want)) { // two factorisations of the same matrix
			t.Errorf("task %d: %s %v, SciPy has %v", i, name, got, want)
		}
	}
	for i := range tasks {
		f := tasks[i].fit(t)
		for a := range f.beta {
			near("parameter", i, f.beta[a], want[i].Beta[a])
			for b := range f.beta {
				near("covariance", i, f.normal.inverse().at(a, b), want[i].Cov[a][b])
			}
		}
		near("χ²", i, f.q, want[i].Q)
		near("ln of the determinants", i, f.logDet, want[i].Logdet)
		v, s := f.krige(tasks[i].Row, tasks[i].K, tasks[i].K0)
		near("predicted value", i, v, want[i].Value)
		near("its variance", i, s, want[i].Variance)
	}
}

// Leave-one-out against leaving one out: the fit without an observation, and what
// it predicts for it.
func TestLeaveOneOutIsLeavingOneOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 5 {
		k := anyTask(rng, 8+rng.IntN(20), 1+rng.IntN(3))
		diff, sigma := k.fit(t).leaveOneOut()
		for out := range k.Y {
			less := task{Prior: k.Prior, Row: make([]float64, len(k.X)), K0: k.C[out][out]}
			for c := range k.X {
				less.X = append(less.X, without(k.X[c], out))
				less.Row[c] = k.X[c][out]
			}
			less.Y, less.K = without(k.Y, out), without(k.C[out], out)
			for i := range k.C {
				if i != out {
					less.C = append(less.C, without(k.C[i], out))
				}
			}
			v, s := less.fit(t).krige(less.Row, less.K, less.K0)
			if d := k.Y[out] - v; math.Abs(diff[out]-d) > 1e-8 || math.Abs(sigma[out]-math.Sqrt(s)) > 1e-8 {
				t.Errorf("observation %d: %v ± %v, without it %v ± %v", out, diff[out], sigma[out], d, math.Sqrt(s))
			}
		}
	}
}

func without(v []float64, k int) []float64 {
	return append(append([]float64{}, v[:k]...), v[k+1:]...)
}

// The parameters' covariance is what they scatter by, over draws from the model:
// 4000 draws know a variance to 2.2 %, so that 9 % is four σ.
func TestCovarianceIsTheScatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	k := anyTask(rng, 30, 3)
	for c := range k.Prior {
		k.Prior[c] = 0
	}
	c := mat.NewSymDense(30, nil)
	for i := range 30 {
		for j := range i + 1 {
			c.SetSym(i, j, k.C[i][j])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		t.Fatal("no covariance")
	}
	var l mat.TriDense
	chol.LTo(&l)
	const draws = 4000
	sum, q := make([]float64, 3), 0.0
	var cov *symmetric
	for range draws {
		z, e := mat.NewVecDense(30, nil), mat.NewVecDense(30, nil)
		for i := range 30 {
			z.SetVec(i, rng.NormFloat64())
		}
		e.MulVec(&l, z)
		k.Y = e.RawVector().Data
		f := k.fit(t)
		cov = f.normal.inverse()
		q += f.q / draws
		for p, b := range f.beta {
			sum[p] += b * b / draws
		}
	}
	for p, got := range sum {
		if want := cov.at(p, p); math.Abs(got/want-1) > 0.09 {
			t.Errorf("parameter %d scatters by %v, told %v", p, got, want)
		}
	}
	// χ² has 30 − 3 degrees of freedom; its mean over 4000 draws is good to 0.12.
	if math.Abs(q-27) > 0.5 {
		t.Errorf("mean χ² %.2f, want 27", q)
	}
}

// The packed triangle against gonum's dense one: factor, inverse, determinant,
// half and whole solutions.
func TestCholeskyAgainstGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, n := range []int{1, 2, 3, 10, 60} {
		k := anyTask(rng, n, 1)
		s, dense := newSymmetric(n), mat.NewSymDense(n, nil)
		for i := range n {
			for j := range i + 1 {
				s.row(i)[j] = k.C[i][j]
				dense.SetSym(i, j, k.C[i][j])
			}
		}
		f, err := s.factorize()
		if err != nil {
			t.Fatal(err)
		}
		var chol mat.Cholesky
		chol.Factorize(dense)
		var inv mat.SymDense
		if err := chol.InverseTo(&inv); err != nil {
			t.Fatal(err)
		}
		got := f.inverse()
		for i := range n {
			for j := range n {
				if math.Abs(got.at(i, j)-inv.At(i, j)) > 1e-9*(1+math.Abs(inv.At(i, j))) {
					t.Errorf("n %d: inverse (%d, %d) %v, gonum has %v", n, i, j, got.at(i, j), inv.At(i, j))
				}
			}
		}
		if math.Abs(f.logDet()-chol.LogDet()) > 1e-9 {
			t.Errorf("n %d: ln|C| %v, gonum has %v", n, f.logDet(), chol.LogDet())
		}
		x, b := mat.NewVecDense(n, nil), append([]float64{}, k.Y...)
		if err := chol.SolveVecTo(x, mat.NewVecDense(n, append([]float64{}, k.Y...))); err != nil {
			t.Fatal(err)
		}
		h := append([]float64{}, k.Y...)
		f.half(h)
		f.solve(b)
		for i := range n {
			if math.Abs(b[i]-x.AtVec(i)) > 1e-9*(1+math.Abs(b[i])) {
				t.Errorf("n %d: solution %d %v, gonum has %v", n, i, b[i], x.AtVec(i))
			}
		}
		if a, b := dot(h, h), dot(k.Y, b); math.Abs(a-b) > 1e-9*(1+b) {
			t.Errorf("n %d: yᵀC⁻¹y %v by halves, %v whole", n, a, b)
		}
	}
	if _, err := newCovariance(2, byPairs(func(i, j int) float64 { return 1 })); !errors.Is(err, errSingular) {
		t.Errorf("a singular matrix: %v", err)
	}
}

// A long line's covariance in blocks: each block as if alone, the whole a block
// diagonal; nothing is lost at the seams.
func TestBlocks(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	n := 2*largestBlock + 37
	cov := func(i, j int) float64 {
		v := math.Exp(-math.Abs(float64(i-j)) / 4)
		if i == j {
			v += 0.5
		}
		return v
	}
	c, err := newCovariance(n, byPairs(cov))
	if err != nil {
		t.Fatal(err)
	}
	y := make([]float64, n)
	for i := range y {
		y[i] = rng.NormFloat64()
	}
	whole, inv, from, logDet := append([]float64{}, y...), c.inverseDiagonal(), 0, 0.0
	c.solve(whole)
	for _, b := range c.blocks {
		if b.n > largestBlock {
			t.Errorf("a block of %d", b.n)
		}
		alone, err := newCovariance(b.n, byPairs(func(i, j int) float64 { return cov(from+i, from+j) }))
		if err != nil {
			t.Fatal(err)
		}
		part := append([]float64{}, y[from:from+b.n]...)
		alone.solve(part)
		diagonal := alone.inverseDiagonal()
		for i := range part {
			if part[i] != whole[from+i] || diagonal[i] != inv[from+i] {
				t.Fatalf("observation %d: %v and %v, alone %v and %v", from+i, whole[from+i], inv[from+i], part[i], diagonal[i])
			}
		}
		from += b.n
		logDet += alone.logDet()
	}
	if from != n || math.Abs(logDet-c.logDet()) > 1e-9 {
		t.Errorf("%d of %d observations, ln|C| %v and %v", from, n, c.logDet(), logDet)
	}
}
