package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
	"tracemap/internal/python"
)

// seen is a path of points of σ 2 cm.
func seen(pts ...plane.Pt) []observed {
	out := make([]observed, len(pts))
	for k, p := range pts {
		out[k] = observed{at: p, weight: 1 / sq(0.02)}
	}
	return out
}

// A leg is a straight or an arc of n points a step apart.
type leg struct {
	n         int
	turn      float64 // rad, at the corner before it
	curvature float64 // 1/m
}

// follow lays points along legs, half a step on either side of each corner, and
// gives the true breaks and corners.
func follow(step float64, legs ...leg) (pts []plane.Pt, breaks []int, corners []plane.Pt) {
	at, dir := plane.Pt{E: 3, N: -2}, plane.Pt{E: 0.8, N: 0.6}
	for k, l := range legs {
		sin, cos := math.Sincos(l.turn)
		dir = plane.Pt{E: cos*dir.E - sin*dir.N, N: sin*dir.E + cos*dir.N}
		if k > 0 {
			breaks, corners = append(breaks, len(pts)), append(corners, at)
		}
		for i := range l.n {
			p, _ := advance(at, dir, l.curvature, step*(float64(i)+0.5))
			pts = append(pts, p)
		}
		at, dir = advance(at, dir, l.curvature, step*float64(l.n))
	}
	return pts, breaks, corners
}

// What is exactly straights and arcs is found as that: the breaks where they are
// and the curvatures as they are.
func TestSegmentFindsExactShapes(t *testing.T) {
	const deg = math.Pi / 180
	for name, legs := range map[string][]leg{
		"straight":     {{n: 30}},
		"arc":          {{n: 25, curvature: 0.05}},
		"right arc":    {{n: 12, curvature: -0.1}},
		"90°":          {{n: 8}, {n: 8, turn: 90 * deg}},
		"45° right":    {{n: 9}, {n: 6, turn: -45 * deg}},
		"22.5°":        {{n: 8}, {n: 8, turn: 22.5 * deg}},
		"11.25°":       {{n: 8}, {n: 8, turn: 11.25 * deg}},
		"zigzag":       {{n: 6}, {n: 5, turn: 90 * deg}, {n: 6, turn: -90 * deg}, {n: 7, turn: 45 * deg}},
		"arc and more": {{n: 10}, {n: 14, curvature: 0.08}, {n: 10}},
		"arc at bend":  {{n: 10}, {n: 14, turn: 60 * deg, curvature: -0.06}},
	} {
		pts, breaks, _ := follow(2.5, legs...)
		got := segment(seen(pts...))
		if len(got) != len(legs) {
			t.Errorf("%s: %d spans, want %d: %+v", name, len(got), len(legs), got)
			continue
		}
		for k, s := range got {
			if k > 0 {
				// A tangential joint half a step beyond a point may be drawn on either
				// side of it.
				room := 0
				if legs[k].turn == 0 {
					room = 1
				}
				if d := s.first - breaks[k-1]; d < -room || d > room {
					t.Errorf("%s: break %d at point %d, want %d", name, k, s.first, breaks[k-1])
				}
			}
			want := legs[k].curvature
			if (s.curvature == 0) != (want == 0) || math.Abs(s.curvature-want) > 0.02*math.Abs(want) {
				t.Errorf("%s: span %d has curvature %v, want %v", name, k, s.curvature, want)
			}
		}
	}
}

// costOf is what a span of points costs by itself.
func costOf(path []observed) float64 {
	s := &sums{origin: path[0].at}
	for k := range path {
		s.add(&path[k])
	}
	return s.fit().cost
}

