package fuse

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/geodesy/plane"
)

// located is the polyline of a shaped part.
func located(m []mark) plane.Polyline {
	out := make(plane.Polyline, len(m))
	for k := range m {
		out[k] = m[k].at
	}
	return out
}

// strays is how far points lie off a polyline at the most.
func strays(line plane.Polyline, pts []plane.Pt) float64 {
	var d float64
	for _, p := range pts {
		if foot, ok := line.Nearest(p); ok {
			d = max(d, foot.Dist)
		}
	}
	return d
}

const degree = math.Pi / 180

// Corners between readings without noise are rebuilt to a centimetre, for the
// angles that fittings have, turns to either side, and several in a row.
func TestCornersAreRebuilt(t *testing.T) {
	sc := unitScales()
	for _, angle := range []float64{11.25, 22.5, 45, 60, 90} {
		for name, legs := range map[string][]leg{
			"left":         {{n: 8}, {n: 8, turn: angle * degree}},
			"right":        {{n: 8}, {n: 8, turn: -angle * degree}},
			"there, back":  {{n: 8}, {n: 8, turn: angle * degree}, {n: 8, turn: -angle * degree}},
			"round a side": {{n: 10}, {n: 10, turn: angle * degree}, {n: 10, turn: angle * degree}},
		} {
			for _, step := range []float64{1.5, 3, 5} {
				at := fmt.Sprintf("%v° %s, %v m apart", angle, name, step)
				pts, _, corners := follow(step, legs...)
				ps := placedAt(pts)
				p := shape(ps, all(len(ps)), &sc)
				if p == nil {
					t.Errorf("%s: no shape", at)
					continue
				}
				marks := p.marks()
				for _, q := range corners {
					if d := nearestMark(marks, q); d > 0.01 {
						t.Errorf("%s: the corner is %.3f m off", at, d)
					}
				}
				if d := strays(located(marks), pts); d > 0.005 {
					t.Errorf("%s: the line strays from its readings by %.3f m", at, d)
				}
				for m := range p.fit.samples {
					if p.fit.samples[m].out {
						t.Errorf("%s: reading %d set aside", at, m)
					}
				}
			}
		}
	}
}

// Bends of long radius and their straights without noise are drawn to 2 cm, which
// is the sagitta of their chords and a centimetre more.
func TestCurvesAreRebuilt(t *testing.T) {
	sc := unitScales()
	for _, r := range []float64{5, 10, 20, 50, 100} {
		for _, step := range []float64{1, 2, 4} {
			if step > 0.45*r {
				continue // readings that far apart do not tell an arc from corners
			}
			n := max(int(1.2*r/step), 5)
			pts, _, _ := follow(step, leg{n: 8}, leg{n: n, curvature: 1 / r}, leg{n: 8})
			ps := placedAt(pts)
			p := shape(ps, all(len(ps)), &sc)
			if p == nil {
				t.Errorf("radius %v, %v m apart: no shape", r, step)
				continue
			}
			line := located(p.marks())
			// True points between the readings, too.
			fine, _, _ := follow(step/4, leg{n: 32}, leg{n: 4 * n, curvature: 1 / r}, leg{n: 32})
			inner := fine[2 : len(fine)-2]
			if d := strays(line, inner); d > 0.02+0.1*step*step/8/r {
				t.Errorf("radius %v, %v m apart: strays by %.3f m", r, step, d)
			}
		}
	}
}

// A straight is drawn with few vertices, however many readings it has.
func TestStraightStaysStraight(t *testing.T) {
	sc := unitScales()
	for _, n := range []int{2, 3, 4, 5, 10, 100, 400} {
		pts, _, _ := follow(2, leg{n: n})
		ps := placedAt(pts)
		p := shape(ps, all(n), &sc)
		if p == nil || len(p.fit.stretches) != 1 || len(p.fit.stretches[0].pieces) != 1 || p.fit.curved() {
			t.Errorf("%d readings: not one straight", n)
			continue
		}
		m := p.marks()
		if len(m) > 2+n/3 && len(m) > 6 {
			t.Errorf("%d readings: %d vertices", n, len(m))
		}
		if d := strays(located(m), pts); d > 1e-6 {
			t.Errorf("%d readings: strays by %v m", n, d)
		}
		if d := m[0].at.Dist(pts[0]) + m[len(m)-1].at.Dist(pts[n-1]); d > 1e-6 {
			t.Errorf("%d readings: ends off by %v m", n, d)
		}
	}
}

// The shape moves with its readings: turned and shifted, it is the turned and
// shifted shape, with the same σ; told from the other end, the same line.
func TestShapeMovesWithReadings(t *testing.T) {
	sc := unitScales()
	rng := rand.New(rand.NewPCG(1, 1))
	for seed := range 6 {
		pts, _, _ := follow(3, leg{n: 7}, leg{n: 9, turn: 50 * degree}, leg{n: 8, turn: -90 * degree})
		pts = shaken(rng, pts, 0.03)
		one := shape(placedAt(pts), all(len(pts)), &sc)
		a := one.marks()
		turn, by := float64(seed), plane.Pt{E: 300, N: -700}
		moved := make([]plane.Pt, len(pts))
		back := make([]Placed, len(pts))
		for k, q := range pts {
			moved[k] = rotated(q, turn).Add(by)
		}
		b := shape(placedAt(moved), all(len(pts)), &sc).marks()
		ps := placedAt(pts)
		for k := range ps {
			back[len(ps)-1-k] = ps[k]
		}
		c := shape(back, all(len(pts)), &sc).marks()
		if len(a) != len(b) {
			t.Fatalf("seed %d: %d vertices, moved %d", seed, len(a), len(b))
		}
		for k := range a {
			// Searches stop at millimetres.
			if d := rotated(a[k].at, turn).Add(by).Dist(b[k].at); d > 0.003 {
				t.Errorf("seed %d: vertex %d moved %.4f m otherwise", seed, k, d)
			}
			if math.Abs(a[k].sigma-b[k].sigma) > 0.05*a[k].sigma {
				t.Errorf("seed %d: vertex %d has σ %.4f m, moved %.4f m", seed, k, a[k].sigma, b[k].sigma)
			}
		}
		var want []plane.Pt
		for k := range a {
			want = append(want, a[k].at)
		}
		if d := strays(located(c), want); d > 0.01 {
			t.Errorf("seed %d: from the other end the line is %.4f m off", seed, d)
		}
	}
}

