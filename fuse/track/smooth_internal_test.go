package track

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
	"tracemap/internal/python"
	"tracemap/nmea"
)

// walk invents fixes of a walker who moves by the model itself – an integrated
// Wiener process – at uneven times, seen with white noise of σ r.
func walk(rng *rand.Rand, n int, accel, r float64) []fix {
	out := make([]fix, n)
	var t float64
	var p, v [3]float64
	for k := range out {
		if k > 0 {
			h := 0.05 + 2.5*rng.Float64()
			t += h
			for a := range p {
				// Cholesky factor of the process noise [[h³/3, h²/2], [h²/2, h]].
				x, y := rng.NormFloat64(), rng.NormFloat64()
				p[a] += h*v[a] + math.Sqrt(accel*h*h*h/3)*x
				v[a] += math.Sqrt(accel*h) * (x*math.Sqrt(3)/2 + y/2)
			}
		}
		z := func(a int) float64 { return p[a] + r*rng.NormFloat64() }
		out[k] = fix{
			t: t, at: plane.Pt{E: z(0), N: z(1)}, h: z(2), quality: nmea.QualityRTKFixed,
			doppler: plane.Pt{E: math.NaN(), N: math.NaN()},
		}
	}
	return out
}

// smoothed runs the smoother over fixes with known parameters.
func smoothed(raw []fix, accel, r float64) *Track {
	tr := &Track{Quick: map[nmea.Quality]float64{nmea.QualityRTKFixed: r}, Accel: accel}
	tr.smooth(raw)
	return tr
}

// dense solves the smoother's model as one weighted least-squares problem: the
// unknowns are position and velocity at every fix, and every fix, every step and
// the first velocity are an equation. It gives positions, velocities and the
// covariance (positions before velocities), all of one axis. accel is that since the
// fix before, sigma that of a fix.
func dense(raw []fix, axis int, accel, sigma func(k int) float64) (x *mat.VecDense, cov *mat.Dense) {
	n := len(raw)
	rows := n + 2*(n-1) + 1
	a, b := mat.NewDense(rows, 2*n, nil), mat.NewVecDense(rows, nil)
	row := 0
	for k := range raw {
		z := [3]float64{raw[k].at.E, raw[k].at.N, raw[k].h}[axis]
		a.Set(row, k, 1/sigma(k))
		b.SetVec(row, z/sigma(k))
		row++
	}
	a.Set(row, n, 1/firstSpeed)
	row++
	for k := 1; k < n; k++ {
		h, accel := raw[k].t-raw[k-1].t, accel(k)
		q := mat.NewSymDense(2, []float64{accel * h * h * h / 3, accel * h * h / 2, accel * h * h / 2, accel * h})
		var chol mat.Cholesky
		if !chol.Factorize(q) {
			panic("process noise")
		}
		var l mat.TriDense
		chol.LTo(&l)
		// L⁻¹(x_k − F x_{k−1}) = 0
		l00, l10, l11 := l.At(0, 0), l.At(1, 0), l.At(1, 1)
		pos := map[int]float64{k: 1, k - 1: -1, n + k - 1: -h}
		vel := map[int]float64{n + k: 1, n + k - 1: -1}
		for c, v := range pos {
			a.Set(row, c, v/l00)
			a.Set(row+1, c, -l10/l00/l11*v)
		}
		for c, v := range vel {
			a.Set(row+1, c, a.At(row+1, c)+v/l11)
		}
		row += 2
	}
	var qr mat.QR
	qr.Factorize(a)
	x = mat.NewVecDense(2*n, nil)
	if err := qr.SolveVecTo(x, false, b); err != nil {
		panic(err)
	}
	var normal mat.Dense
	normal.Mul(a.T(), a)
	cov = new(mat.Dense)
	if err := cov.Inverse(&normal); err != nil {
		panic(err)
	}
	return x, cov
}

