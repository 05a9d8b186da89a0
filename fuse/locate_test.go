package fuse_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"testing"
	"time"

	"tracemap/fuse"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/remarks"
)

// fittings is a way with the angles that fittings have: 90°, 45°, 22.5°, 11.25°.
func fittings() plane.Polyline {
	line := plane.Polyline{{}}
	at, heading := plane.Pt{}, 0.3
	for _, turn := range []float64{0, 90, -45, 22.5, -11.25} {
		heading += turn * math.Pi / 180
		at = at.Add(plane.Pt{E: math.Cos(heading), N: math.Sin(heading)}.Mul(30))
		line = append(line, at)
	}
	return line
}

// A day without errors gives the line without error: every corner to a
// centimetre, depth and ground as they are.
func TestDayWithoutErrors(t *testing.T) {
	line := fittings()
	for _, step := range []float64{2, 3.1} {
		epochs, rs := usual().work(stopsAlong(line, step))
		opt := fuse.DefaultOptions()
		res := locate(t, epochs, rs, opt)
		if len(res.Lines) != 1 || len(res.Lines[0].Parts) != 1 || res.Lines[0].ID != "W1" {
			t.Fatalf("lines %+v", res.Lines)
		}
		p := &res.Lines[0].Parts[0]
		got := drawn(res, p, here)
		for _, corner := range line[1 : len(line)-1] {
			d := math.Inf(1)
			for _, v := range got {
				d = min(d, v.Dist(corner))
			}
			if d > 0.01 {
				t.Errorf("step %v: the corner at %v is %.3f m off", step, corner, d)
			}
		}
		for _, v := range p.Vertices {
			// These depths know nothing of the bend, which a field would read shallow by
			// up to a quarter: they are corrected for it, by at most 5 % once smoothed.
			if math.Abs(v.Depth-1.2) > 0.06 || math.Abs(v.Ground.H-40) > 0.01 || math.Abs(v.Current-50) > 0.5 {
				t.Errorf("step %v, station %.1f: depth %.3f m, ground %.3f m, current %.1f mA", step, v.Station, v.Depth, v.Ground.H, v.Current)
			}
		}
		for _, r := range res.Readings {
			if !r.Used || math.Abs(r.Offset) > 0.01 || r.LineID != "W1" || r.Part != 1 {
				t.Errorf("step %v: reading in row %d: used %v, offset %.3f m, on %q", step, r.Reading.Row, r.Used, r.Offset, r.LineID)
			}
		}
		if len(res.Lines[0].Events) != 0 {
			t.Errorf("step %v: events %+v", step, res.Lines[0].Events)
		}
	}
}

// summary is what a person would compare of two results, by the millimetre.
func summary(res *fuse.Result, at func(geodesy.Geo) plane.Pt) string {
	var out string
	for _, l := range res.Lines {
		out += fmt.Sprintf("%s %v\n", l.ID, l.Flags)
		for _, p := range l.Parts {
			out += fmt.Sprintf(" part %d of %d readings %v\n", p.Number, p.Readings, p.Flags)
			for _, v := range p.Vertices {
				q := at(v.Ground)
				out += fmt.Sprintf("  %.3f (%.2f, %.2f) depth %.3f σ %.3f %.3f %v\n", v.Station, q.E+1e-4, q.N+1e-4, v.Depth, v.Sigma, v.SigmaDepth, v.Flags)
			}
		}
	}
	return out
}

// sameVertices compares two results of the same day worked elsewhere or at another
// time, turned back, vertex by vertex.
func sameVertices(t *testing.T, what string, a, b *fuse.Result, to func(geodesy.Geo) plane.Pt, back func(geodesy.Geo) plane.Pt) {
	t.Helper()
	if len(a.Lines) != len(b.Lines) {
		t.Errorf("%s: %d lines, were %d", what, len(b.Lines), len(a.Lines))
		return
	}
	for k := range a.Lines {
		if len(a.Lines[k].Parts) != len(b.Lines[k].Parts) {
			t.Errorf("%s: line %s in %d parts, was %d", what, a.Lines[k].ID, len(b.Lines[k].Parts), len(a.Lines[k].Parts))
			continue
		}
		for n := range a.Lines[k].Parts {
			va, vb := a.Lines[k].Parts[n].Vertices, b.Lines[k].Parts[n].Vertices
			if len(va) != len(vb) {
				t.Errorf("%s: line %s part %d has %d vertices, had %d", what, a.Lines[k].ID, n, len(vb), len(va))
				continue
			}
			for i := range va {
				// A hundred metres from the origin two planes differ by micrometres; the
				// shape is searched to two millimetres.
				if d := to(va[i].Ground).Dist(back(vb[i].Ground)); d > 0.005 {
					t.Errorf("%s: line %s vertex %d is %.4f m off", what, a.Lines[k].ID, i, d)
				}
				if math.Abs(va[i].Sigma/vb[i].Sigma-1) > 0.03 || math.Abs(va[i].Depth-vb[i].Depth) > 0.002 {
					t.Errorf("%s: line %s vertex %d: σ %.4f and depth %.4f m, had %.4f and %.4f m", what, a.Lines[k].ID, i,
						vb[i].Sigma, vb[i].Depth, va[i].Sigma, va[i].Depth)
				}
			}
		}
	}
}

