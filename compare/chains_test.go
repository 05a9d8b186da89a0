package compare_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tracemap/compare"
	"tracemap/geodesy/plane"
)

// cutAt cuts a line into pieces at stations.
func cutAt(l plane.Polyline, at ...float64) []plane.Polyline {
	var out []plane.Polyline
	piece := plane.Polyline{l[0]}
	sta := l.Stations()
	slices.Sort(at)
	for i := 1; i < len(l); i++ {
		for len(at) > 0 && at[0] <= sta[i-1] {
			at = at[1:]
		}
		for len(at) > 0 && at[0] < sta[i] {
			p, _ := l.At(at[0])
			out, piece, at = append(out, append(piece, p)), plane.Polyline{p}, at[1:]
		}
		piece = append(piece, l[i])
	}
	return append(out, piece)
}

// densified has a point every so many metres.
func densified(l plane.Polyline, step float64) plane.Polyline {
	var out plane.Polyline
	for i := 1; i < len(l); i++ {
		n := math.Ceil(l[i].Dist(l[i-1]) / step)
		for k := 0.0; k < n; k++ {
			out = append(out, l[i-1].Lerp(l[i], k/n))
		}
	}
	return append(out, l[len(l)-1])
}

// ways are other ways in which the same lines may be kept.
var ways = []struct {
	name            string
	record, located func(i int, l plane.Polyline, rng *rand.Rand) []plane.Polyline
}{
	{name: "cut at valves", record: func(_ int, l plane.Polyline, rng *rand.Rand) []plane.Polyline {
		var at []float64
		for range 14 {
			at = append(at, l.Length()*rng.Float64())
		}
		return cutAt(l, at...)
	}},
	{name: "a valve of half a metre", record: func(_ int, l plane.Polyline, _ *rand.Rand) []plane.Polyline { return cutAt(l, 12.3, 12.8) }},
	{name: "cut, every other piece reversed", record: func(_ int, l plane.Polyline, _ *rand.Rand) []plane.Polyline {
		out := cutAt(l, 6.5, 14.2, 23.7)
		for k := 1; k < len(out); k += 2 {
			slices.Reverse(out[k])
		}
		return out
	}},
	{name: "every other record reversed", record: func(i int, l plane.Polyline, _ *rand.Rand) []plane.Polyline {
		if l = slices.Clone(l); i%2 == 0 {
			slices.Reverse(l)
		}
		return []plane.Polyline{l}
	}},
	{name: "densified", record: func(_ int, l plane.Polyline, _ *rand.Rand) []plane.Polyline {
		return []plane.Polyline{densified(l, 0.3)}
	},
		located: func(_ int, l plane.Polyline, _ *rand.Rand) []plane.Polyline {
			return []plane.Polyline{densified(l, 0.7)}
		}},
	{name: "located in pieces", located: func(_ int, l plane.Polyline, _ *rand.Rand) []plane.Polyline { return cutAt(l, 13.1) }},
	{name: "located reversed", located: func(_ int, l plane.Polyline, _ *rand.Rand) []plane.Polyline {
		l = slices.Clone(l)
		slices.Reverse(l)
		return []plane.Polyline{l}
	}},
	{name: "both in pieces", record: func(_ int, l plane.Polyline, _ *rand.Rand) []plane.Polyline { return cutAt(l, 8, 16.6, 17.2, 29) },
		located: func(_ int, l plane.Polyline, _ *rand.Rand) []plane.Polyline { return cutAt(l, 16.6) }},
}

// bent gives lines of three legs, 20 to 30 m each, that turn by 30 to 90°.
func bent(n int) [][]plane.Pt {
	rng := rand.New(rand.NewPCG(23, uint64(n)))
	var out [][]plane.Pt
	for i := range n {
		at, a := pt(90*float64(i%3), 90*float64(i/3)), 2*math.Pi*rng.Float64()
		l := []plane.Pt{at}
		for range 3 {
			at = at.Add(pt(math.Cos(a), math.Sin(a)).Mul(20 + 10*rng.Float64()))
			l = append(l, at)
			a += (30 + 60*rng.Float64()) * math.Pi / 180
		}
		out = append(out, l)
	}
	return out
}

