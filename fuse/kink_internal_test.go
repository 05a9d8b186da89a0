package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
)

// modelled draws readings along a line with errors exactly as the table of constants has
// them: pin-pointing, independent and shared, and the slow and quick error of an RTK fix.
func modelled(rng *rand.Rand, line plane.Polyline, spacing, pin float64) []Placed {
	const depth, quick, slow = 1.2, 0.004, 0.012
	n := int(line.Length()/spacing) + 1
	ps := make([]Placed, n)
	sigma := pin * math.Hypot(noise.PinBase, noise.PinDepth*depth)
	var shared float64
	var fix plane.Pt
	normals := func(k float64) plane.Pt { return plane.Pt{E: k * rng.NormFloat64(), N: k * rng.NormFloat64()} }
	const pause = 6.0 // s from one reading to the next
	phi, rho := math.Exp(-spacing/noise.PinLength), math.Exp(-pause/noise.Fixes[nmea.QualityRTKFixed].Tau)
	for i := range ps {
		if i == 0 {
			shared, fix = rng.NormFloat64(), normals(slow)
		} else {
			shared = phi*shared + math.Sqrt(1-phi*phi)*rng.NormFloat64()
			fix = fix.Mul(rho).Add(normals(slow * math.Sqrt(1-rho*rho)))
		}
		at, dir := line.At(float64(i) * spacing)
		off := sigma * (math.Sqrt(1-noise.PinShared)*rng.NormFloat64() + math.Sqrt(noise.PinShared)*shared)
		r := &readings.Reading{Row: i, Line: "W1", Method: readings.Direct, Response: readings.Peak, Depth: depth + 0.05*rng.NormFloat64(), Current: 50,
			CoilDepth: math.NaN(), NullOffset: math.NaN(), BottomCoil: math.NaN(), TopCoil: math.NaN(), MeasuredDepth: math.NaN()}
		ps[i] = Placed{
			Reading: r, OK: true, At: at.Add(dir.Left().Mul(off)).Add(fix).Add(normals(quick)), Quality: nmea.QualityRTKFixed,
			QuickVar: quick * quick, SlowE: slow * slow, SlowN: slow * slow, T: pause * float64(i), Geo: unknownGeo(),
		}
	}
	return ps
}

// held gives the length of a part's line, of places that keep says count, and how much
// of it lies within the width; and sums of squares of half-width and error.
func held(p *shapedPart, line plane.Polyline, keep func(station float64) bool) (length, inside, half2, err2 float64) {
	marks := p.marks()
	for k := 1; k < len(marks); k++ {
		a, b := marks[k-1], marks[k]
		d := a.at.Dist(b.at)
		n := math.Ceil(d / 0.25)
		for m := range int(n) {
			t := (float64(m) + 0.5) / n
			foot, _ := line.Nearest(a.at.Lerp(b.at, t))
			if !keep(foot.Station) {
				continue
			}
			half := noise.K95 * (a.sigma + t*(b.sigma-a.sigma))
			length += d / n
			half2 += d / n * half * half
			err2 += d / n * foot.Offset * foot.Offset
			if math.Abs(foot.Offset) <= half {
				inside += d / n
			}
		}
	}
	return length, inside, half2, err2
}

// Whether a line bends in a corner or in an arc is often open; the width near it must
// hold all the same. Errors are exactly those of the table.
func TestWidthHoldsAtSmallBends(t *testing.T) {
	sc := unitScales()
	for _, degrees := range []float64{0, 1, 1.85, 2.5, 5} {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		line := plane.Polyline{{}, {E: 31}, {E: 31 + 31*cos, N: 31 * sin}}
		var length, inside, half, square float64
		for draw := range 150 {
			rng := rand.New(rand.NewPCG(uint64(draw), uint64(100*degrees)))
			ps := modelled(rng, line, 3, 1)
			p := shape(ps, between(0, len(ps)-1), &sc)
			if p == nil {
				t.Fatal("no shape")
			}
			l, i, h, e := held(p, line, func(s float64) bool { return math.Abs(s-31) < 3 })
			length, inside, half, square = length+l, inside+i, half+h, square+e
		}
		t.Logf("%v°: %.1f %% within, sharpness %.2f", degrees, 100*inside/length, math.Sqrt(half/square)/noise.K95)
		if c := inside / length; c < 0.925 {
			t.Errorf("a bend of %v°: %.1f %% within the width", degrees, 100*c)
		}
	}
}