// The day a year later, elsewhere on earth, or turned about, is the same day.
func TestDayElsewhere(t *testing.T) {
	stops := unevenStops()
	epochs, rs := usual().work(stops)
	want := locate(t, epochs, rs, fuse.DefaultOptions())
	local := geodesy.NewLocal(here)
	for name, s := range map[string]site{
		"a year later":     {origin: here, start: dawn.AddDate(1, 0, 0)},
		"at night":         {origin: here, start: dawn.Add(17*time.Hour + 29*time.Minute)},
		"turned":           {origin: here, start: dawn, turn: 1},
		"turned back":      {origin: here, start: dawn, turn: -2.5},
		"far south":        {origin: geodesy.Geo{Lat: -54, Lon: 3}, start: dawn},
		"on the date line": {origin: geodesy.Geo{Lat: -16.8, Lon: 180}, start: dawn},
	} {
		epochs, rs := s.work(stops)
		there := geodesy.NewLocal(s.origin)
		sin, cos := math.Sincos(-s.turn)
		back := func(g geodesy.Geo) plane.Pt {
			p := there.Forward(g)
			return plane.Pt{E: cos*p.E - sin*p.N, N: sin*p.E + cos*p.N}
		}
		sameVertices(t, name, want, locate(t, epochs, rs, fuse.DefaultOptions()), local.Forward, back)
	}
}

// unevenStops are two lines with bends, whose stops lie off them by some
// centimetres in a fixed way.
func unevenStops() []stop {
	var out []stop
	for k, s := range append(stopsAlong(fittings(), 3), stopsAlong(plane.Polyline{{N: 60}, {E: 40, N: 75}, {E: 90, N: 60}}, 2.6)...) {
		s.at = s.at.Add(plane.Pt{E: math.Sin(float64(k * k)), N: math.Cos(float64(3 * k * k))}.Mul(0.04))
		s.depth += 0.04 * math.Sin(float64(5*k*k))
		if k > 0 && out[len(out)-1].at.Dist(s.at) > 12 || len(out) > 0 && out[len(out)-1].line == "G 2" {
			s.line = "G 2"
		}
		out = append(out, s)
	}
	return out
}

// The order of the rows in the readings' log has no say: their times have.
func TestRowsInAnyOrder(t *testing.T) {
	epochs, rs := usual().work(unevenStops())
	want := locate(t, epochs, rs, fuse.DefaultOptions())
	local := geodesy.NewLocal(here)
	swapped := append(slices.Clone(rs[len(rs)/3:]), rs[:len(rs)/3]...)
	got := locate(t, epochs, swapped, fuse.DefaultOptions())
	slices.SortFunc(want.Lines, func(a, b fuse.Line) int { return len(a.ID) - len(b.ID) })
	slices.SortFunc(got.Lines, func(a, b fuse.Line) int { return len(a.ID) - len(b.ID) })
	if a, b := summary(want, local.Forward), summary(got, local.Forward); a != b {
		t.Errorf("with the rows in another order:\n%s\nwas:\n%s", b, a)
	}
	slices.Reverse(swapped)
	got = locate(t, epochs, swapped, fuse.DefaultOptions())
	slices.SortFunc(got.Lines, func(a, b fuse.Line) int { return len(a.ID) - len(b.ID) })
	if a, b := summary(want, local.Forward), summary(got, local.Forward); a != b {
		t.Errorf("with the rows turned about:\n%s\nwas:\n%s", b, a)
	}
}

// The same day gives the same result to the bit, on one processor or several.
func TestSameDaySameResult(t *testing.T) {
	epochs, rs := usual().work(unevenStops())
	text := func() string {
		res := locate(t, epochs, rs, fuse.DefaultOptions())
		out := fmt.Sprintf("%+v %v\n", res.Lines, res.Warnings)
		for _, r := range res.Readings {
			r.Reading = nil
			out += fmt.Sprintf("%+v\n", r)
		}
		return out
	}
	want := text()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if got := text(); got != want {
		t.Error("another result on one processor")
	}
	runtime.GOMAXPROCS(8)
	if got := text(); got != want {
		t.Error("another result on eight")
	}
}