// The recursion against the same model solved at once, as dense least squares by
// gonum's QR: uneven times, three axes, positions, velocities and variances.
func TestSmootherIsLeastSquares(t *testing.T) {
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 1))
		accel, r := math.Exp(3*rng.Float64()-4.5), math.Exp(4*rng.Float64()-4) // paces of a person
		raw := walk(rng, 3+rng.IntN(40), accel, r)
		tr := smoothed(raw, accel, r)
		if len(tr.nodes) != len(raw) || len(tr.chains) != 1 {
			t.Fatalf("seed %d: %d nodes in %d chains, want all %d in one", seed, len(tr.nodes), len(tr.chains), len(raw))
		}
		n := len(raw)
		for axis := range 3 {
			x, cov := dense(raw, axis, tr.nodeAccel, func(int) float64 { return r })
			for k := range tr.nodes {
				d := &tr.nodes[k]
				p := [3]float64{d.at.E, d.at.N, d.h}[axis]
				// 1e-6 of the noise: what two factorisations of a stiff problem differ by.
				if e := math.Abs(p - x.AtVec(k)); e > 1e-6*r {
					t.Errorf("seed %d axis %d fix %d: position off by %g m", seed, axis, k, e)
				}
				if axis == 2 {
					continue // nobody asks how fast an antenna climbs
				}
				if e := math.Abs([2]float64{d.vel.E, d.vel.N}[axis] - x.AtVec(n+k)); e > 1e-5*(r+math.Sqrt(accel)) {
					t.Errorf("seed %d axis %d fix %d: velocity off by %g m/s", seed, axis, k, e)
				}
				if want := cov.At(k, k); math.Abs(d.quick-want) > 1e-6*want {
					t.Errorf("seed %d axis %d fix %d: variance %g, want %g", seed, axis, k, d.quick, want)
				}
			}
		}
	}
}

// diffuse runs the recursions over one axis without any word on the first
// velocity (σ 10 km/s), as a smoothing spline has none.
func diffuse(t, y []float64, accel, r2 float64) (value, sigma []float64) {
	n := len(t)
	run := make([]filtered, n)
	for k := range run {
		f := &fix{at: plane.Pt{E: y[k]}}
		if k == 0 {
			run[k] = start(f, r2)
			run[k].vv = 1e8
			continue
		}
		run[k] = update(predict(&run[k-1], t[k]-t[k-1], accel), f, r2)
	}
	value, sigma = make([]float64, n), make([]float64, n)
	s := run[n-1]
	for k := n - 1; k >= 0; k-- {
		if k < n-1 {
			s = rts(&run[k], &s, t[k+1]-t[k], accel)
		}
		value[k], sigma[k] = s.p[0], math.Sqrt(s.pp)
	}
	return value, sigma
}

// A smoothing spline is the mean of an integrated Wiener process given the
// points, with λ = σ²/q (Wahba, J. R. Stat. Soc. B 40, 1978). The values are
// scipy.interpolate.make_smoothing_spline(t, y, lam=0.8)(t) of SciPy 1.10.1; the
// σ those of the same model, by numpy 1.24.2.
func TestSmootherTable(t *testing.T) {
	at := []float64{0, 1, 2.5, 3, 4.2, 5, 7, 8, 9.5, 10}
	y := []float64{.1, .9, 2.2, 1.9, 1.0, .2, -1.1, -.6, .8, 1.4}
	want := []float64{.244257, 1.057708, 1.772546, 1.711613, .989092, .308917, -.761285, -.501081, .734741, 1.243492}
	wantSigma := []float64{.176324, .132626, .123009, .118900, .122679, .133402, .140200, .135537, .127790, .159214}
	got, gotSigma := diffuse(at, y, 0.05, 0.04)
	for k := range at {
		if math.Abs(got[k]-want[k]) > 1e-6 || math.Abs(gotSigma[k]-wantSigma[k]) > 1e-6 { // the table's last digit
			t.Errorf("at %v: %.6f ± %.6f, want %.6f ± %.6f", at[k], got[k], gotSigma[k], want[k], wantSigma[k])
		}
	}
}

const splineScript = `
import json, sys
import numpy as np
from scipy.interpolate import make_smoothing_spline
out = []
for c in json.load(sys.stdin):
    t, y = np.array(c["t"]), np.array(c["y"])
    lam = c["r2"]/c["accel"]
    # The variance of the smooth value at a point is σ² times its own weight in
    # itself (Wahba, J. R. Stat. Soc. B 45, 1983).
    weight = [make_smoothing_spline(t, unit, lam=lam)(t)[k] for k, unit in enumerate(np.eye(len(t)))]
    out.append({"spline": make_smoothing_spline(t, y, lam=lam)(t).tolist(), "sigma": np.sqrt(c["r2"]*np.array(weight)).tolist()})
print(json.dumps(out))
`

