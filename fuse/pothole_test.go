package fuse_test

import (
	"math"
	"testing"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/readings"
	"tracemap/remarks"
)

// holed is a straight line of 240 m read every 3 m at a depth of 1.2 m, without and with
// a test hole half-way that shows the given depth, so far to the left.
func holed(t *testing.T, seen, left float64) (plain, with *fuse.Result) {
	t.Helper()
	stops := stopsAlong(plane.Polyline{{}, {E: 240}}, 3)
	stops = append(stops, stop{at: plane.Pt{E: 120, N: left}, line: "w-1", depth: nan})
	epochs, rs := usual().work(stops)
	hole := &rs[len(rs)-1]
	hole.Feature, hole.MeasuredDepth = "pothole", seen
	return locate(t, epochs, rs[:len(rs)-1], fuse.DefaultOptions()), locate(t, epochs, rs, fuse.DefaultOptions())
}

// A test hole that agrees draws the depth to what was seen and narrows its bound, both
// only as far as neighbours share an error.
func TestPotholeAgrees(t *testing.T) {
	_, plain := holed(t, 1.2, 3) // a hole so far off says nothing of the depth, and lays the same vertices
	_, with := holed(t, 1.26, 0.1)
	before, after := &plain.Lines[0].Parts[0], &with.Lines[0].Parts[0]
	l := &with.Lines[0]
	if len(l.Events) != 1 || l.Events[0].Kind != remarks.PotholeUsed || math.Abs(l.Events[0].Station-118.5) > 0.2 ||
		math.Abs(l.Events[0].Before-1.2) > 0.01 || l.Events[0].After != 1.26 {
		t.Errorf("events %+v", l.Events)
	}
	if len(with.Points) != 1 || with.Points[0].LineID == "" {
		t.Errorf("points %+v", with.Points)
	}
	if d := depthAt(after, 118.5); math.Abs(d-1.26) > 0.04 || d < 1.22 {
		t.Errorf("depth beside the test hole %.3f m, seen 1.26 m", d)
	}
	if a, b := sigmaDepthAt(before, 118.5), sigmaDepthAt(after, 118.5); b > 0.85*a {
		t.Errorf("σ of the depth at the test hole %.3f m, %.3f m without it", b, a)
	}
	for _, far := range []float64{70.5, 166.5} { // four times the length over which errors are shared
		if a, b := depthAt(before, far), depthAt(after, far); math.Abs(a-b) > 0.002 {
			t.Errorf("at %v m the depth moves from %.3f to %.3f m", far, a, b)
		}
		if a, b := sigmaDepthAt(before, far), sigmaDepthAt(after, far); math.Abs(a-b) > 0.002 {
			t.Errorf("at %v m σ of the depth goes from %.4f to %.4f m", far, a, b)
		}
	}
	if f := after.Flags; f.Any(remarks.PotholeContradicts) {
		t.Errorf("flags %v", f)
	}
}

// A test hole that contradicts the depths moves nothing, narrows nothing, is told, and
// widens until its own depth lies inside the bound.
func TestPotholeContradictsDepth(t *testing.T) {
	_, plain := holed(t, 1.2, 3)
	_, with := holed(t, 0.96, 0.1)
	before, after := &plain.Lines[0].Parts[0], &with.Lines[0].Parts[0]
	l := &with.Lines[0]
	if len(l.Events) != 1 || l.Events[0].Kind != remarks.PotholeContradicts || l.Events[0].After != 0.96 || math.Abs(l.Events[0].Before-1.2) > 0.01 {
		t.Errorf("events %+v", l.Events)
	}
	if len(with.Warnings) != 1 {
		t.Errorf("warnings %q", with.Warnings)
	}
	for s := 1.0; s < 236; s++ {
		if a, b := depthAt(before, s), depthAt(after, s); math.Abs(a-b) > 0.001 {
			t.Fatalf("at %v m the depth moves from %.3f to %.3f m", s, a, b)
		}
		if a, b := sigmaDepthAt(before, s), sigmaDepthAt(after, s); b < a-0.0005 {
			t.Fatalf("at %v m σ of the depth shrinks from %.4f to %.4f m", s, a, b)
		}
	}
	if b := 1.96 * sigmaDepthAt(after, 118.5); b < 0.24 {
		t.Errorf("the bound at the test hole is %.2f m; the line was seen 0.24 m off", b)
	}
	// What all readings have in common may be wrong, and is so everywhere: but no more.
	if near, far := sigmaDepthAt(after, 118.5), sigmaDepthAt(after, 70.5); far > near || far < 0.1 {
		t.Errorf("σ %.3f m at the test hole, %.3f m 48 m away", near, far)
	}
	if !after.Flags.Has(remarks.PotholeContradicts) || !with.Points[0].Placed.Flags.Has(remarks.PotholeContradicts) {
		t.Errorf("part %v, hole %v", after.Flags, with.Points[0].Placed.Flags)
	}
}