// An antenna ahead and to the right of the locator, and the word on it, give the
// line that an antenna above it does.
func TestLeverArm(t *testing.T) {
	line := plane.Polyline{{}, {E: 40, N: 10}, {E: 45, N: 50}}
	s := usual()
	s.mount = func(ahead plane.Pt) plane.Pt { return ahead.Mul(0.4).Sub(ahead.Left().Mul(0.25)) }
	opt := fuse.DefaultOptions()
	opt.AntennaForward, opt.AntennaRight = 0.4, 0.25
	epochs, rs := s.work(stopsAlong(line, 2.5))
	res := locate(t, epochs, rs, opt)
	got := drawn(res, &res.Lines[0].Parts[0], here)
	var inner []plane.Pt
	for _, p := range stopsAlong(line, 2.5) {
		inner = append(inner, p.at)
	}
	// At the corner the operator turns a little before or after.
	if d := farthest(got, inner); d > 0.12 {
		t.Errorf("the line is %.3f m off", d)
	}
	if d := farthest(got, []plane.Pt{inner[3], inner[len(inner)-4]}); d > 0.01 {
		t.Errorf("away from the corner the line is %.3f m off", d)
	}
	without := locate(t, epochs, rs, fuse.DefaultOptions())
	if d := farthest(drawn(without, &without.Lines[0].Parts[0], here), inner[:5]); d < 0.2 {
		t.Errorf("without the word on the antenna the line is only %.3f m off", d)
	}
}

// Few readings: none, one, two, all at one place.
func TestFewReadings(t *testing.T) {
	for _, c := range []struct {
		name  string
		stops []stop
		parts []int // vertices of each part
		flag  remarks.Set
	}{
		{"one", []stop{{at: plane.Pt{E: 3}, line: "W1", depth: 1}}, []int{1}, remarks.SinglePoint},
		{"two", []stop{{at: plane.Pt{E: 3}, line: "W1", depth: 1}, {at: plane.Pt{E: 9}, line: "W1", depth: 1}}, []int{2}, remarks.TwoPoints},
		{"two far apart", []stop{{at: plane.Pt{E: 3}, line: "W1", depth: 1}, {at: plane.Pt{E: 39}, line: "W1", depth: 1}}, []int{1, 1}, remarks.SinglePoint | remarks.Gap},
		{"all at one place", slices.Repeat([]stop{{at: plane.Pt{E: 3}, line: "W1", depth: 1}}, 12), []int{1}, remarks.SinglePoint},
		{"two places, many times", slices.Repeat([]stop{{at: plane.Pt{E: 3}, line: "W1", depth: 1}, {at: plane.Pt{E: 8}, line: "W1", depth: 1}}, 6), []int{2}, 0},
		{"no depth", []stop{{at: plane.Pt{E: 3}, line: "W1", depth: nan}, {at: plane.Pt{E: 8}, line: "W1", depth: nan}}, []int{2}, remarks.DepthMissing},
	} {
		epochs, rs := usual().work(c.stops)
		res := locate(t, epochs, rs, fuse.DefaultOptions())
		if len(res.Lines) != 1 || len(res.Lines[0].Parts) != len(c.parts) {
			t.Errorf("%s: %+v", c.name, res.Lines)
			continue
		}
		for k, n := range c.parts {
			p := &res.Lines[0].Parts[k]
			if n == 1 && len(p.Vertices) != 1 || n == 2 && len(p.Vertices) < 2 {
				t.Errorf("%s: part %d has %d vertices", c.name, k+1, len(p.Vertices))
			}
			if !p.Flags.Has(c.flag) {
				t.Errorf("%s: part %d flagged %q, want %q", c.name, k+1, p.Flags, c.flag)
			}
			checkPart(t, c.name, p)
		}
	}
	epochs, _ := usual().work([]stop{{at: plane.Pt{}, depth: 1}})
	if res := locate(t, epochs, nil, fuse.DefaultOptions()); len(res.Lines)+len(res.Points)+len(res.Readings) != 0 {
		t.Errorf("nothing gives %+v", res)
	}
}

