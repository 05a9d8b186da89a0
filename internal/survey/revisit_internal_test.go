package survey

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/readings"
	"tracemap/remarks"
	"tracemap/result"
)

var noon = time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC)

// straight makes a day with one line along the east axis: a part for each pair
// of ends, and readings at the given stations of the first part.
func straight(ends [][2]float64, depth float64, at ...*fuse.Placed) *Day {
	local := geodesy.NewLocal(geodesy.Geo{Lat: 45, Lon: -27})
	line := fuse.Line{ID: "W1"}
	for i, e := range ends {
		part := fuse.Part{Number: i + 1}
		for _, x := range e {
			part.Vertices = append(part.Vertices, fuse.Vertex{Station: x - e[0], At: plane.Pt{E: x}, Depth: depth, Ground: local.Inverse(plane.Pt{E: x})})
		}
		line.Parts = append(line.Parts, part)
	}
	d := &Day{Located: &fuse.Result{Lines: []fuse.Line{line}, Plane: local}}
	for _, p := range at {
		d.Located.Readings = append(d.Located.Readings, *p)
	}
	return d
}

// reading is a placed reading of W1, part 1, at a station, with flags.
func reading(station float64, f remarks.Set) *fuse.Placed {
	return &fuse.Placed{
		Reading: &readings.Reading{Line: "W1", File: "r.csv", Row: int(station) + 2}, OK: true, LineID: "W1", Part: 1, Station: station,
		At: plane.Pt{E: station}, Radius: 0.1, Flags: f, UTC: noon.Add(time.Duration(station) * time.Second),
	}
}

func reasons(list []result.Revisit) []string {
	var out []string
	for _, r := range list {
		out = append(out, r.Reason)
	}
	return out
}

func TestRevisitReasons(t *testing.T) {
	lost := reading(40, remarks.InOutage)
	lost.OK, lost.LineID, lost.Part = false, "", 0
	lost.UTC = noon.Add(31 * time.Second)
	far := reading(60, remarks.NoFix)
	far.OK, far.UTC = false, noon.Add(time.Hour)
	for _, c := range []struct {
		name string
		day  *Day
		want []string
	}{
		{"nothing", straight([][2]float64{{0, 50}}, 1.2, reading(0, 0), reading(25, 0)), nil},
		{"neighbour", straight([][2]float64{{0, 50}}, 1.2, reading(0, 0), reading(25, remarks.NeighbourLock)), []string{"neighbour's lock"}},
		{"float is one walk", straight([][2]float64{{0, 50}}, 1.2, reading(0, remarks.FloatFix), reading(10, remarks.FloatFix), reading(20, remarks.FloatFix)), []string{"float only"}},
		{"float twice", straight([][2]float64{{0, 50}}, 1.2, reading(0, remarks.FloatFix), reading(40, remarks.FloatFix)), []string{"float only", "float only"}},
		{"gap between parts", straight([][2]float64{{0, 50}, {80, 90}}, 1.2), []string{"gap"}},
		{"depth missing on one reading", straight([][2]float64{{0, 50}}, 1.2, reading(5, remarks.DepthMissing)), nil},
		{"depth never read", straight([][2]float64{{0, 50}}, math.NaN(), reading(5, remarks.DepthMissing)), []string{"depth missing"}},
		{"two causes in one place", straight([][2]float64{{0, 50}}, 1.2, reading(5, remarks.FloatFix), reading(8, remarks.Distorted)), []string{"distorted; float only"}},
		{"worse cause first", straight([][2]float64{{0, 50}}, 1.2, reading(5, remarks.FloatFix), reading(40, remarks.NeighbourLock)), []string{"neighbour's lock", "float only"}},
		{"lost near a placed one", straight([][2]float64{{0, 50}}, 1.2, reading(30, 0), lost), []string{"no fix"}},
		{"lost an hour away", straight([][2]float64{{0, 50}}, 1.2, reading(30, 0), far), nil},
	} {
		if got := reasons(c.day.Revisit()); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestRevisitPlaces(t *testing.T) {
	sharp, wide := reading(10, remarks.FloatFix), reading(15, remarks.FloatFix)
	wide.Radius = 0.5
	d := straight([][2]float64{{0, 50}, {80, 90}}, 1.2, sharp, wide)
	d.Located.Lines[0].Events = []fuse.Event{{Kind: remarks.CurrentStep, LineID: "W1", Part: 1, Station: 30, At: plane.Pt{E: 30}, Geo: d.Located.Plane.Inverse(plane.Pt{E: 30}), Text: "current falls from 60 to 38 mA"}}
	got := d.Revisit()
	want := []struct {
		reason string
		east   float64
		advice string
	}{
		{"branch suspected", 30, "60 to 38 mA"},
		{"gap", 65, "30 m between parts 1 and 2"},
		{"float only", 15, "2 readings over 5 m"},
	}
	if len(got) != len(want) {
		t.Fatalf("%d places, want %d: %+v", len(got), len(want), got)
	}
	for i, w := range want {
		r := got[i]
		at := d.Located.Plane.Forward(r.Geo)
		if w.reason == "float only" {
			at = plane.Pt{E: r.Station} // made by hand: it has no place on earth
		}
		if r.Reason != w.reason || math.Abs(at.E-w.east) > 1e-6 || !strings.Contains(r.Advice, w.advice) || r.LineID != "W1" {
			t.Errorf("place %d: %+v at %v, want %+v", i, r, at, w)
		}
		if i > 0 && r.Worth > got[i-1].Worth {
			t.Errorf("place %d is worth more than the one before", i)
		}
	}
}

// Every cause has its advice in the table of flags.
func TestEveryCauseHasAdvice(t *testing.T) {
	for _, c := range causes {
		if adviceOf(c.flag) == "" {
			t.Errorf("%s (%s): no advice", c.reason, c.flag)
		}
	}
}

// Grouping by squares is what asking every group gives, in order, beside squares'
// sides and across zero as well.
func TestWalksOfIsAskingAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 50 {
		var all []spot
		var want [][]spot
		for k := range 200 {
			s := spot{line: []string{"W1", "G1"}[rng.IntN(2)], station: float64(k), at: plane.Pt{E: 80 * (rng.Float64() - 0.5), N: 80 * (rng.Float64() - 0.5)}}
			all = append(all, s)
			i := slices.IndexFunc(want, func(g []spot) bool { return g[0].line == s.line && g[0].at.Dist(s.at) <= sameWalk })
			if i < 0 {
				want = append(want, []spot{s})
			} else {
				want[i] = append(want[i], s)
			}
		}
		got := walksOf(all)
		if len(got) != len(want) {
			t.Fatalf("%d groups, want %d", len(got), len(want))
		}
		for i := range got {
			if !slices.EqualFunc(got[i], want[i], func(a, b spot) bool { return a.station == b.station }) {
				t.Fatalf("group %d: %v, want %v", i, got[i], want[i])
			}
		}
	}
}
