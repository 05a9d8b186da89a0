package fuse_test

import (
	"math"
	"testing"

	"tracemap/flags"
	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/readings"
)

// A pothole's seen depth draws the profile to it, and is told as a check.
func TestPothole(t *testing.T) {
	stops := stopsAlong(plane.Polyline{{}, {E: 80}}, 3)
	stops = append(stops, stop{at: plane.Pt{E: 40, N: 0.1}, line: "w-1", depth: nan})
	epochs, rs := usual().work(stops)
	hole := &rs[len(rs)-1]
	hole.Feature, hole.MeasuredDepth = "pothole", 1.3
	res := locate(t, epochs, rs, fuse.DefaultOptions())
	l := &res.Lines[0]
	if len(l.Events) != 1 || !l.Events[0].Kind.Has(flags.PotholeUsed) || math.Abs(l.Events[0].Station-38.5) > 0.2 ||
		math.Abs(l.Events[0].Before-1.2) > 0.01 || l.Events[0].After != 1.3 {
		t.Errorf("events %+v", l.Events)
	}
	if len(res.Points) != 1 || res.Points[0].LineID == "" {
		t.Errorf("points %+v", res.Points)
	}
	if depth := depthAt(&l.Parts[0], 38.5); math.Abs(depth-1.3) > 0.06 {
		t.Errorf("depth beside the pothole %.3f m, seen 1.3 m", depth)
	}
	// What all readings have in common is tied down, to the ends. There half of
	// what the end does to the field counts as well, which grows with the depth.
	plain := locate(t, epochs, rs[:len(rs)-1], fuse.DefaultOptions())
	a, b := plain.Lines[0].Parts[0].Vertices[0], l.Parts[0].Vertices[0]
	if b.SigmaDepth > a.SigmaDepth*b.Depth/a.Depth || b.Depth < a.Depth {
		t.Errorf("at the end: %.3f ± %.3f m with a pothole, %.3f ± %.3f m without", b.Depth, b.SigmaDepth, a.Depth, a.SigmaDepth)
	}
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
