package clock

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
)

// The nearest piece of a path against small steps along all of it.
func TestNearestSegment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		path := make(plane.Polyline, rapid.IntRange(2, 8).Draw(t, "n"))
		for k := range path {
			path[k] = plane.Pt{E: rapid.Float64Range(-9, 9).Draw(t, "east"), N: rapid.SampledFrom([]float64{-3, 0, 0, 4}).Draw(t, "north")}
		}
		q := plane.Pt{E: rapid.Float64Range(-15, 15).Draw(t, "q east"), N: rapid.Float64Range(-9, 9).Draw(t, "q north")}
		reach := rapid.Float64Range(0.5, 40).Draw(t, "reach")
		seg, u, ok := nearestSegment(path, q, reach, rapid.IntRange(-1, 9).Draw(t, "guess"))
		foot, found := path.Nearest(q)
		if !found || ok != (foot.Dist <= reach) {
			t.Fatalf("found %v within %v m, plane.Polyline has it %v m away", ok, reach, foot.Dist)
		}
		if !ok {
			return
		}
		dist := path[seg-1].Lerp(path[seg], u).Dist(q)
		if u < 0 || u > 1 || math.Abs(foot.Dist-dist) > 1e-9 {
			t.Fatalf("piece %d at %v lies %v m away, plane.Polyline has %v m", seg, u, dist, foot.Dist)
		}
	})
}

// Ranks of motion: every instant with a track has one, they are spread evenly, and
// standing has the lowest.
func TestMotionRanks(t *testing.T) {
	d := &day{path: make([]plane.Pt, 4000)}
	rng := rand.New(rand.NewPCG(1, 1))
	var at plane.Pt
	for k := range d.path {
		if k%400 >= 300 { // a quarter of the time standing
			at = at.Add(plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(0.001))
		} else {
			at = at.Add(plane.Pt{E: 0.3 + 0.05*rng.NormFloat64()})
		}
		d.path[k] = at
		if k >= 2000 && k < 2100 {
			d.path[k] = plane.Pt{E: math.NaN(), N: math.NaN()}
		}
	}
	m := d.motion()
	var ranks []float64
	for k, r := range m.rank {
		step := int(motionStep / gridStep)
		i := k * step
		if math.IsNaN(r) {
			continue
		}
		ranks = append(ranks, r)
		if r < 0 || r > 1 {
			t.Fatalf("rank %v", r)
		}
		if standing := i%400 > 305 && i%400 < 395; standing && m.bin(r) != 0 {
			t.Errorf("standing at sample %d has rank %v, bin %d", i, r, m.bin(r))
		}
		if walking := i%400 > 5 && i%400 < 295; walking && m.bin(r) == 0 {
			t.Errorf("walking at sample %d has rank %v, the bin of standing", i, r)
		}
	}
	slices.Sort(ranks)
	for k, r := range ranks {
		if want := (float64(k) + 0.5) / float64(len(ranks)); math.Abs(r-want) > 1e-9 {
			t.Fatalf("rank %d is %v, want %v", k, r, want)
		}
	}
	var whole float64
	for b := range bins {
		whole += m.share(b)
	}
	if math.Abs(whole-1) > 1e-9 {
		t.Errorf("bins hold %v of all instants", whole)
	}
	if !math.IsNaN(m.at(-10)) || !math.IsNaN(m.at(1e6)) || !math.IsNaN(m.at(2050*gridStep)) {
		t.Error("a rank where there is no track")
	}
}

