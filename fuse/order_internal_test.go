package fuse

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
)

// A visit is a reading by its true station.
type visit struct {
	station, t float64
}

// pass reads a line from one station to another, a reading every step or so, from
// the time on.
func pass(rng *rand.Rand, from, to, step, t float64) []visit {
	var out []visit
	dir := math.Copysign(1, to-from)
	for s := from; dir*(to-s) >= 0; {
		out = append(out, visit{s, t})
		d := step * (0.7 + 0.6*rng.Float64())
		s, t = s+dir*d, t+5*d
	}
	return out
}

// visited puts visits on a line, each off it by σ 3 cm.
func visited(rng *rand.Rand, line plane.Polyline, visits []visit) []Placed {
	pts := make([]plane.Pt, len(visits))
	for k, v := range visits {
		pts[k] = along(line, v.station)
	}
	ps := placedAt(shaken(rng, pts, 0.03))
	for k, v := range visits {
		ps[k].T = v.t
	}
	return ps
}

// along is the point of a polyline at a station.
func along(line plane.Polyline, s float64) plane.Pt {
	for k := 1; k < len(line); k++ {
		l := line[k].Dist(line[k-1])
		if s <= l || k == len(line)-1 {
			return line[k-1].Lerp(line[k], s/l)
		}
		s -= l
	}
	return line[0]
}

func lengthOf(line plane.Polyline) float64 {
	var l float64
	for k := 1; k < len(line); k++ {
		l += line[k].Dist(line[k-1])
	}
	return l
}

// inOrder reports by how much an order of readings goes back along the line at the
// most, in the better direction.
func inOrder(visits []visit, order []int) float64 {
	back := func(order []int) float64 {
		var worst float64
		for k := 1; k < len(order); k++ {
			worst = max(worst, visits[order[k-1]].station-visits[order[k]].station)
		}
		return worst
	}
	other := slices.Clone(order)
	slices.Reverse(other)
	return min(back(order), back(other))
}

var (
	straightWay = plane.Polyline{{}, {E: 90, N: 20}}
	elbow       = plane.Polyline{{}, {E: 40}, {E: 40, N: 35}}
	zigzag      = plane.Polyline{{}, {E: 20, N: 10}, {E: 40, N: -5}, {E: 60, N: 12}, {E: 62, N: 40}}
	ring        = plane.Polyline{{}, {E: 30}, {E: 30, N: 25}, {N: 25}, {N: 0.8}}
	eight       = plane.Polyline{{}, {E: 30, N: 20}, {E: 30, N: 45}, {N: 45}, {E: 1, N: 20}, {E: 31, N: -2}}
	hairpin     = plane.Polyline{{}, {E: 35}, {E: 35, N: 2.5}, {N: 2.5}}
)

// The order is that of the true stations, up to the direction, for lines that
// bend, cross themselves and come back beside themselves, walked once, back and
// forth, and looked at again at the end of the day. Readings closer together than
// their noise and the operator's step may change places.
func TestOrderIsByStation(t *testing.T) {
	type walk func(rng *rand.Rand, l float64) []visit
	walks := map[string]walk{
		"once": func(rng *rand.Rand, l float64) []visit { return pass(rng, 0, l, 3, 0) },
		"the other way": func(rng *rand.Rand, l float64) []visit {
			return pass(rng, l, 0, 3, 0)
		},
		"there and back at once": func(rng *rand.Rand, l float64) []visit {
			out := pass(rng, 0, l, 3, 0)
			return append(out, pass(rng, l-1, 0, 3, out[len(out)-1].t+20)...)
		},
		"again hours later": func(rng *rand.Rand, l float64) []visit {
			return append(pass(rng, 0, l, 3, 0), pass(rng, l, 0, 4, 9000)...)
		},
		"from the middle both ways": func(rng *rand.Rand, l float64) []visit {
			return append(pass(rng, l/2, l, 3, 0), pass(rng, l/2-2, 0, 3, 2000)...)
		},
		"with a check of a stretch": func(rng *rand.Rand, l float64) []visit {
			return append(pass(rng, 0, l, 3, 0), pass(rng, 0.6*l, 0.3*l, 2, 20000)...)
		},
	}
	for name, line := range map[string]plane.Polyline{"straight": straightWay, "elbow": elbow, "zigzag": zigzag, "hairpin": hairpin} {
		for how, w := range walks {
			if name == "hairpin" && how == "from the middle both ways" {
				continue // two passes, each along one leg: nothing says that they are not one walked twice
			}
			for seed := range uint64(10) {
				rng := rand.New(rand.NewPCG(seed, 51))
				visits := w(rng, lengthOf(line))
				order := orderAlong(visited(rng, line, visits), all(len(visits)))
				if back := inOrder(visits, order); back > 0.5 {
					t.Errorf("%s %s, seed %d: goes back by %.1f m", name, how, seed, back)
				}
			}
		}
	}
	// Lines that come near themselves, walked once: in the order of the walk.
	for name, line := range map[string]plane.Polyline{"ring": ring, "eight": eight} {
		for _, how := range []string{"once", "the other way"} {
			for seed := range uint64(10) {
				rng := rand.New(rand.NewPCG(seed, 52))
				visits := walks[how](rng, lengthOf(line))
				order := orderAlong(visited(rng, line, visits), all(len(visits)))
				if back := inOrder(visits, order); back > 0.5 {
					t.Errorf("%s %s, seed %d: goes back by %.1f m", name, how, seed, back)
				}
			}
		}
	}
	// A ring and an eight with a second look: no jump longer than a gap would be.
	for name, line := range map[string]plane.Polyline{"ring": ring, "eight": eight} {
		for seed := range uint64(10) {
			rng := rand.New(rand.NewPCG(seed, 53))
			l := lengthOf(line)
			visits := append(pass(rng, 0, l, 3, 0), pass(rng, 0.7*l, 0.4*l, 2.5, 9000)...)
			ps := visited(rng, line, visits)
			order := orderAlong(ps, all(len(visits)))
			if n := len(splitGaps(ps, order, 15)); n != 1 {
				t.Errorf("%s looked at again, seed %d: %d parts", name, seed, n)
			}
			if got := pathLength(ps, order); got > 1.15*l {
				t.Errorf("%s looked at again, seed %d: the path is %.0f m long, the line %.0f m", name, seed, got, l)
			}
		}
	}
}

