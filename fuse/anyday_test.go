package fuse_test

import (
	"context"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
)

// anyEpochs are fixes of any worth along any walk.
func anyEpochs(t *rapid.T) []nmea.Epoch {
	local := geodesy.NewLocal(here)
	none := float32(nan)
	var out []nmea.Epoch
	var now float64
	var at, v plane.Pt
	quality := nmea.QualityRTKFixed
	for range rapid.IntRange(1, 120).Draw(t, "epochs") {
		dt := rapid.SampledFrom([]float64{0.1, 1, 1, 1, 1, 2.5, 30}).Draw(t, "dt")
		now += dt
		switch rapid.IntRange(0, 12).Draw(t, "turn") {
		case 0:
			v = plane.Pt{E: rapid.Float64Range(-2, 2).Draw(t, "v east"), N: rapid.Float64Range(-2, 2).Draw(t, "v north")}
		case 1:
			v = plane.Pt{}
		case 2:
			at = at.Add(plane.Pt{E: rapid.SampledFrom([]float64{0.5, 10, 2e4}).Draw(t, "jump")})
		case 3:
			quality = nmea.Quality(rapid.SampledFrom([]uint8{0, 1, 2, 4, 5, 6, 255}).Draw(t, "quality"))
		}
		at = at.Add(v.Mul(dt))
		g := local.Inverse(at)
		e := nmea.Epoch{
			Nanos: dawn.UnixNano() + int64(now*1e9), Lat: g.Lat, Lon: g.Lon, Alt: 12, Sep: 30,
			SigmaN: none, SigmaE: none, SigmaU: none, HDOP: 1, VDOP: none, Age: none, Speed: none, Course: none, Quality: quality,
		}
		if rapid.IntRange(0, 5).Draw(t, "no height") == 0 {
			e.Alt = nan
		}
		out = append(out, e)
	}
	return out
}

// anyReadings are rows with anything missing, at times in and about the log.
func anyReadings(t *rapid.T, span float64) []readings.Reading {
	value := func(name string, of ...float64) float64 {
		return rapid.SampledFrom(append(of, nan)).Draw(t, name)
	}
	var out []readings.Reading
	for k := range rapid.IntRange(0, 60).Draw(t, "readings") {
		r := readingOf(dawn.Add(time.Duration(rapid.Float64Range(-5, span+5).Draw(t, "t")*1e9)), stop{}, k)
		if rapid.IntRange(0, 15).Draw(t, "no time") == 0 {
			r.Time = time.Time{}
		}
		r.Line = rapid.SampledFrom([]string{"W1", "W1", "W2", "", "é"}).Draw(t, "line")
		r.Utility = rapid.SampledFrom([]readings.Utility{"water", "gas", "", "unknown"}).Draw(t, "utility")
		r.Method = rapid.SampledFrom([]readings.Method{readings.Direct, readings.Direct, readings.Passive, readings.Induction, readings.Sonde, ""}).Draw(t, "method")
		r.Response = rapid.SampledFrom([]readings.Response{readings.Peak, readings.Null, readings.Omni, readings.Single, ""}).Draw(t, "response")
		r.Feature = rapid.SampledFrom([]string{"", "", "", "", "valve", "pothole", "sync"}).Draw(t, "feature")
		r.Depth = value("depth", 0, 1, 1.1, 1.3, 0.02, 9, -1)
		r.CoilDepth = value("coil depth", nan, nan, 1.2)
		r.Current = value("current", 0, 50, 48, 12, 1e6, -3)
		r.Frequency = value("frequency", 8192, 32768)
		r.NullOffset = value("null", nan, nan, 0, 0.2, -3)
		r.MeasuredDepth = value("seen", nan, 1, 0, -2)
		if rapid.IntRange(0, 8).Draw(t, "own") == 0 {
			r.Lat, r.Lon = here.Lat+rapid.Float64Range(-1e-3, 1e-3).Draw(t, "lat"), here.Lon
			r.HDOP, r.Fix = value("hdop", 0, 1, 40), rapid.SampledFrom([]string{"4", "rtk", "nonsense", ""}).Draw(t, "fix")
		}
		if rapid.Bool().Draw(t, "flagged") {
			r.Flags = rapid.SampledFrom([]remarks.Set{remarks.DepthImplausible, remarks.DepthPassive, remarks.PeakNullApart, remarks.DepthMissing}).Draw(t, "flag")
		}
		out = append(out, r)
	}
	return out
}

