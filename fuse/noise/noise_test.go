package noise_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tracemap/fuse/noise"
	"tracemap/nmea"
	"tracemap/readings"
)

var none = float32(math.NaN())

// blank is an epoch that says nothing but its quality.
func blank(q nmea.Quality) nmea.Epoch {
	return nmea.Epoch{Quality: q, SigmaN: none, SigmaE: none, SigmaU: none, HDOP: none, VDOP: none, Age: none}
}

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// The receiver's own σ are taken as they stand where they are above the floor.
// The ellipse of NMEA 0183 GST – semi-axes a and b, orientation θ clockwise from
// true north – has σN² = a²cos²θ + b²sin²θ, σE² = a²sin²θ + b²cos²θ and
// cov = (a² − b²) sin θ cos θ (rotation of a diagonal covariance).
func TestEllipseOfGST(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.02, 5).Draw(t, "a")
		b := a * rapid.Float64Range(0.3, 1).Draw(t, "b/a")
		theta := rapid.Float64Range(0, 2*math.Pi).Draw(t, "θ")
		s, c := math.Sincos(theta)
		n2, e2, cov := a*a*c*c+b*b*s*s, a*a*s*s+b*b*c*c, (a*a-b*b)*s*c
		e := blank(nmea.QualityRTKFixed)
		e.SigmaN, e.SigmaE, e.SigmaU, e.CovNE = float32(math.Sqrt(n2)), float32(math.Sqrt(e2)), float32(2*a), float32(cov)
		if b < noise.Fixes[nmea.QualityRTKFixed].Floor {
			t.Skip("below the floor")
		}
		h, v := noise.Of(&e)
		if !near(h.EE, e2, 1e-6*e2) || !near(h.NN, n2, 1e-6*n2) || !near(v, 2*a, 1e-6*a) { // float32
			t.Fatalf("variances %v, σ up %v, want east %v, north %v, up %v", h, v, e2, n2, 2*a)
		}
		// An ellipse flatter than 95 % correlation is made rounder.
		if limit := 0.95 * math.Sqrt(n2*e2); math.Abs(cov) <= limit && !near(h.EN, cov, 1e-6*a*a) {
			t.Fatalf("covariance %v, want %v", h.EN, cov)
		}
		// Its axes come back as eigenvalues.
		mid, half := (h.EE+h.NN)/2, math.Hypot((h.EE-h.NN)/2, h.EN)
		if math.Abs(cov) <= 0.95*math.Sqrt(n2*e2) && (!near(mid+half, a*a, 1e-5*a*a) || !near(mid-half, b*b, 1e-5*a*a)) {
			t.Fatalf("axes² %v and %v, want %v and %v", mid+half, mid-half, a*a, b*b)
		}
	})
}

// One ellipse worked through in a log: GST as text to the covariance. Numbers by
// the formulas above: a 0.9, b 0.3, θ 30° gives σN 0.79373, σE 0.51962, cov
// 0.31177.
func TestEllipseFromALog(t *testing.T) {
	sentence := func(body string) string {
		sum := byte(0)
		for k := range len(body) {
			sum ^= body[k]
		}
		return fmt.Sprintf("$%s*%02X\r\n", body, sum)
	}
	log := sentence("GNRMC,083000.00,A,4730.0000,N,01745.0000,W,0.1,0.0,120526,,,D") +
		sentence("GNGGA,083000.00,4730.0000,N,01745.0000,W,2,12,0.8,40.0,M,30.0,M,,") +
		sentence("GNGST,083000.00,1.2,0.9,0.3,30.0,0.79373,0.51962,1.1")
	read, err := nmea.Read(context.Background(), []nmea.Source{{Name: "a.nmea", R: strings.NewReader(log)}}, nmea.Options{})
	if err != nil || len(read.Epochs) != 1 {
		t.Fatalf("%v, %d epochs", err, len(read.Epochs))
	}
	h, v := noise.Of(&read.Epochs[0])
	if !near(h.NN, 0.63, 1e-4) || !near(h.EE, 0.27, 1e-4) || !near(h.EN, 0.31177, 1e-4) || !near(v, 1.1, 1e-6) { // m²: GST's decimals
		t.Errorf("%+v, up %v", h, v)
	}
}

// Without GST: the table's σ of one axis times HDOP, within bounds.
func TestFallback(t *testing.T) {
	for q, f := range noise.Fixes {
		last := 0.0
		for _, dop := range []float32{0.01, 0.5, 0.8, 1, 1.5, 3, 20, 99} {
			e := blank(q)
			e.HDOP = dop
			h, v := noise.Of(&e)
			if h.EE != h.NN || h.EN != 0 || h.Mean() != h.EE {
				t.Errorf("%v, HDOP %v: %+v is not round", q, dop, h)
			}
			s := math.Sqrt(h.EE)
			if s < last || s < f.Floor || v < s {
				t.Errorf("%v, HDOP %v: σ %v, up %v; floor %v, at a smaller HDOP %v", q, dop, s, v, f.Floor, last)
			}
			if dop == 1 && !near(s, f.Sigma, 1e-9) {
				t.Errorf("%v, HDOP 1: σ %v, want the table's %v", q, s, f.Sigma)
			}
			last = s
		}
		for _, dop := range []float32{none, 0, -1} {
			e := blank(q)
			e.HDOP = dop
			if h, _ := noise.Of(&e); !(h.EE >= f.Sigma*f.Sigma) {
				t.Errorf("%v, HDOP %v: σ² %v, less than with a good one", q, dop, h.EE)
			}
		}
	}
}

