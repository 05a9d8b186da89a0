package fuse_test

import (
	"context"
	"math"
	"testing"
	"time"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
)

var (
	nan  = math.NaN()
	here = geodesy.Geo{Lat: 47.5, Lon: -17.75}
	dawn = time.Date(2026, 5, 12, 6, 30, 0, 0, time.UTC)
)

// A stop is where a reading was taken.
type stop struct {
	at    plane.Pt
	line  string
	depth float64
	pause float64 // s until the next stop is reached, beside the way at 1 m/s
	mute  bool    // passed by, without a reading
}

// stopsAlong lays stops of line W1 along a polyline, a step apart from half a step
// after its start, as a crew would do that never hits a corner.
func stopsAlong(line plane.Polyline, step float64) []stop {
	var out []stop
	s := step / 2
	for k := 1; k < len(line); k++ {
		l := line[k].Dist(line[k-1])
		for ; s < l; s += step {
			out = append(out, stop{at: line[k-1].Lerp(line[k], s/l), line: "W1", depth: 1.2})
		}
		s -= l
	}
	return out
}

// A site says where and when a day is worked.
type site struct {
	origin geodesy.Geo
	start  time.Time
	turn   float64                         // rad, of the whole day about the origin
	mount  func(heading plane.Pt) plane.Pt // from the locator to the antenna
}

func usual() site { return site{origin: here, start: dawn} }

// work makes the two logs of a day without any errors: an operator who stands for
// six seconds at every stop and walks straight from one to the next, and a
// receiver with RTK fixes once a second, 2 m above ground at 40 m.
func (s site) work(stops []stop) ([]nmea.Epoch, []readings.Reading) {
	local := geodesy.NewLocal(s.origin)
	sin, cos := math.Sincos(s.turn)
	turned := func(p plane.Pt) plane.Pt { return plane.Pt{E: cos*p.E - sin*p.N, N: sin*p.E + cos*p.N} }
	var epochs []nmea.Epoch
	var rs []readings.Reading
	none := float32(nan)
	t := 0.0
	stand := func(at plane.Pt) {
		g := local.Inverse(turned(at))
		epochs = append(epochs, nmea.Epoch{
			Nanos: s.start.UnixNano() + int64(t*1e9), Lat: g.Lat, Lon: g.Lon, Alt: 12, Sep: 30,
			SigmaN: none, SigmaE: none, SigmaU: none, HDOP: 1, VDOP: none, Age: none, Speed: none, Course: none,
			Quality: nmea.QualityRTKFixed,
		})
		t++
	}
	for k, p := range stops {
		ahead := plane.Pt{E: 1}
		if k+1 < len(stops) {
			ahead = stops[k+1].at.Sub(p.at).Unit()
		} else if k > 0 {
			ahead = p.at.Sub(stops[k-1].at).Unit()
		}
		antenna := func(at plane.Pt) plane.Pt {
			if s.mount == nil {
				return at
			}
			return at.Add(s.mount(ahead))
		}
		if !p.mute {
			rs = append(rs, readingOf(s.start.Add(time.Duration((t+3)*1e9)), p, len(rs)))
			for range 6 {
				stand(antenna(p.at))
			}
		}
		stand(antenna(p.at))
		if k+1 == len(stops) {
			break
		}
		next := stops[k+1].at
		n := int(next.Dist(p.at) + p.pause)
		for i := 1; i < n; i++ {
			stand(antenna(p.at.Lerp(next, float64(i)/float64(n))))
		}
	}
	return epochs, rs
}

func readingOf(at time.Time, p stop, row int) readings.Reading {
	return readings.Reading{
		File: "a.csv", Row: row + 2, Time: at, Line: p.line, Utility: "water", Method: readings.Direct, Response: readings.Peak,
		Frequency: 8192, Depth: p.depth, Current: 50, Signal: nan, Gain: nan, Compass: nan, NullOffset: nan,
		BottomCoil: nan, TopCoil: nan, CoilSpacing: nan, CoilDepth: nan, CoilCurrent: nan, Diameter: nan,
		MeasuredDepth: nan, Lat: nan, Lon: nan, HDOP: nan,
	}
}

// trusted is a clock that is right to a tenth of a second.
func trusted(tr *track.Track) *clock.Result {
	return &clock.Result{Sigma: 0.1, Method: "given", Determined: true, Ref: tr.Start, RunnerUp: nan}
}

func locate(t testing.TB, epochs []nmea.Epoch, rs []readings.Reading, opt fuse.Options) *fuse.Result {
	t.Helper()
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	res, err := fuse.Locate(context.Background(), tr, rs, trusted(tr), opt)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// drawn gives a part's vertices in the plane about an origin.
func drawn(res *fuse.Result, p *fuse.Part, origin geodesy.Geo) plane.Polyline {
	local := geodesy.NewLocal(origin)
	out := make(plane.Polyline, len(p.Vertices))
	for k, v := range p.Vertices {
		out[k] = local.Forward(res.Plane.Inverse(v.At))
	}
	return out
}

// farthest is how far points lie off a polyline at the most.
func farthest(line plane.Polyline, pts []plane.Pt) float64 {
	var d float64
	for _, p := range pts {
		foot, _ := line.Nearest(p)
		d = max(d, foot.Dist)
	}
	return d
}