// Any day gives a result without a panic, in which every reading has one fate,
// every part is whole, and nothing is drawn where nothing was read.
func TestAnyDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		epochs := anyEpochs(t)
		tr, err := track.Build(context.Background(), epochs)
		if err != nil {
			return
		}
		span := float64(epochs[len(epochs)-1].Nanos-epochs[0].Nanos) * 1e-9
		rs := anyReadings(t, span)
		cl := &clock.Result{
			Offset: rapid.SampledFrom([]float64{0, 0, 3, -100}).Draw(t, "offset"),
			Sigma:  rapid.SampledFrom([]float64{0.1, 1, 300}).Draw(t, "σ"),
			Drift:  rapid.SampledFrom([]float64{0, 20}).Draw(t, "drift"), Ref: tr.Start,
			Determined: rapid.Bool().Draw(t, "determined"), RunnerUp: nan,
		}
		opt := fuse.DefaultOptions()
		opt.MaxGap = rapid.SampledFrom([]float64{0, 1, 15, 1e6}).Draw(t, "gap")
		opt.AntennaForward = rapid.SampledFrom([]float64{0, 0, 0.4}).Draw(t, "forward")
		opt.AntennaHeight = rapid.SampledFrom([]float64{math.NaN(), 0, 2}).Draw(t, "antenna")
		res, err := fuse.Locate(context.Background(), tr, rs, cl, opt)
		if err != nil {
			t.Fatal(err)
		}
		if len(res.Readings) != len(rs) {
			t.Fatalf("%d of %d readings", len(res.Readings), len(rs))
		}
		parts := map[string]int{}
		used := 0
		for _, l := range res.Lines {
			if _, twice := parts[l.ID]; twice || l.ID == "" || len(l.Parts) == 0 {
				t.Fatalf("line %q: twice %v, %d parts", l.ID, twice, len(l.Parts))
			}
			parts[l.ID] = len(l.Parts)
			for k := range l.Parts {
				p := &l.Parts[k]
				checkPart(t, l.ID, p)
				if p.Number != k+1 {
					t.Errorf("part %d numbered %d", k+1, p.Number)
				}
				used += p.Readings
				for v := 1; v < len(p.Vertices); v++ {
					// Between neighbours on a part lies at the most a gap and a corner's
					// excursion.
					if d := p.Vertices[v].At.Dist(p.Vertices[v-1].At); d > 1e5 {
						t.Errorf("%s: vertices %v m apart", l.ID, d)
					}
				}
			}
			for _, e := range l.Events {
				if e.Part < 1 || e.Part > len(l.Parts) || e.LineID != l.ID || math.IsNaN(e.Station) {
					t.Errorf("event %+v", e)
				}
			}
		}
		on := 0
		for k := range res.Readings {
			r := &res.Readings[k]
			if r.Reading != &rs[k] {
				t.Fatalf("reading %d is another", k)
			}
			onLine := r.OK && rs[k].OnLine()
			if onLine != (r.LineID != "" && r.Part > 0) || onLine && r.Part > parts[r.LineID] {
				t.Errorf("reading %d: placed %v, on line %q part %d", k, r.OK, r.LineID, r.Part)
			}
			if onLine && r.Used {
				on++
			}
			if onLine && !r.Used && !r.Flags.Any(remarks.NeighbourLock|remarks.Outlier) {
				t.Errorf("reading %d is set aside and no flag says why", k)
			}
			if !r.OK && r.Flags == 0 {
				t.Errorf("reading %d has no place and no flag says why", k)
			}
			if r.OK && !(r.Radius > 0) {
				t.Errorf("reading %d has radius %v", k, r.Radius)
			}
		}
		if on != used {
			t.Errorf("%d readings used, parts say %d", on, used)
		}
	})
}