// The same against SciPy at work, on random data at uneven times.
func TestSmootherIsSmoothingSpline(t *testing.T) {
	type task struct {
		T     []float64 `json:"t"`
		Y     []float64 `json:"y"`
		Accel float64   `json:"accel"`
		R2    float64   `json:"r2"`
	}
	rng := rand.New(rand.NewPCG(5, 5))
	var tasks []task
	for range 12 {
		accel, r := 0.05+2*rng.Float64(), 0.02+0.5*rng.Float64()
		k := task{Accel: accel, R2: r * r}
		for _, f := range walk(rng, 6+rng.IntN(40), accel, r) {
			k.T, k.Y = append(k.T, f.t), append(k.Y, f.at.E)
		}
		tasks = append(tasks, k)
	}
	var want []struct{ Spline, Sigma []float64 }
	python.Ask(t, splineScript, tasks, &want)
	for i, k := range tasks {
		got, sigma := diffuse(k.T, k.Y, k.Accel, k.R2)
		r := math.Sqrt(k.R2)
		for m := range got {
			if e := math.Abs(got[m] - want[i].Spline[m]); e > 1e-5*r { // first velocity: σ 10 km/s here, free there
				t.Errorf("task %d fix %d: %.8f, SciPy has %.8f", i, m, got[m], want[i].Spline[m])
			}
			if e := math.Abs(sigma[m] - want[i].Sigma[m]); e > 1e-5*r {
				t.Errorf("task %d fix %d: σ %.8f, SciPy has %.8f", i, m, sigma[m], want[i].Sigma[m])
			}
		}
	}
}

// Time has no direction: the day told backwards gives the same path and the same
// σ, but for what the first velocity's prior does.
func TestSmootherBackwards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		raw := walk(rng, rapid.IntRange(4, 40).Draw(t, "n"), 0.5, 0.1)
		n := len(raw)
		at, y, back, backY := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		for k, f := range raw {
			at[k], y[k] = f.t, f.at.E
			back[n-1-k], backY[n-1-k] = raw[n-1].t-f.t, f.at.E
		}
		a, sa := diffuse(at, y, 0.5, 0.01)
		b, sb := diffuse(back, backY, 0.5, 0.01)
		for k := range a {
			if math.Abs(a[k]-b[n-1-k]) > 1e-5 || math.Abs(sa[k]-sb[n-1-k]) > 1e-5 { // m; rounding against a prior of 1e8
				t.Fatalf("fix %d: %v ± %v forwards, %v ± %v backwards", k, a[k], sa[k], b[n-1-k], sb[n-1-k])
			}
		}
	})
}

// What lies on a straight, walked at a steady speed, stays on it.
func TestSmootherKeepsStraights(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		speed := rapid.Float64Range(-2, 2).Draw(t, "speed")
		accel := rapid.Float64Range(minAccel, maxAccel).Draw(t, "accel")
		r := rapid.Float64Range(0.003, 1).Draw(t, "r")
		raw := walk(rng, 30, 1, 0)
		at, y := make([]float64, len(raw)), make([]float64, len(raw))
		for k := range raw {
			at[k], y[k] = raw[k].t, 100+speed*raw[k].t
		}
		got, _ := diffuse(at, y, accel, r*r)
		for k := range got {
			if math.Abs(got[k]-y[k]) > 1e-5 { // m; as above
				t.Fatalf("fix %d: %v, want %v", k, got[k], y[k])
			}
		}
	})
}

// A fix more never widens another's σ, whatever the walker does.
func TestSmootherGainsFromEveryFix(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 4))
		raw := walk(rng, rapid.IntRange(4, 25).Draw(t, "n"), 0.5, 0.1)
		gone := rapid.IntRange(1, len(raw)-1).Draw(t, "gone")
		var at, y []float64
		for _, f := range raw {
			at, y = append(at, f.t), append(y, f.at.E)
		}
		_, all := diffuse(at, y, 0.5, 0.01)
		_, less := diffuse(slices.Delete(slices.Clone(at), gone, gone+1), slices.Delete(slices.Clone(y), gone, gone+1), 0.5, 0.01)
		for m, sigma := range slices.Delete(all, gone, gone+1) {
			if sigma > less[m]*(1+1e-6) { // rounding against a prior of 1e8
				t.Fatalf("fix %d: σ %g with all, %g without fix %d", m, sigma, less[m], gone)
			}
		}
	})
}