// How a pipe is cut, joined, reversed or densified on either side changes no
// verdict and no figure by more than 5 %, and no count: for one line and for
// several, with the record true, shifted as a whole, and with one pipe moved.
func TestPiecesAreNotPipes(t *testing.T) {
	for _, n := range []int{1, 2, 3, 6} {
		for _, c := range []struct {
			name string
			by   func(i int) plane.Pt
		}{
			{"true", func(int) plane.Pt { return plane.Pt{} }},
			{"shifted", func(int) plane.Pt { return pt(1.1, -0.6) }},
			{"one moved", func(i int) plane.Pt { return pt(1.1, -0.6).Mul(map[bool]float64{true: 1}[i == 0]) }},
		} {
			result := func(record, locatedAs func(int, plane.Polyline, *rand.Rand) []plane.Polyline) *compare.Result {
				rng, own := rand.New(rand.NewPCG(21, 21)), rand.New(rand.NewPCG(22, 22))
				var lines []found
				var records []built
				for i, l := range bent(n) {
					at := pt(0.05*own.NormFloat64(), 0.05*own.NormFloat64())
					whole := []plane.Polyline{moved(at, l...)}
					if locatedAs != nil {
						whole = locatedAs(i, whole[0], rng)
					}
					for k, p := range whole {
						lines = append(lines, steel(fmt.Sprintf("L%d-%d", i, k), p...))
					}
					drawn := []plane.Polyline{moved(c.by(i), l...)}
					if record != nil {
						drawn = record(i, drawn[0], rng)
					}
					for k, p := range drawn {
						records = append(records, line(fmt.Sprintf("R%d-%d", i, k), "water", p...))
					}
				}
				return run(t, located(t, sea, lines...), recordOf(t, records), func(o *compare.Options) { o.Accuracy = 0.1 })
			}
			want := result(nil, nil)
			if len(want.Lines) != n {
				t.Fatalf("%d lines, want %d", len(want.Lines), n)
			}
			if n == 1 && want.Shift.Significant || n >= 3 && c.name == "one moved" && want.Shift.Significant || n >= 3 && c.name == "shifted" && !want.Shift.Significant {
				t.Errorf("%d lines, %s: %+v", n, c.name, want.Shift)
			}
			for _, w := range ways {
				what := fmt.Sprintf("%d lines, %s, %s", n, c.name, w.name)
				got := result(w.record, w.located)
				if len(got.Lines) != len(want.Lines) || got.Verdict != want.Verdict || got.Counts != want.Counts || got.LinesNotLocated != want.LinesNotLocated {
					t.Errorf("%s: %d lines, %v, %v, %d not located; as one piece each %d, %v, %v, %d", what, len(got.Lines), got.Verdict, got.Counts, got.LinesNotLocated, len(want.Lines), want.Verdict, want.Counts, want.LinesNotLocated)
					continue
				}
				g, s := &got.Shift, &want.Shift
				if g.Significant != s.Significant || g.Suspected != s.Suspected || g.Reason != s.Reason || g.Pairs != s.Pairs || g.Agreeing != s.Agreeing {
					t.Errorf("%s: displacement %+v, as one piece each %+v", what, *g, *s)
				}
				same := func(figure string, got, want, unit float64) {
					t.Helper()
					if math.Abs(got-want) > 0.05*max(math.Abs(want), unit) {
						t.Errorf("%s: %s %.4f, as one piece each %.4f", what, figure, got, want)
					}
				}
				const unit = 0.05 // m: 5 % of less matters to nobody
				same("east", g.East, s.East, unit)
				same("north", g.North, s.North, unit)
				same("σ", g.Sigma, s.Sigma, 0)
				same("RMSE", got.Lateral.RMSE, want.Lateral.RMSE, unit)
				same("95th percentile", got.Lateral.P95, want.Lateral.P95, unit)
				if c.name == "true" { // else the largest stands at a bend, and where stations fall there
					same("largest", got.Lateral.Max, want.Lateral.Max, 6*unit) // 1.5 cm: the widest place at a bend stands between stations
				}
				same("horizontal accuracy", got.Accuracy.Horizontal, want.Accuracy.Horizontal, unit)
				same("uncertainty of the mean", got.Lateral.Mean95, want.Lateral.Mean95, 0)
				same("effective number", got.Lateral.Effective, want.Lateral.Effective, 0)
				for i := range got.Lines {
					a, b := &got.Lines[i], &want.Lines[i]
					same("mean", math.Abs(a.Lateral.Mean), math.Abs(b.Lateral.Mean), b.Lateral.RMSE)
					same("coverage", a.Coverage, b.Coverage, 0)
					if a.Verdict != b.Verdict {
						t.Errorf("%s: line %d %v, as one piece %v", what, i, a.Verdict, b.Verdict)
					}
				}
			}
		}
	}
}

func recordOf(t testing.TB, lines []built) string { return record(t, sea, "", nil, lines...) }

// A branch at a tee stays a pipe of its own, whether the main is cut there or not.
func TestTee(t *testing.T) {
	main, branch := plane.Polyline{pt(0, 0), pt(30, 0), pt(60, 1)}, plane.Polyline{pt(30, 0), pt(30, 25)}
	lines := located(t, sea, steel("m", moved(pt(0, 0.1), main...)...), steel("b", moved(pt(0.1, 0), branch...)...))
	for _, records := range [][]built{
		{line("M", "water", main...), line("B", "water", branch...)},
		{line("M1", "water", main[:2]...), line("M2", "water", main[2], main[1]), line("B", "water", branch...)},
	} {
		r := run(t, lines, recordOf(t, records), nil)
		if len(r.Lines) != 2 {
			t.Errorf("%d records: %d lines, want 2", len(records), len(r.Lines))
		}
	}
}
