package fuse_test

import (
	"testing"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/readings"
	"tracemap/remarks"
)

// A reading that a person set aside is placed and named and has no say: the day is
// the same as without it, wherever it lies.
func TestSetAsideByHandHasNoSay(t *testing.T) {
	epochs, rs := usual().work(stopsAlong(fittings(), 2.5))
	rs[3].Feature, rs[3].MeasuredDepth = "pothole", 0.7
	rs[9].Feature = "valve"
	var left []readings.Reading
	for i := range rs {
		if i%4 == 3 || i == 9 {
			rs[i].Flags |= remarks.SetAsideByHand
		} else {
			left = append(left, rs[i])
		}
	}
	with, without := locate(t, epochs, rs, fuse.DefaultOptions()), locate(t, epochs, left, fuse.DefaultOptions())
	at := geodesy.NewLocal(here).Forward
	if got, want := summary(with, at), summary(without, at); got != want {
		t.Errorf("with readings set aside:\n%s\nwithout them:\n%s", got, want)
	}
	if len(with.Points) != 0 || len(with.Readings) != len(rs) {
		t.Errorf("%d points, %d readings; want none and all %d", len(with.Points), len(with.Readings), len(rs))
	}
	for i, p := range with.Readings {
		if aside := p.Flags.Has(remarks.SetAsideByHand); !p.OK || p.Used == aside || (p.LineID == "") != aside {
			t.Errorf("reading %d: placed %v, used %v, on %q, set aside %v", i, p.OK, p.Used, p.LineID, aside)
		}
	}
}