// Without any acceleration allowed the path is the least-squares line; with no
// bound on it, the fixes themselves.
func TestSmootherExtremes(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	raw := walk(rng, 40, 0.5, 0.1)
	n := float64(len(raw))
	at, y := make([]float64, len(raw)), make([]float64, len(raw))
	var st, sy, stt, sty float64
	for k, f := range raw {
		at[k], y[k] = f.t, f.at.E
		st, sy, stt, sty = st+f.t, sy+f.at.E, stt+f.t*f.t, sty+f.t*f.at.E
	}
	b := (n*sty - st*sy) / (n*stt - st*st)
	a := (sy - b*st) / n
	stiff, sigma := diffuse(at, y, 1e-12, 0.01)
	for k := range stiff {
		if want := a + b*at[k]; math.Abs(stiff[k]-want) > 1e-3 {
			t.Errorf("stiff, fix %d: %v, want %v on the least-squares line", k, stiff[k], want)
		}
		d := at[k] - st/n
		if want := 0.1 * math.Sqrt(1/n+d*d/(stt-st*st/n)); math.Abs(sigma[k]-want) > 1e-5 {
			t.Errorf("stiff, fix %d: σ %v, want %v of the line", k, sigma[k], want)
		}
	}
	loose, sigma := diffuse(at, y, 1e9, 0.01)
	for k := range loose {
		if math.Abs(loose[k]-y[k]) > 1e-4 || math.Abs(sigma[k]-0.1) > 1e-4 {
			t.Errorf("loose, fix %d: %v ± %v, want the fix itself, %v ± 0.1", k, loose[k], sigma[k], y[k])
		}
	}
}

// oneChain makes a walk of n fixes of σ 0.05 m that hang together, and smooths it.
func oneChain(t *rapid.T, rng *rand.Rand, n int) ([]fix, *Track) {
	raw := walk(rng, n, 0.5, 0.05)
	tr := smoothed(raw, 0.5, 0.05)
	if len(tr.nodes) != len(raw) || len(tr.chains) != 1 {
		t.Skip("set aside or cut")
	}
	return raw, tr
}

// nodeAccel is the acceleration that the track took a person for, before node k.
func (tr *Track) nodeAccel(k int) float64 { return float64(tr.nodes[k].accel) }

// denseWith solves the same model along an axis with the instant at as one more
// unknown, number k, seen with a σ of 10 km, which says nothing.
func denseWith(raw []fix, tr *Track, k int, at float64, axis int) (*mat.VecDense, *mat.Dense) {
	extra := raw[min(k, len(raw)-1)]
	extra.t = at
	accel := func(m int) float64 {
		switch {
		case k == 0 && m == 1 || k == len(raw) && m == k:
			return tr.Accel // beside the track
		case m > k:
			return tr.nodeAccel(m - 1)
		}
		return tr.nodeAccel(m)
	}
	return dense(slices.Insert(slices.Clone(raw), k, extra), axis, accel, func(m int) float64 {
		if m == k {
			return 1e4
		}
		return 0.05
	})
}

// Between two fixes the path is that of the model: an instant without a fix, put
// in between, is smoothed to the same place, and is as well known.
func TestBetweenIsTheModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 6))
		raw, tr := oneChain(t, rng, 12)
		k := rapid.IntRange(1, len(raw)-1).Draw(t, "after")
		u := rapid.Float64Range(0.02, 0.98).Draw(t, "share")
		at := raw[k-1].t + u*(raw[k].t-raw[k-1].t)
		got, ok := tr.At(at)
		if !ok {
			t.Fatalf("no state at %v", at)
		}
		east, cov := denseWith(raw, tr, k, at, 0)
		north, _ := denseWith(raw, tr, k, at, 1)
		if d := math.Hypot(got.At.E-east.AtVec(k), got.At.N-north.AtVec(k)); d > 1e-6 {
			t.Fatalf("at %v of the way: off by %g m", u, d)
		}
		if ratio := got.QuickVar / cov.At(k, k); math.Abs(ratio-1) > 0.01 {
			t.Fatalf("at %v of %v s: variance %g, the model has %g", u, raw[k].t-raw[k-1].t, got.QuickVar, cov.At(k, k))
		}
	})
}

// Before the first fix and behind the last, a place is as well known as the model says:
// the velocity that carries it there is not known for certain.
func TestBesideIsTheModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 7))
		raw, tr := oneChain(t, rng, 24)
		by := rapid.Float64Range(0.05, 0.45).Draw(t, "s beside")
		at, place := raw[len(raw)-1].t+by, len(raw)
		if rapid.Bool().Draw(t, "before") {
			at, place = raw[0].t-by, 0
		}
		got, ok := tr.At(at)
		if !ok {
			t.Fatalf("no state at %v", at)
		}
		_, cov := denseWith(raw, tr, place, at, 0)
		// Before the first fix it is a little less well known than the filter's first
		// word on the speed would have it.
		if ratio := got.QuickVar / cov.At(place, place); ratio < 0.99 || ratio > 1.25 {
			t.Fatalf("%v s beside the log's end: variance %g, the model has %g", by, got.QuickVar, cov.At(place, place))
		}
	})
}