// The division is the best of all divisions: against every one of them, on paths
// of a few points with bends, noise and points without weight. Breaks are pruned
// by a bound that Taubin's circle, which is not quite the nearest one, may cross:
// that may cost one path in two hundred its optimum, and a tenth of its cost.
func TestSegmentIsOptimal(t *testing.T) {
	const paths = 400
	missed := 0
	for seed := range uint64(paths) {
		path := anyPath(seed)
		got := segment(path)
		if got[0].first != 0 || got[len(got)-1].last != len(path)-1 {
			t.Fatalf("seed %d: %+v does not hold all %d points", seed, got, len(path))
		}
		for k := 1; k < len(got); k++ {
			if got[k].first != got[k-1].last+1 {
				t.Fatalf("seed %d: %+v: not one after the other", seed, got)
			}
		}
		c, best := divisionCost(path, got), cheapestDivision(path)
		if c > best+1e-6*(1+best) {
			missed++
			t.Logf("seed %d: %+v costs %v, the best division %v", seed, got, c, best)
		}
		if c > 1.1*best+1 {
			t.Errorf("seed %d: %+v costs %v, the best division %v", seed, got, c, best)
		}
	}
	if missed > paths/200 {
		t.Errorf("%d of %d paths not divided in the best way", missed, paths)
	}
}

// anyPath invents a path of up to eleven points.
func anyPath(seed uint64) []observed {
	rng := rand.New(rand.NewPCG(seed, 11))
	path := make([]observed, 1+rng.IntN(11))
	at, dir := plane.Pt{}, 0.0
	bendy, noise := 0.8*rng.Float64(), 0.1*rng.Float64()
	for k := range path {
		path[k] = observed{at: at.Add(plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(noise)), weight: 1 / sq(0.01+0.1*rng.Float64())}
		if rng.IntN(8) == 0 {
			path[k].weight = 0
		}
		dir += bendy * rng.NormFloat64()
		at = at.Add(plane.Pt{E: math.Cos(dir), N: math.Sin(dir)}.Mul(0.5 + 3*rng.Float64()))
	}
	return path
}

func divisionCost(path []observed, spans []span) float64 {
	c := (priceSpan + 2*math.Log(float64(len(path)))) * float64(len(spans)-1)
	for _, s := range spans {
		c += costOf(path[s.first : s.last+1])
	}
	return c
}

// cheapestDivision tries all divisions.
func cheapestDivision(path []observed) float64 {
	n := len(path)
	best := math.Inf(1)
	for mask := range 1 << (n - 1) {
		var spans []span
		from := 0
		for k := range n {
			if k == n-1 || mask>>k&1 == 1 {
				spans, from = append(spans, span{first: from, last: k}), k+1
			}
		}
		best = min(best, divisionCost(path, spans))
	}
	return best
}

const circleScript = `
import json, sys
import numpy as np, scipy.linalg as la
out = []
for t in json.load(sys.stdin):
    p, w = np.array(t["at"]), np.array(t["w"])
    mean = (w[:, None]*p).sum(0)/w.sum()
    u = p - mean
    # Straight: the smallest singular value of the weighted, centred points.
    straight = la.svdvals(np.sqrt(w)[:, None]*u)[-1]**2
    # Taubin 1991 as he states it: minimise sum w f^2 over sum w |grad f|^2 with
    # f = A(x^2+y^2) + Bx + Cy + D, a generalised eigenvalue problem.
    z = (u**2).sum(1)
    f = np.stack([z, u[:, 0], u[:, 1], np.ones(len(z))], 1)
    m = f.T @ (w[:, None]*f)
    n = np.zeros((4, 4))
    for (x, y), wi in zip(u, w):
        gx, gy = np.array([2*x, 1, 0, 0]), np.array([2*y, 0, 1, 0])
        n += wi*(np.outer(gx, gx) + np.outer(gy, gy))
    val, vec = la.eig(m, n)
    val = np.where(np.isfinite(val), val.real, np.inf)
    a, b, c, d = vec[:, np.argmin(np.where(val > -1e-9*abs(val[np.isfinite(val)]).max(), val, np.inf))].real
    cx, cy = -b/(2*a), -c/(2*a)
    r = np.sqrt(cx*cx + cy*cy - d/a)
    rho2 = ((u - [cx, cy])**2).sum(1)
    chi = (w*(rho2 - r*r)**2).sum()/(4*r*r)
    out.append({"straight": float(straight), "radius": float(r), "chi": float(chi)})
print(json.dumps(out))
`

