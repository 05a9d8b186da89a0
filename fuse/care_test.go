package fuse_test

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tracemap/fuse"
	"tracemap/fuse/track"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/remarks"
)

// An undetermined clock makes every width as large as what it may do. A crew that
// sweeps a metre and a half aside between its readings: with the clock off by one σ
// the line drawn is off, and its σ says so. A crew that stays on the line loses
// nothing: the clock slides its readings along it.
func TestUndeterminedClockWidens(t *testing.T) {
	way := plane.Polyline{{}, {E: 50}, {E: 50, N: 50}, {E: 90, N: 80}}
	for _, sweep := range []float64{0, 1.5} {
		var stops []stop
		for k, s := range stopsAlong(way, 3) {
			if sweep > 0 && k > 0 {
				before := stops[len(stops)-1].at
				aside := s.at.Sub(before).Unit().Left().Mul(sweep * float64(1-2*(k%2)))
				stops = append(stops, stop{at: before.Lerp(s.at, 0.5).Add(aside), mute: true})
			}
			stops = append(stops, s)
		}
		epochs, rs := usual().work(stops)
		tr, err := track.Build(context.Background(), epochs)
		if err != nil {
			t.Fatal(err)
		}
		sure := locate(t, epochs, rs, fuse.DefaultOptions()).Lines[0].Parts[0].Vertices[0].Sigma
		for _, off := range []float64{-12, 0, 12} {
			cl := trusted(tr)
			cl.Determined, cl.Sigma, cl.Offset = false, 12, off
			res, err := fuse.Locate(context.Background(), tr, rs, cl, fuse.DefaultOptions())
			if err != nil {
				t.Fatal(err)
			}
			p := &res.Lines[0].Parts[0]
			if !p.Flags.Has(remarks.ClockUncertain) {
				t.Errorf("off by %v s: part flagged %q", off, p.Flags)
			}
			least := math.Inf(1)
			for _, v := range p.Vertices {
				least = min(least, v.Sigma)
			}
			if sweep > 0 && least < 2.5*sure {
				t.Errorf("off by %v s, swept: σ %.3f m, with a known clock %.3f m", off, least, sure)
			}
			line := drawn(res, p, here)
			for _, s := range stopsAlong(way, 1)[15 : 125-15] {
				foot, _ := line.Nearest(s.at)
				a, b := p.Vertices[foot.Seg].Sigma, p.Vertices[foot.Seg+1].Sigma
				if sigma := a + foot.T*(b-a); foot.Dist > 3*sigma {
					t.Errorf("off by %v s, sweeps of %v m: at %v the line is %.2f m off, its σ there %.2f m", off, sweep, s.at, foot.Dist, sigma)
				}
			}
		}
	}
}

// A stretch whose readings scatter far more than they should is flagged and as wide
// as they scatter; the rest of the line is neither.
func TestDistortedStretch(t *testing.T) {
	stops := stopsAlong(plane.Polyline{{}, {E: 60}}, 1)
	for k := 25; k < 35; k++ {
		stops[k].at.N += 0.16 * float64(1-2*(k%2))
	}
	epochs, rs := usual().work(stops)
	res := locate(t, epochs, rs, fuse.DefaultOptions())
	p := &res.Lines[0].Parts[0]
	if !p.Flags.Has(remarks.Distorted) {
		t.Fatalf("flagged %q", p.Flags)
	}
	wide := 0.0
	for _, v := range p.Vertices {
		if v.Flags.Has(remarks.Distorted) {
			wide = max(wide, v.Sigma)
			if v.Station < 20 || v.Station > 40 {
				t.Errorf("station %.0f m flagged", v.Station)
			}
		}
	}
	if wide < 0.15 {
		t.Errorf("σ %.2f m over readings 0.16 m off to either side", wide)
	}
	// Peak and null apart over more than half of a stretch is one, too.
	epochs, rs = usual().work(stopsAlong(plane.Polyline{{}, {E: 120}}, 3))
	for k := 10; k < 16; k++ {
		rs[k].NullOffset, rs[k].Flags = 0.2, remarks.PeakNullApart
	}
	res = locate(t, epochs, rs, fuse.DefaultOptions())
	if !res.Lines[0].Parts[0].Flags.Has(remarks.PeakNullApart) {
		t.Errorf("flagged %q", res.Lines[0].Parts[0].Flags)
	}
}

