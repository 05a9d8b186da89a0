package fuse_test

import (
	"math"
	"testing"
	"time"

	"tracemap/fuse"
	"tracemap/geodesy/plane"
	"tracemap/readings"
	"tracemap/remarks"
)

// A day with every reading forty times gives the line of the day without, and every
// one of them its own place beside it; a reading on a neighbour is set aside with
// all its copies.
func TestCopiesGetTheirOwnPlaces(t *testing.T) {
	stops := stopsAlong(plane.Polyline{{}, {E: 40}, {E: 60, N: 20}}, 2)
	stops[9].depth *= 0.55
	epochs, rs := usual().work(stops)
	for k := range rs {
		if k == 9 {
			rs[k].Current *= 0.2
		}
	}
	once := locate(t, epochs, rs, fuse.DefaultOptions())
	const copies = 40
	var many []readings.Reading
	for _, r := range rs {
		for k := range copies {
			r.Time = r.Time.Add(time.Duration(min(k, 1)) * time.Millisecond)
			many = append(many, r)
		}
	}
	res := locate(t, epochs, many, fuse.DefaultOptions())
	if len(res.Lines) != 1 || len(res.Lines[0].Parts) != 1 || len(res.Readings) != len(many) {
		t.Fatalf("%d lines, %d readings of %d", len(res.Lines), len(res.Readings), len(many))
	}
	p := &res.Lines[0].Parts[0]
	var line plane.Polyline
	for _, v := range p.Vertices {
		line = append(line, v.At)
	}
	var before []plane.Pt
	for _, v := range once.Lines[0].Parts[0].Vertices {
		before = append(before, v.At)
	}
	if d := farthest(line, before); d > 0.01 {
		t.Errorf("the line is %.3f m from that of the day without copies", d)
	}
	used := 0
	for k := range res.Readings {
		got, want := &res.Readings[k], &once.Readings[k/copies]
		if got.Used {
			used++
		}
		if got.Used != want.Used || got.Flags != want.Flags || got.LineID != want.LineID || got.Part != 1 {
			t.Fatalf("copy %d of reading %d: used %v, %q; without copies %v, %q", k%copies, k/copies, got.Used, got.Flags, want.Used, want.Flags)
		}
		if foot, _ := line.Nearest(got.At); math.Abs(foot.Station-got.Station) > 0.01 || math.Abs(foot.Dist-math.Abs(got.Offset)) > 0.01 {
			t.Errorf("copy %d of reading %d: station %.3f, offset %.3f m; it lies at %.3f, %.3f m off", k%copies, k/copies, got.Station, got.Offset, foot.Station, foot.Dist)
		}
	}
	if used != p.Readings || used != len(many)-copies {
		t.Errorf("%d used, the part says %d, want %d", used, p.Readings, len(many)-copies)
	}
	if !res.Readings[9*copies].Flags.Has(remarks.NeighbourLock) {
		t.Errorf("the reading on a neighbour: %q", res.Readings[9*copies].Flags)
	}
	if !p.From.Equal(once.Lines[0].Parts[0].From) || p.To.Before(once.Lines[0].Parts[0].To) {
		t.Errorf("read from %v to %v", p.From, p.To)
	}
}
