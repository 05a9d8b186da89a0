package fuse_test

import (
	"context"
	"slices"
	"testing"

	"tracemap/fuse"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// The circle told of a reading holds where it was taken though the clock is off by
// one of its σ: not determined but narrow, and not known; on a line and for itself.
func TestRadiusHoldsTheClock(t *testing.T) {
	way := plane.Polyline{{}, {E: 50}, {E: 50, N: 50}, {E: 90, N: 80}}
	stops := stopsAlong(way, 3)
	epochs, line := usual().work(stops)
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	local := geodesy.NewLocal(here)
	for what, feature := range map[string]string{"on a line": "", "for itself": "valve"} {
		rs := slices.Clone(line)
		for i := range rs {
			rs[i].Feature = feature
		}
		for _, sigma := range []float64{4, 20} {
			for _, off := range []float64{-sigma, sigma} {
				cl := trusted(tr)
				cl.Determined, cl.Sigma, cl.Offset = false, sigma, off
				res, err := fuse.Locate(context.Background(), tr, rs, cl, fuse.DefaultOptions())
				if err != nil {
					t.Fatal(err)
				}
				placed, held := 0, 0
				for i, p := range res.Readings {
					if !p.OK || i == 0 || i == len(rs)-1 { // the log ends beside them
						continue
					}
					placed++
					if local.Forward(p.Geo).Dist(stops[i].at) <= 2.448*p.Radius {
						held++
					}
				}
				if placed < len(rs)*3/4 || held < placed*19/20 {
					t.Errorf("%s, clock off by %v s of σ %v: %d of %d circles hold their readings", what, off, sigma, held, placed)
				}
			}
		}
	}
}
