package fuse_test

import (
	"testing"

	"tracemap/fuse"
	"tracemap/geodesy/plane"
)

// Three thousand readings on one line with a few bends: nothing but patience is
// needed, and little of it.
func TestManyReadingsOnOneLine(t *testing.T) {
	line := plane.Polyline{{}, {E: 2500}, {E: 3200, N: 700}, {E: 3200, N: 3000}}
	stops := stopsAlong(line, 1.9)
	stops = stops[:3000:3000]
	epochs, rs := usual().work(stops)
	res := locate(t, epochs, rs, fuse.DefaultOptions())
	if len(res.Lines) != 1 || len(res.Lines[0].Parts) != 1 {
		t.Fatalf("%d lines", len(res.Lines))
	}
	p := &res.Lines[0].Parts[0]
	if p.Readings != len(stops) {
		t.Errorf("%d of %d readings used", p.Readings, len(stops))
	}
	var pts []plane.Pt
	for _, s := range stops {
		pts = append(pts, s.at)
	}
	if d := farthest(drawn(res, p, here), pts); d > 0.02 {
		t.Errorf("strays by %.3f m", d)
	}
	if len(p.Vertices) > 40 {
		t.Errorf("%d vertices on three straights", len(p.Vertices))
	}
}