// checkPart holds what is true of every part.
func checkPart(t interface {
	Helper()
	Errorf(string, ...any)
}, name string, p *fuse.Part) {
	t.Helper()
	if len(p.Vertices) == 0 {
		t.Errorf("%s: a part without vertices", name)
		return
	}
	for k, v := range p.Vertices {
		for _, x := range []float64{v.Station, v.At.E, v.At.N, v.Sigma, v.Ground.Lat, v.Ground.Lon} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("%s: vertex %d: %+v", name, k, v)
				return
			}
		}
		if v.Sigma <= 0 {
			t.Errorf("%s: vertex %d has σ %v", name, k, v.Sigma)
		}
		if !math.IsNaN(v.Depth) && !(v.SigmaDepth > 0) {
			t.Errorf("%s: vertex %d: depth %v ± %v", name, k, v.Depth, v.SigmaDepth)
		}
		if k > 0 && v.Station < p.Vertices[k-1].Station {
			t.Errorf("%s: stations go back at vertex %d", name, k)
		}
	}
	if len(p.Corridor) == 0 {
		t.Errorf("%s: no corridor", name)
	}
	for _, polygon := range p.Corridor {
		for _, ring := range polygon {
			if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
				t.Errorf("%s: ring of %d points, not closed", name, len(ring))
			}
		}
	}
}

// Cancelled is an error, before and while at work; progress is told in order.
func TestCancelled(t *testing.T) {
	epochs, rs := usual().work(unevenStops())
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	opt := fuse.DefaultOptions()
	var told []int
	opt.Progress = func(done, all int) {
		told = append(told, done)
		if done > all {
			t.Errorf("%d of %d parts done", done, all)
		}
	}
	if _, err := fuse.Locate(ctx, tr, rs, trusted(tr), opt); err != nil || len(told) == 0 || !slices.IsSorted(told) {
		t.Errorf("%v, progress %v", err, told)
	}
	opt.Progress = func(int, int) { cancel() }
	if _, err := fuse.Locate(ctx, tr, rs, trusted(tr), opt); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled at work: %v", err)
	}
	if _, err := fuse.Locate(ctx, tr, rs, trusted(tr), fuse.DefaultOptions()); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled before: %v", err)
	}
}

// What cannot be placed says why, and is nowhere on a line.
func TestUnplaced(t *testing.T) {
	stops := stopsAlong(plane.Polyline{{}, {E: 60}}, 3)
	epochs, rs := usual().work(stops)
	var holed []nmea.Epoch
	for _, e := range epochs {
		if s := float64(e.Nanos-epochs[0].Nanos) * 1e-9; s < 60 || s > 80 {
			holed = append(holed, e)
		}
	}
	rs[0].Time = time.Time{}
	rs[1].Time = dawn.Add(-time.Hour)
	res := locate(t, holed, rs, fuse.DefaultOptions())
	outage := 0
	for k, r := range res.Readings {
		want := remarks.Set(0)
		switch s := rs[k].Time.Sub(dawn).Seconds(); {
		case k == 0:
			want = remarks.TimeMissing
		case k == 1:
			want = remarks.OutsideLog
		case s > 60.5 && s < 79.5:
			want = remarks.InOutage
			outage++
		}
		if r.OK != (want == 0) || !r.Flags.Has(want) {
			t.Errorf("reading %d: placed %v, flags %q, want %q", k, r.OK, r.Flags, want)
		}
		if !r.OK && (r.LineID != "" || r.Part != 0 || r.Used || !math.IsNaN(r.Geo.Lat)) {
			t.Errorf("reading %d without a place is on line %q", k, r.LineID)
		}
	}
	if outage < 2 {
		t.Errorf("%d readings in the outage", outage)
	}
}

// A reading with a position of its own is placed by it where the receiver has
// none.
func TestOwnPositions(t *testing.T) {
	stops := stopsAlong(plane.Polyline{{}, {E: 60}}, 3)
	epochs, rs := usual().work(stops)
	local := geodesy.NewLocal(here)
	for k := range rs {
		g := local.Inverse(stops[k].at)
		rs[k].Lat, rs[k].Lon, rs[k].HDOP, rs[k].Fix = g.Lat, g.Lon, 1, "4"
	}
	rs[4].Time = time.Time{}
	rs[5].Time = dawn.Add(time.Hour * 5)
	res := locate(t, epochs, rs, fuse.DefaultOptions())
	for _, k := range []int{4, 5} {
		r := &res.Readings[k]
		if !r.OK || r.Quality != nmea.QualityRTKFixed || local.Forward(r.Geo).Dist(stops[k].at) > 0.001 || !math.IsNaN(r.Geo.H) {
			t.Errorf("reading %d: %+v", k, r)
		}
	}
}