// Two names of one line are one line, with a warning; two lines beside or under
// each other stay two.
func TestTwoNames(t *testing.T) {
	for _, c := range []struct {
		name    string
		aside   float64 // m
		depth   float64
		utility string
		lines   int
	}{
		{"the same", 0, 1.2, "water", 1},
		{"a metre aside", 1, 1.2, "water", 2},
		{"half a metre aside", 0.5, 1.2, "water", 2},
		{"under it", 0, 2, "water", 2},
		{"another utility", 0, 1.2, "gas", 2},
	} {
		stops := stopsAlong(plane.Polyline{{}, {E: 60}}, 3)
		n := len(stops)
		for _, s := range stopsAlong(plane.Polyline{{E: 50, N: c.aside}, {E: 5, N: c.aside}}, 2.6) {
			s.line, s.depth = "W7", c.depth
			stops = append(stops, s)
		}
		stops[n].pause = 60
		epochs, rs := usual().work(stops)
		rng := rand.New(rand.NewPCG(1, 1))
		for k := range rs {
			rs[k].Depth += 0.03 * rng.NormFloat64()
			if k >= n && c.utility == "gas" {
				rs[k].Utility = "gas"
			}
		}
		res := locate(t, epochs, rs, fuse.DefaultOptions())
		if len(res.Lines) != c.lines {
			t.Errorf("%s: %d lines, want %d", c.name, len(res.Lines), c.lines)
			continue
		}
		said := strings.Contains(strings.Join(res.Warnings, "\n"), "W1 and W7")
		if said != (c.lines == 1) {
			t.Errorf("%s: warnings %q", c.name, res.Warnings)
		}
		if c.lines == 1 && res.Lines[0].Parts[0].Readings != len(rs) {
			t.Errorf("%s: %d of %d readings used", c.name, res.Lines[0].Parts[0].Readings, len(rs))
		}
	}
}

// The ground is that under the readings, and its σ that of the heights; without
// heights it is unknown.
func TestGround(t *testing.T) {
	epochs, rs := usual().work(stopsAlong(plane.Polyline{{}, {E: 60}}, 3))
	for k := range epochs {
		epochs[k].Alt += 0.001 * float64(k) // the ground rises
	}
	opt := fuse.DefaultOptions()
	opt.AntennaHeight = 1.5
	res := locate(t, epochs, rs, opt)
	v := res.Lines[0].Parts[0].Vertices
	first, last := v[0].Ground.H, v[len(v)-1].Ground.H
	if math.Abs(first-40.5) > 0.05 || last < first+0.1 || v[0].SigmaH <= 0 || v[0].SigmaH > 0.1 {
		t.Errorf("ground %.3f to %.3f m, σ %.3f m", first, last, v[0].SigmaH)
	}
	opt.AntennaHeight = math.NaN()
	if w := locate(t, epochs, rs, opt).Lines[0].Parts[0].Vertices[0]; w.SigmaH <= v[0].SigmaH+0.05 || !w.Flags.Any(remarks.Set(math.MaxUint64)) {
		t.Errorf("with an assumed antenna height σ %.3f m, with a measured one %.3f m", w.SigmaH, v[0].SigmaH)
	}
	for k := range epochs {
		epochs[k].Alt = nan
	}
	if w := locate(t, epochs, rs, opt).Lines[0].Parts[0].Vertices[0]; !math.IsNaN(w.Ground.H) {
		t.Errorf("ground %v without heights", w.Ground.H)
	}
}

// The weaker the fix, the wider the line, and it says which it rests on.
func TestWeakerFixesWiderLines(t *testing.T) {
	last := 0.0
	for _, q := range []nmea.Quality{nmea.QualityRTKFixed, nmea.QualityRTKFloat, nmea.QualityDGPS, nmea.QualityAutonomous, nmea.QualityEstimated} {
		epochs, rs := usual().work(stopsAlong(plane.Polyline{{}, {E: 60}}, 3))
		for k := range epochs {
			epochs[k].Quality = q
		}
		v := locate(t, epochs, rs, fuse.DefaultOptions()).Lines[0].Parts[0].Vertices[0]
		if v.Sigma <= last || v.Quality != q || (v.Flags&^remarks.NearEnd == 0) != (q == nmea.QualityRTKFixed) {
			t.Errorf("%v: σ %.3f m (%.3f m with a better fix), quality %v, flags %q", q, v.Sigma, last, v.Quality, v.Flags)
		}
		// Nothing of a common GNSS error averages out within one pass.
		last = v.Sigma
	}
}

// A slow error shared by all readings of a pass goes whole into the width: more
// readings make it no narrower than what they share.
func TestSharedErrorsStay(t *testing.T) {
	for _, step := range []float64{6, 3, 1, 0.5} {
		epochs, rs := usual().work(stopsAlong(plane.Polyline{{}, {E: 30}}, step))
		for k := range epochs {
			epochs[k].Quality = nmea.QualityAutonomous
		}
		for _, v := range locate(t, epochs, rs, fuse.DefaultOptions()).Lines[0].Parts[0].Vertices {
			if v.Sigma < 1 {
				t.Errorf("a reading every %v m: σ %.2f m with autonomous fixes of σ 1.8 m", step, v.Sigma)
			}
		}
	}
}
