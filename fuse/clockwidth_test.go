package fuse_test

import (
	"context"
	"math"
	"sync"
	"testing"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/lab/simulate"
)

// offBy is the error of the locator's clock, in σ, on each of six days: the middles of
// the sixths of a normal law.
var offBy = []float64{-1.38, 0.67, -0.21, 0.21, -0.67, 1.38}

// walkedOff locates days that were walked along pipes with straights of 40 to 70 m, once
// with the clock as it is and once with one that is off and known to sigma seconds only.
func walkedOff(t *testing.T, sigma float64) (right, off []judged) {
	t.Helper()
	p, _ := simulate.Named("rtk-walk")
	right, off = make([]judged, len(offBy)), make([]judged, len(offBy))
	var wait sync.WaitGroup
	for k, z := range offBy {
		wait.Go(func() {
			s := p.Scenario(uint64(7_100_000 + k))
			s.Log.Own = simulate.OwnNone
			s.World.Straight, s.World.Length = simulate.Range{40, 70}, simulate.Range{120, 200}
			s.World.Pipes, s.World.Curves, s.World.Cables = 3, 0, 0
			d := simulate.Invent(s)
			a, b := logs(t, d)
			epochs, rs := read(t, [][]byte{a}, [][]byte{b})
			tr, err := track.Build(context.Background(), epochs)
			if err != nil {
				t.Error(err)
				return
			}
			opt := fuse.DefaultOptions()
			opt.AntennaHeight = s.Mount.Height
			as := known(d, tr)
			wrong := *as
			wrong.Offset += z * sigma
			wrong.Sigma, wrong.Determined, wrong.Method = sigma, false, "none"
			for _, c := range []struct {
				cl *clock.Result
				to *judged
			}{{as, &right[k]}, {&wrong, &off[k]}} {
				res, err := fuse.Locate(context.Background(), tr, rs, c.cl, opt)
				if err != nil {
					t.Error(err)
					return
				}
				*c.to = judged{d, res}
			}
		})
	}
	wait.Wait()
	return right, off
}

// halfOf is the mean half-width, m, of the located lines where they lie no nearer than
// reach to an end or a corner of the true line, the length, m, of that, and the share of
// it that lies within the width.
func halfOf(js []judged, reach float64) (half, length, held float64) {
	var sum, inside float64
	for _, j := range js {
		local := geodesy.NewLocal(j.day.Scenario.Origin)
		for i := range j.res.Lines {
			l := &j.res.Lines[i]
			for _, truth := range j.day.Lines {
				if truth.ID != l.ID {
					continue
				}
				away := func(s float64) bool {
					ok := s > truth.Surveyed[0]+reach && s < truth.Surveyed[1]-reach
					for _, c := range truth.Corners {
						ok = ok && math.Abs(s-c.Station) > reach
					}
					return ok
				}
				for _, p := range l.Parts {
					for k := 1; k < len(p.Vertices); k++ {
						a, b := &p.Vertices[k-1], &p.Vertices[k]
						n := math.Ceil(b.Station - a.Station)
						for m := range int(n) {
							f := (float64(m) + 0.5) / n
							at := local.Forward(j.res.Plane.Inverse(a.At.Lerp(b.At, f)))
							s, off := truth.Path.Nearest(at)
							if !away(s) {
								continue
							}
							half, d := 1.96*(a.Sigma+f*(b.Sigma-a.Sigma)), (b.Station-a.Station)/n
							sum, length = sum+half*d, length+d
							if math.Abs(off) <= half {
								inside += d
							}
						}
					}
				}
			}
		}
	}
	return sum / length, length, inside / length
}

// Sliding along a straight that was walked along costs nothing: where neither the error of
// the clock nor what it may still be brings an end or a bend near, an unknown clock makes
// the width at most half as wide again. All along the lines, ends and bends with them, at
// least 93 % of the length lies within the width. (No more than 97 % is not asked for: an
// end whose place is not known is wider than its error across the line.) The ends are as
// uncertain as the clock, and the part says so.
func TestUnknownClockIsLocal(t *testing.T) {
	const sigma = 5.0
	right, off := walkedOff(t, sigma)
	was, length, _ := halfOf(right, 4*sigma)
	is, _, _ := halfOf(off, 4*sigma)
	t.Logf("%.0f m of straights: half-width %.3f m with the clock known, %.3f m without", length, was, is)
	if length < 200 || !(is <= 1.5*was) {
		t.Errorf("half-width on %.0f m of straights %.3f m, %.2f times that with the clock known", length, is, is/was)
	}
	for _, j := range off {
		for _, l := range j.res.Lines {
			p := &l.Parts[0]
			for _, v := range []fuse.Vertex{p.Vertices[0], p.Vertices[len(p.Vertices)-1]} {
				if want := 0.4 * sigma * j.day.Scenario.Work.Speed[0]; v.Sigma < want || p.ClockWidth < want {
					t.Errorf("%s: σ of an end %.2f m, most added by the clock %.2f m", l.ID, v.Sigma, p.ClockWidth)
				}
			}
		}
	}
	all, _, held := halfOf(off, math.Inf(-1))
	t.Logf("all along: half-width %.2f m, %.1f %% within", all, 100*held)
	if !(held >= 0.93) {
		t.Errorf("%.1f %% within the width", 100*held)
	}
}

// What is said of a narrow clock's share of the width is what a clock without error
// would take off it.
func TestClockWidthIsWhatTheClockAdds(t *testing.T) {
	var stops []stop
	for k := range 20 {
		stops = append(stops, stop{at: plane.Pt{E: 3 * float64(k), N: 0.04 * math.Sin(float64(7*k))}, line: "W1", depth: 1})
	}
	// The crew comes to each stop from one side and leaves to the other.
	epochs, rs := usual().work(sideways(stops))
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	widths := func(sigma float64) (most, said float64) {
		cl := trusted(tr)
		cl.Sigma = sigma
		res, err := fuse.Locate(context.Background(), tr, rs, cl, fuse.DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range res.Lines[0].Parts[0].Vertices {
			most = max(most, 1.96*v.Sigma)
		}
		return most, res.Lines[0].Parts[0].ClockWidth
	}
	without, nothing := widths(0)
	with, said := widths(4)
	t.Logf("half-width %.3f m without, %.3f m with; said %.3f m", without, with, said)
	if nothing != 0 || with < 1.2*without || math.Abs(said-(with-without)) > 0.25*(with-without) {
		t.Errorf("a clock's error of 4 s makes %.3f m out of %.3f m; the part says %.3f m", with, without, said)
	}
}

// sideways puts a place left of the line before each stop and one right of it behind.
func sideways(stops []stop) []stop {
	var out []stop
	for _, s := range stops {
		out = append(out, stop{at: s.at.Add(plane.Pt{N: 3}), mute: true}, s, stop{at: s.at.Sub(plane.Pt{N: 3}), mute: true})
	}
	return out
}
