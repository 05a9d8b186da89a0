package clock

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
)

// hill is evidence with some peaks.
type hill struct{ peaks []cell } // l: height; offset and drift: where

func (e hill) name() string    { return "hill" }
func (e hill) temper() float64 { return 1 }
func (e hill) each(h hypothesis) []float64 {
	var top float64
	for _, p := range e.peaks {
		o, d := (h.offset-p.offset)/0.12, (h.drift-p.drift)/4e-6
		top = max(top, p.l-o*o-d*d)
	}
	return []float64{top}
}
func (e hill) total(h hypothesis) float64 { return sum(e.each(h)) }

// What climb leaves out of a grid has no weight, against the whole grid.
func TestClimbSeesWhatHasWeight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var e hill
		for range rapid.IntRange(1, 3).Draw(t, "peaks") {
			e.peaks = append(e.peaks, cell{hypothesis{
				rapid.Float64Range(-1.5, 1.5).Draw(t, "offset"), rapid.Float64Range(-4e-5, 4e-5).Draw(t, "drift"),
			}, rapid.Float64Range(0, 200).Draw(t, "height")})
		}
		lay := func() *grid {
			return newGrid([]evidence{e}, hypothesis{}, 15, fineStep, drifts{5e-6, rapid.IntRange(0, 10).Draw(t, "reach")})
		}
		some := lay()
		all := *some
		all.cells, all.seen = append([]cell{}, some.cells...), append([]bool{}, some.seen...)
		some.climb()
		all.lookAbout(0, 0, all.rows, all.columns)
		if some.top != all.top {
			t.Fatalf("best is cell %d, want %d", some.top, all.top)
		}
		lost := 0.0
		for i, c := range all.cells {
			if !some.seen[i] {
				lost += math.Exp(c.l - all.cells[all.top].l)
			} else if c.l != some.cells[i].l {
				t.Fatalf("cell %d has %v, want %v", i, some.cells[i].l, c.l)
			}
		}
		if lost > 1e-5 { // 651 cells of e⁻²⁰ at the most
			t.Fatalf("cells with a weight of %v were not looked at", lost)
		}
	})
}

// The logarithm of a product against the sum of logarithms.
func TestProduct(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	p, want := one(), 0.0
	for range 5000 {
		x := math.Exp(200*rng.Float64() - 60)
		p.times(x / 1e10)
		want += math.Log(x) - math.Log(1e10)
	}
	if got := p.log(); math.Abs(got-want) > 1e-9*math.Abs(want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Counting by words against counting one by one.
func TestScanCounts(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	m := &motion{from: -7, step: motionStep, rank: make([]float64, 3000)}
	m.cut(0.3)
	for k := range m.rank {
		if m.rank[k] = rng.Float64(); rng.IntN(9) == 0 {
			m.rank[k] = math.NaN()
		}
	}
	times := make([]float64, 700)
	for k := range times {
		times[k] = 1800 * rng.Float64()
	}
	const asked = 350 // every second
	for _, got := range m.scan(times, -1400, 1600) {
		var count [bins]float64
		absent := 0.0
		for k := 0; k < len(times); k += 2 {
			i := int(math.Round((times[k]-m.from)/m.step)) - int(got.offset/m.step)
			if i < 0 || i >= len(m.rank) || math.IsNaN(m.rank[i]) {
				absent++
			} else {
				count[m.bin(m.rank[i])]++
			}
		}
		l, want := m.lawOf(count, absent), 0.0
		for b := range count {
			want += count[b] * l.log[b]
		}
		want *= 2
		if math.Abs(got.motion-want) > 1e-9 || math.Abs(got.absent-2*absent*math.Log(0.1)) > 1e-9 {
			t.Fatalf("offset %v: %v and %v, want %v and %v of %d asked", got.offset, got.motion, got.absent, want, 2*absent*math.Log(0.1), asked)
		}
	}
}

// A kind of evidence's total is the sum of what it says of each reading, and what
// passes say is bounded either way.
func TestTotals(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	d := &day{path: make([]plane.Pt, 9000), mid: 1000}
	for k := range d.path { // there and back along one street
		x := math.Abs(math.Remainder(0.25*float64(k), 1000))
		d.path[k] = plane.Pt{E: x, N: 0.3 * rng.NormFloat64()}
	}
	for k := range 400 {
		d.times = append(d.times, 5*float64(k))
		r := passReading{k: k, t: d.times[k]}
		r.depth = valueOf(1+0.1*rng.NormFloat64(), 0.09, 1, 0.2)
		r.current = valueOf(rng.NormFloat64(), 0.08, 0, 1)
		if k%7 == 0 {
			r.depth = valueOf(math.NaN(), math.NaN(), 1, 0.2)
		}
		d.walk = append(d.walk, r)
		if k > 1 {
			d.triples = append(d.triples, [3]float64{d.times[k-2], d.times[k-1], d.times[k]})
		}
	}
	d.lines = []walkedLine{{0, 400}}
	p := newPasses(d, hypothesis{})
	if len(p.pairs) == 0 {
		t.Fatal("no passes")
	}
	m := d.motion()
	for _, e := range []evidence{p, newScatter(d), newStops(d, m, hypothesis{})} {
		for o := -20.0; o < 20; o += 0.7 {
			h := hypothesis{o, 1e-5}
			each := e.each(h)
			if got, want := e.total(h), sum(each); math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
				t.Fatalf("%s at %v: total %v, sum %v", e.name(), h, got, want)
			}
			for k, v := range each {
				if e == evidence(p) && math.Abs(v) > 6+1e-9 {
					t.Fatalf("reading %d counts for %v", k, v)
				}
			}
		}
	}
}

// better against the two densities written out: Student's with four degrees of
// freedom has 3/(8σ)·(1 + z²/4)^(−5/2).
func TestBetter(t *testing.T) {
	density := func(x, mid, sigma float64) float64 {
		z := (x - mid) / sigma
		return 3 / (8 * sigma) * math.Pow(1+z*z/4, -2.5)
	}
	rapid.Check(t, func(t *rapid.T) {
		x, near, large := rapid.Float64Range(-3, 3).Draw(t, "x"), rapid.Float64Range(-3, 3).Draw(t, "near"), rapid.Float64Range(-3, 3).Draw(t, "large")
		s, sl := rapid.Float64Range(0.03, 1).Draw(t, "sigma"), rapid.Float64Range(0.02, 1).Draw(t, "sigma at large")
		v := valueOf(x, s, large, sl)
		want := min(max(math.Log(density(x, near, s)/density(x, large, sl)), -3), 3)
		if got := -tail * math.Log(v.better(near)); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%v, want %v", got, want)
		}
	})
	unread := valueOf(math.NaN(), 1, 0, 1)
	if got := unread.better(0); got != 1 {
		t.Errorf("a reading without a value counts: %v", got)
	}
}