// The same across the line: a pipe seen half a metre beside it.
func TestPotholeContradictsPlace(t *testing.T) {
	plain, with := holed(t, 1.2, 0.6)
	before, after := &plain.Lines[0].Parts[0], &with.Lines[0].Parts[0]
	l := &with.Lines[0]
	if len(l.Events) != 1 || l.Events[0].Kind != remarks.PotholeContradicts || math.Abs(l.Events[0].Across-0.6) > 0.05 {
		t.Errorf("events %+v", l.Events)
	}
	widest := 0.0
	for _, v := range after.Vertices {
		if math.Abs(v.Station-118.5) < 1 {
			widest = max(widest, 1.96*v.Sigma)
		}
		if math.Abs(v.At.N-before.Vertices[0].At.N) > 0.02 {
			t.Errorf("the line is drawn at %v", v.At)
		}
	}
	if widest < 0.6 {
		t.Errorf("half-width %.2f m where the line was seen 0.6 m off", widest)
	}
	if a, b := before.Vertices[0].Sigma, after.Vertices[0].Sigma; math.Abs(a-b) > 0.002 {
		t.Errorf("σ at the end goes from %.4f to %.4f m", a, b)
	}
	if a, b := sigmaDepthAt(before, 118.5), sigmaDepthAt(after, 118.5); b < a-0.0005 {
		t.Errorf("σ of the depth shrinks from %.4f to %.4f m by a hole in another place", a, b)
	}
}

// A test hole that names a line and lies metres away from it is told too.
func TestPotholeFarFromItsLine(t *testing.T) {
	_, with := holed(t, 1.2, 3)
	if e := with.Lines[0].Events; len(e) != 1 || e[0].Kind != remarks.PotholeContradicts {
		t.Errorf("events %+v", e)
	}
}

// However well or badly a test hole fits, the bound never shrinks by more than its own
// word is worth, and never where it contradicts.
func TestPotholeBoundGrowsWithContradiction(t *testing.T) {
	last := 0.0
	for _, seen := range []float64{1.05, 1.0, 0.9, 0.7, 0.4} {
		_, with := holed(t, seen, 0.1)
		b := 1.96 * sigmaDepthAt(&with.Lines[0].Parts[0], 118.5)
		if b < 1.2-seen || b < last {
			t.Errorf("seen at %.2f m: bound %.3f m, %.3f m for the hole before", seen, b, last)
		}
		last = b
	}
}

// sigmaDepthAt is σ of the depth of a part between its vertices.
func sigmaDepthAt(p *fuse.Part, station float64) float64 {
	for k := 1; k < len(p.Vertices); k++ {
		a, b := &p.Vertices[k-1], &p.Vertices[k]
		if station <= b.Station {
			return a.SigmaDepth + (b.SigmaDepth-a.SigmaDepth)*(station-a.Station)/(b.Station-a.Station)
		}
	}
	return math.NaN()
}

// depthAt is the depth of a part between its vertices.
func depthAt(p *fuse.Part, station float64) float64 {
	for k := 1; k < len(p.Vertices); k++ {
		a, b := &p.Vertices[k-1], &p.Vertices[k]
		if station <= b.Station {
			return a.Depth + (b.Depth-a.Depth)*(station-a.Station)/(b.Station-a.Station)
		}
	}
	return math.NaN()
}

// Points are no line's shape, and lie where they were taken.
func TestPoints(t *testing.T) {
	stops := append(stopsAlong(plane.Polyline{{}, {E: 40}}, 3), stop{at: plane.Pt{E: 20, N: 9}, line: "W1", depth: 1}, stop{at: plane.Pt{E: 25, N: 9}, depth: 2})
	epochs, rs := usual().work(stops)
	rs[len(rs)-2].Feature = "valve"
	rs[len(rs)-1].Method = readings.Sonde
	res := locate(t, epochs, rs, fuse.DefaultOptions())
	if len(res.Lines) != 1 || len(res.Points) != 2 {
		t.Fatalf("%d lines, %d points", len(res.Lines), len(res.Points))
	}
	local := geodesy.NewLocal(here)
	for k, p := range res.Points {
		if d := local.Forward(p.Placed.Geo).Dist(stops[len(stops)-2+k].at); d > 0.01 || !p.Placed.Used || !(p.Placed.Radius > 0) {
			t.Errorf("point %d: %.3f m off, %+v", k, d, p.Placed)
		}
	}
	if d := farthest(drawn(res, &res.Lines[0].Parts[0], here), []plane.Pt{{E: 20}}); d > 0.01 {
		t.Errorf("the line is drawn %.2f m towards the valve", d)
	}
}