func rotated(p plane.Pt, a float64) plane.Pt {
	sin, cos := math.Sincos(a)
	return plane.Pt{E: cos*p.E - sin*p.N, N: sin*p.E + cos*p.N}
}

// Twice the noise, twice the σ: with all σ of the readings doubled and nothing
// else – no constants in metres – the width across a straight doubles.
func TestSigmaScales(t *testing.T) {
	pts, _, _ := follow(3, leg{n: 20})
	fit := func(k float64) float64 {
		sc := unitScales()
		samples := samplesOf(placedAt(pts), all(len(pts)), 1, &sc)
		for m := range samples {
			s := &samples[m]
			s.white, s.shared, s.local = k*k*s.white, k*s.shared, k*k*s.local
			for i := range s.slow {
				s.slow[i] *= k * k
			}
		}
		f := &partFit{samples: samples, stretches: []stretch{firstShape(samples, span{first: 0, last: len(samples) - 1})}}
		if err := f.solve(); err != nil {
			t.Fatal(err)
		}
		return f.sigmaAcross(0, 25)
	}
	if a, b := fit(1), fit(2); math.Abs(b/a-2) > 1e-3 { // a prior of 10 km on the parameters
		t.Errorf("σ %v m, with twice the noise %v m", a, b)
	}
}

// The σ of a straight's place is its scatter: over 400 draws of the very errors
// that the model has – independent, shared along the line, slow in time – the
// mean square error is the variance told, to 4 σ of 400 draws.
func TestWidthIsTheScatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	const n, draws = 15, 400
	pts := make([]plane.Pt, n)
	for k := range pts {
		pts[k] = plane.Pt{E: 3 * float64(k)}
	}
	sc := unitScales()
	samples := samplesOf(placedAt(pts), all(n), 1, &sc)
	north := plane.Pt{N: 1}
	cov := newSymmetric(n)
	for i := range n {
		for j := range i + 1 {
			cov.row(i)[j] = samplesCovariance(&samples[i], &samples[j], north, north, pts[i].E, pts[j].E)
		}
		cov.row(i)[i] += samples[i].white
	}
	l, err := cov.factorize()
	if err != nil {
		t.Fatal(err)
	}
	stations := []float64{0, 10, 21, 42}
	square, told := make([]float64, len(stations)), make([]float64, len(stations))
	for range draws {
		z := make([]float64, n)
		for k := range z {
			z[k] = rng.NormFloat64()
		}
		noisy := make([]sample, n)
		copy(noisy, samples)
		for i := range noisy {
			noisy[i].at.N = dot(l.row(i), z[:i+1])
		}
		f := &partFit{samples: noisy, stretches: []stretch{firstShape(noisy, span{first: 0, last: n - 1})}}
		if err := f.solve(); err != nil {
			t.Fatal(err)
		}
		for k, s := range stations {
			at, _ := f.stretches[0].at(s)
			square[k] += at.N * at.N / draws
			told[k] += sq(f.sigmaAcross(0, s)) / draws
		}
	}
	for k, s := range stations {
		if ratio := square[k] / told[k]; math.Abs(ratio-1) > 4*math.Sqrt(2.0/draws) {
			t.Errorf("at %v m: mean square error %.3g m², told %.3g m²", s, square[k], told[k])
		}
	}
}

// A bend of 8 m radius between straights, walked in steps of 4 m: three readings tell
// of it, through which two corners would go half a metre beside it. All but three in a
// hundred of the vertices there lie within two decimetres, or within the width.
func TestBendOfFewReadings(t *testing.T) {
	sc := unitScales()
	inside, vertices := 0, 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 71))
		pts, _, _ := follow(4, leg{n: 9}, leg{n: 3, curvature: 1.0 / 8}, leg{n: 9})
		ps := placedAt(shaken(rng, pts, 0.05))
		p := shape(ps, all(len(ps)), &sc)
		if p == nil {
			t.Fatal("no shape")
		}
		fine, _, _ := follow(0.5, leg{n: 72}, leg{n: 24, curvature: 1.0 / 8}, leg{n: 72})
		for _, m := range p.marks() {
			if m.station < 30 || m.station > 55 {
				continue
			}
			vertices++
			if foot, _ := plane.Polyline(fine).Nearest(m.at); foot.Dist <= max(0.2, 1.96*m.sigma) {
				inside++
			}
		}
	}
	t.Logf("%d of %d vertices inside", inside, vertices)
	if inside < vertices*97/100 {
		t.Errorf("%d of %d vertices inside", inside, vertices)
	}
}