// The best straight and the circle of a run of points against numpy: total least
// squares by singular values, Taubin's circle as the eigenvalue problem that he
// states (IEEE PAMI 13(11), 1991).
func TestRunsAgainstNumpy(t *testing.T) {
	type task struct {
		At [][2]float64 `json:"at"`
		W  []float64    `json:"w"`
	}
	rng := rand.New(rand.NewPCG(21, 22))
	var tasks []task
	var runs []*sums
	for range 40 {
		r := math.Exp(1 + 4*rng.Float64())
		turn := (0.3 + 2*rng.Float64()) * sign(rng.Float64()-0.5)
		n := 6 + rng.IntN(30)
		noise := 0.002 * r * math.Abs(turn)
		var k task
		s := &sums{}
		for i := range n {
			at, _ := advance(plane.Pt{E: 40, N: -70}, plane.Pt{E: 0.6, N: -0.8}, sign(turn)/r, r*math.Abs(turn)*float64(i)/float64(n-1))
			o := observed{at: at.Add(plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(noise)), weight: 1 / sq(noise*(0.5+rng.Float64()))}
			if i == 0 {
				s.origin = o.at
			}
			s.add(&o)
			k.At, k.W = append(k.At, [2]float64{o.at.E, o.at.N}), append(k.W, o.weight)
		}
		tasks, runs = append(tasks, k), append(runs, s)
	}
	var want []struct{ Straight, Radius, Chi float64 }
	python.Ask(t, circleScript, tasks, &want)
	for i, s := range runs {
		s.fit()
		cxx, cxy, cyy := s.xx-s.x*s.x/s.w, s.xy-s.x*s.y/s.w, s.yy-s.y*s.y/s.w
		straight := (cxx+cyy)/2 - math.Hypot((cxx-cyy)/2, cxy)
		// Running sums about the first point lose some digits against centred ones.
		if math.Abs(straight-want[i].Straight) > 1e-6*(1+want[i].Straight) {
			t.Errorf("run %d: straight costs %v, numpy has %v", i, straight, want[i].Straight)
		}
		chi, curvature, _ := s.taubin(s.x/s.w, s.y/s.w)
		if got := 1 / math.Abs(curvature); math.Abs(got/want[i].Radius-1) > 1e-5 {
			t.Errorf("run %d: radius %v, numpy has %v", i, got, want[i].Radius)
		}
		if math.Abs(chi-want[i].Chi) > 1e-3*(1+want[i].Chi) {
			t.Errorf("run %d: χ² %v, numpy has %v", i, chi, want[i].Chi)
		}
	}
}

// A turn to the left has positive curvature, whichever way the path lies.
func TestArcsTurnTheirWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(0.02, 0.2).Draw(t, "curvature") * rapid.SampledFrom([]float64{-1, 1}).Draw(t, "side")
		a := rapid.Float64Range(0, 2*math.Pi).Draw(t, "heading")
		// Less than half a turn in all, and less than half a radian from point to point.
		length := rapid.Float64Range(0.8, 2.6).Draw(t, "turn") / math.Abs(k)
		var pts []plane.Pt
		for i := range 15 {
			p, _ := advance(plane.Pt{}, plane.Pt{E: math.Cos(a), N: math.Sin(a)}, k, length*float64(i)/14)
			pts = append(pts, p)
		}
		got := segment(seen(pts...))
		if len(got) != 1 || math.Abs(got[0].curvature/k-1) > 1e-4 {
			t.Fatalf("curvature %v: %+v", k, got)
		}
	})
}
