package clock

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/parallel"
	"tracemap/nmea"
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

// A kind of evidence's total is the sum of what it says of each reading.
func TestTotals(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	d := &day{path: make([]plane.Pt, 9000), mid: 1000}
	for k := range d.path { // there and back along one street
		x := math.Abs(math.Remainder(0.25*float64(k), 1000))
		d.path[k] = plane.Pt{E: x, N: 0.3 * rng.NormFloat64()}
	}
	d.tr = trackOf(t, d.path)
	for k := range 400 {
		d.times = append(d.times, 5*float64(k))
		r := passReading{k: k, t: d.times[k]}
		r.depth = math.Sin(d.path[20*k].E/9) + 0.1*rng.NormFloat64()
		r.current = math.Cos(d.path[20*k].E/20) + 0.1*rng.NormFloat64()
		if k%7 == 0 {
			r.depth = math.NaN()
		}
		d.walk = append(d.walk, r)
		if k > 1 {
			d.triples = append(d.triples, [3]float64{d.times[k-2], d.times[k-1], d.times[k]})
		}
	}
	law := course{white: 0.01, spread: 0.5, reach: 10, known: true}
	d.lines = []walkedLine{{first: 0, end: 400, depth: law, current: law, beside: 1}}
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
		}
	}
}

// trackOf is the track of a receiver that has a fix at each point of the path.
func trackOf(t *testing.T, path []plane.Pt) *track.Track {
	local, none := geodesy.NewLocal(geodesy.Geo{Lat: 47.5, Lon: -17.75}), float32(math.NaN())
	epochs := make([]nmea.Epoch, len(path))
	for k := range path {
		g := local.Inverse(path[k])
		epochs[k] = nmea.Epoch{
			Nanos: int64(float64(k) * gridStep * 1e9), Lat: g.Lat, Lon: g.Lon, SigmaN: 0.3, SigmaE: 0.3, SigmaU: none, HDOP: 1,
			VDOP: none, Age: none, Speed: none, Course: none, Quality: nmea.QualityDGPS,
		}
	}
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// A defect in the search by passes goes to where the search is waited for.
func TestFaultOfTheSearchByPasses(t *testing.T) {
	defer parallel.Break("search by passes")()
	d := &day{path: make([]plane.Pt, 400), mid: 100}
	for k := range d.path {
		d.path[k] = plane.Pt{E: float64(k)}
	}
	d.tr = trackOf(t, d.path)
	for k := range 20 {
		d.times = append(d.times, 5*float64(k))
	}
	err := parallel.Catch("the clock", func() error { d.passPeaks(); return nil })
	var f *parallel.Fault
	if !errors.As(err, &f) || f.Part != "the clock: search by passes" {
		t.Errorf("error %v", err)
	}
}