// Whatever the receiver says: never below the floor, never a covariance that is
// none, never NaN.
func TestFloors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.SampledFrom([]nmea.Quality{1, 2, 3, 4, 5, 6, 255}).Draw(t, "quality")
		f := noise.Fixes[q]
		e := blank(q)
		sigma := rapid.Custom(func(t *rapid.T) float32 {
			return float32(math.Pow(10, rapid.Float64Range(-6, 4).Draw(t, "lg σ")))
		})
		e.SigmaN, e.SigmaE = sigma.Draw(t, "north"), sigma.Draw(t, "east")
		e.SigmaU = rapid.SampledFrom([]float32{none, 0, 1e-6, 3, 1e4}).Draw(t, "up")
		e.CovNE = rapid.Float32Range(-1e8, 1e8).Draw(t, "cov")
		h, v := noise.Of(&e)
		if !(h.EE >= f.Floor*f.Floor && h.NN >= f.Floor*f.Floor && v >= f.Floor) {
			t.Fatalf("%+v, up %v, below the floor of %v m", h, v, f.Floor)
		}
		if h.EE < 0.999*float64(e.SigmaE)*float64(e.SigmaE) || h.NN < 0.999*float64(e.SigmaN)*float64(e.SigmaN) {
			t.Fatalf("%+v is less than the receiver says", h)
		}
		if !(h.EE*h.NN-h.EN*h.EN > 0) {
			t.Fatalf("%+v is no covariance", h)
		}
	})
}

// The table is whole: every quality that a position may have is there, better
// fixes have smaller σ, and shares are shares.
func TestTableOfFixes(t *testing.T) {
	for q := range 256 {
		f, ok := noise.Fixes[nmea.Quality(q)]
		switch nmea.Quality(q) {
		case nmea.QualityNone, nmea.QualityManual, nmea.QualitySimulator:
			if f.Usable {
				t.Errorf("quality %d is not a measurement and is usable", q)
			}
			continue
		}
		if !ok {
			if nmea.Quality(q).String() != "unknown" {
				t.Errorf("quality %v has no row", nmea.Quality(q))
			}
			continue
		}
		if !f.Usable || f.Sigma <= 0 || f.Floor <= 0 || f.Floor > f.Sigma || f.Quick <= 0 || f.Quick >= 1 || f.Tau <= 0 || f.Vertical < 1 {
			t.Errorf("quality %v: %+v", nmea.Quality(q), f)
		}
	}
	order := []nmea.Quality{nmea.QualityRTKFixed, nmea.QualityRTKFloat, nmea.QualityDGPS, nmea.QualityAutonomous, nmea.QualityEstimated}
	for k := 1; k < len(order); k++ {
		if a, b := noise.Fixes[order[k-1]], noise.Fixes[order[k]]; a.Sigma >= b.Sigma || a.Floor > b.Floor {
			t.Errorf("%v is not better than %v", order[k-1], order[k])
		}
	}
	// ISO/IEC Guide 98-3 (GUM), table G.2: k for 95 %, normal law, 1.959964; rounded to
	// the 1.96 that every column and document states.
	if !near(noise.K95, 1.959964, 5e-5) || noise.K95 != 1.96 {
		t.Errorf("K95 %v", noise.K95)
	}
}

// A locator points the worse the deeper the line, and the worse the coil and the
// signal: the order follows from the fields of two conductors (Biot–Savart), the
// figures are common practice.
func TestLocatorOrder(t *testing.T) {
	at := func(response readings.Response, method readings.Method) *readings.Reading {
		return &readings.Reading{Response: response, Method: method}
	}
	best := at(readings.Peak, readings.Direct)
	for _, worse := range []*readings.Reading{
		at(readings.Null, readings.Direct), at(readings.Omni, readings.Direct), at(readings.Single, readings.Direct),
		at(readings.Peak, readings.Induction), at(readings.Peak, readings.Passive),
	} {
		for _, d := range []float64{0.3, 1, 2.5, 4} {
			if noise.PinSigma(worse, d) <= noise.PinSigma(best, d) || noise.DepthSigma(worse, d) <= noise.DepthSigma(best, d) {
				t.Errorf("%v %v at %v m: not wider than direct peak", worse.Response, worse.Method, d)
			}
		}
	}
	for d := 0.1; d < 6; d += 0.1 {
		if noise.PinSigma(best, d+0.1) <= noise.PinSigma(best, d) || noise.DepthSigma(best, d+0.1) <= noise.DepthSigma(best, d) {
			t.Errorf("σ does not grow from %.1f m on", d)
		}
	}
	// Common practice for a peak over one line a metre deep: 5 % of the depth and 2
	// to 3 cm, in position and depth.
	if p, d := noise.PinSigma(best, 1), noise.DepthSigma(best, 1); !near(p, 0.055, 0.02) || !near(d, 0.058, 0.02) {
		t.Errorf("at 1 m: position %v m, depth %v m", p, d)
	}
	if u := noise.PinSigma(best, math.NaN()); !(u >= noise.PinSigma(best, 1) && u <= noise.PinSigma(best, 2)) {
		t.Errorf("unknown depth: σ %v m", u)
	}
}