// Whatever the readings, the order is a permutation of them, the same for the
// same, and gaps split it without losing any.
func TestOrderIsAPermutation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		pts := make([]plane.Pt, n)
		times := make([]float64, n)
		for k := range pts {
			pts[k] = plane.Pt{
				E: rapid.SampledFrom([]float64{0, 0, 1, 2, 50, 1e5}).Draw(t, "east"),
				N: rapid.Float64Range(-20, 20).Draw(t, "north"),
			}
			times[k] = rapid.SampledFrom([]float64{0, 0, 1, 5, 1000, 90000}).Draw(t, "time") + float64(k)
		}
		ps := placedAt(pts)
		for k := range ps {
			ps[k].T = times[k]
		}
		order := orderAlong(ps, all(n))
		if again := orderAlong(ps, all(n)); !slices.Equal(order, again) {
			t.Fatal("two orders")
		}
		limit := rapid.SampledFrom([]float64{0, 1, 15, 1e9}).Draw(t, "gap")
		var joined []int
		for _, run := range splitGaps(ps, order, limit) {
			for k := 1; k < len(run); k++ {
				if d := ps[run[k]].At.Dist(ps[run[k-1]].At); d > limit {
					t.Fatalf("%v m bridged, with a limit of %v m", d, limit)
				}
			}
			joined = append(joined, run...)
		}
		if !slices.Equal(joined, order) {
			t.Fatal("gaps lose readings")
		}
		slices.Sort(joined)
		if !slices.Equal(joined, all(n)) {
			t.Fatalf("%v is no permutation of %d readings", joined, n)
		}
	})
}

// Every reading with a place on a line is in one group; spelling by case, blanks
// and dashes makes no second line.
func TestGroups(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 50).Draw(t, "n")
		pts := make([]plane.Pt, n)
		for k := range pts {
			pts[k] = plane.Pt{E: rapid.Float64Range(0, 60).Draw(t, "east"), N: rapid.SampledFrom([]float64{0, 0.2, 30}).Draw(t, "north")}
		}
		ps := placedAt(pts)
		want := map[string]int{}
		for k := range ps {
			r := ps[k].Reading
			r.Line = rapid.SampledFrom([]string{"W1", "w-1", " W 1", "W_1", "W.1", "G7", "g/7", "", " "}).Draw(t, "line")
			r.Feature = rapid.SampledFrom([]string{"", "", "", "valve"}).Draw(t, "feature")
			ps[k].OK = rapid.IntRange(0, 9).Draw(t, "placed") > 0
			if ps[k].OK && r.OnLine() {
				want[nameKey(r.Line)]++
			}
		}
		seen := map[int]bool{}
		got := map[string]int{}
		ids := map[string]bool{}
		for _, g := range groupLines(ps, 15) {
			if ids[g.id] {
				t.Fatalf("two lines %q", g.id)
			}
			ids[g.id] = true
			if !slices.IsSorted(g.members) || len(g.members) == 0 {
				t.Fatalf("group %q: %v", g.id, g.members)
			}
			for _, i := range g.members {
				if seen[i] {
					t.Fatalf("reading %d in two groups", i)
				}
				seen[i] = true
				key := nameKey(ps[i].Reading.Line)
				if !g.byPlace && nameKey(g.id) != key || g.byPlace && key != "" {
					t.Fatalf("reading of %q in group %q", ps[i].Reading.Line, g.id)
				}
				got[key]++
			}
		}
		for key, n := range want {
			if got[key] != n {
				t.Fatalf("line %q: %d of %d readings grouped", key, got[key], n)
			}
		}
	})
}

// Without names: two lines of one kind far apart, each walked twice, are two
// lines; of another utility or frequency beside them, others.
func TestGroupsByPlace(t *testing.T) {
	var pts []plane.Pt
	for _, north := range []float64{0, 30, 0, 30} {
		for e := range 12 {
			pts = append(pts, plane.Pt{E: 3 * float64(e), N: north})
		}
	}
	ps := placedAt(pts)
	for k := range ps {
		ps[k].Reading.Line = ""
		ps[k].T = float64(10*k + 1000*(k/12))
		if k < 12 {
			ps[k].Reading.Utility = "gas"
		}
	}
	groups := groupLines(ps, 15)
	if len(groups) != 3 {
		t.Fatalf("%d groups, want gas, water, and the second water", len(groups))
	}
	for _, g := range groups {
		for _, i := range g.members {
			if ps[i].At.N != ps[g.members[0]].At.N || ps[i].Reading.Utility != ps[g.members[0]].Reading.Utility {
				t.Errorf("group %q mixes %v %v and %v %v", g.id, ps[i].Reading.Utility, ps[i].At, ps[g.members[0]].Reading.Utility, ps[g.members[0]].At)
			}
		}
	}
}