// Readings spread as the instants are say nothing; readings that all stand say
// that standing is likelier, and never infinitely so.
func TestLaw(t *testing.T) {
	m := &motion{}
	m.cut(0.25)
	var even, all [bins]float64
	for b := range bins {
		even[b] = 1000 * m.share(b)
	}
	all[0] = 1000
	for b, l := range m.lawOf(even, 0).log {
		if math.Abs(l) > 1e-9 {
			t.Errorf("evenly spread: bin %d has %v", b, l)
		}
	}
	l := m.lawOf(all, 0)
	if want := math.Log(1 / 0.25); math.Abs(l.log[0]-want) > 0.05 {
		t.Errorf("all standing: %v, want about %v", l.log[0], want)
	}
	for b, x := range l.log[1:] {
		if x >= 0 || math.IsInf(x, 0) {
			t.Errorf("all standing: bin %d has %v", b+1, x)
		}
	}
	var few [bins]float64
	few[0] = 2
	if f := m.lawOf(few, 0); f.log[0] > 0.7 {
		t.Errorf("two readings claim %v", f.log[0])
	}
}

// Peaks are local maxima, the largest first, none near a larger one.
func TestPeaks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "n")
		offsets, gain := make([]float64, n), make([]float64, n)
		for k := range n {
			offsets[k] = 0.5 * float64(k)
			gain[k] = rapid.Float64Range(-10, 10).Draw(t, "gain")
		}
		got := peaks(offsets, gain, 5, apart)
		if len(got) == 0 || len(got) > 5 || gain[got[0]] != slices.Max(gain) {
			t.Fatalf("peaks %v of %v", got, gain)
		}
		for a := range got {
			if a > 0 && gain[got[a]] > gain[got[a-1]] {
				t.Fatalf("peak %d is larger than the one before", a)
			}
			for b := range a {
				if math.Abs(offsets[got[a]]-offsets[got[b]]) < apart {
					t.Fatalf("peaks at %v and %v s", offsets[got[a]], offsets[got[b]])
				}
			}
		}
	})
}

// The lead in units of its standard error: that of the mean of differences.
func TestLeadSigmas(t *testing.T) {
	a := []float64{1, 2, 3, 4, 7}
	b := []float64{0, 0, 1, 1, 2}
	// Differences 1 2 2 3 5: sum 13, Σ(d − 2.6)² = 9.2.
	if got, want := leadSigmas(a, b), 13/math.Sqrt(9.2); math.Abs(got-want) > 1e-12 {
		t.Errorf("%v, want %v", got, want)
	}
	if got := leadSigmas(b, a); got >= 0 {
		t.Errorf("behind by %v", got)
	}
	if got := leadSigmas(a[:3], b[:3]); got != 0 {
		t.Errorf("of three readings: %v", got)
	}
}

// The prior: small offsets before large ones, either way alike, and nothing certain.
func TestPrior(t *testing.T) {
	for _, p := range [][2]float64{{0, 10}, {10, 100}, {30, 700}, {-60, -6000}} {
		if logPrior(p[0]) <= logPrior(p[1]) {
			t.Errorf("%v s is no likelier than %v s", p[0], p[1])
		}
	}
	for o := -1e6; o < 1e6; o += 997 {
		if l := logPrior(o); l > 0 || l < -10 || l != logPrior(-o) {
			t.Errorf("%v s: %v", o, l)
		}
	}
}

// A position on the track costs nothing, one metres off little, one far off no
// more than any other.
func TestPositionsLaw(t *testing.T) {
	d := &day{path: make([]plane.Pt, 1000)}
	for k := range d.path {
		d.path[k] = plane.Pt{E: gridStep * float64(k)} // 1 m/s
	}
	p := &positions{d: d, sigma: 4, at: []plane.Pt{{E: 50}, {E: 50, N: 4}, {E: 50, N: 400}, {E: 50}}, t: []float64{50, 50, 50, 1e5}}
	got := p.each(hypothesis{})
	for k, want := range []float64{0, -0.5, -8, -8} {
		if math.Abs(got[k]-want) > 1e-9 {
			t.Errorf("position %d: %v, want %v", k, got[k], want)
		}
	}
	if got := p.each(hypothesis{offset: 8})[0]; math.Abs(got+2) > 1e-9 { // eight metres off, two σ
		t.Errorf("eight seconds off at 1 m/s: %v, want −2", got)
	}
}
