package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/nmea"
)

// noisy are parts read along straights and a bend with pin-pointing white times so
// much the table's and depths likewise, and a slow GNSS error times so much what
// the receiver says, the same for a whole part.
func noisy(rng *rand.Rand, n int, white, gnss, depth float64) []*shapedPart {
	sc := unitScales()
	var out []*shapedPart
	for range n {
		pts, _, _ := follow(3, leg{n: 14}, leg{n: 14, turn: 45 * degree})
		ps := placedAt(pts)
		samples := samplesOf(ps, all(len(ps)), 1, &sc)
		slowE, slowN := gnss*0.012*rng.NormFloat64(), gnss*0.012*rng.NormFloat64()
		shared, deep := rng.NormFloat64(), rng.NormFloat64()
		for k := range ps {
			s := &samples[k]
			w := math.Sqrt(s.quick + sq(white)*(s.white-s.quick))
			// First-order Gauss–Markov along the line, as the model has it.
			keep := math.Exp(-3.0 / 12)
			if k > 0 {
				shared = keep*shared + math.Sqrt(1-sq(keep))*rng.NormFloat64()
				deep = keep*deep + math.Sqrt(1-sq(keep))*rng.NormFloat64()
			}
			side := ps[min(k+1, len(ps)-1)].At.Sub(ps[max(k-1, 0)].At).Unit().Left()
			ps[k].At = pts[k].Add(side.Mul(w*rng.NormFloat64() + s.shared*shared))
			ps[k].At.E += slowE
			ps[k].At.N += slowN
			sigma := math.Hypot(0.03, 0.05)
			ps[k].Reading.Depth = 1 + depth*sigma*math.Sqrt(0.6)*rng.NormFloat64() + sigma*math.Sqrt(0.4)*deep
			ps[k].Reading.Current = 50 * math.Exp(0.05*rng.NormFloat64())
		}
		out = append(out, shape(ps, all(len(ps)), &sc))
	}
	return out
}

// The day's residuals tell how large its errors were, over thirty parts: white
// pin-pointing and white depths of half the table's and of the table's come back
// within a quarter; of twice the table's at least half of the excess does – the
// prior holds it, and a shape that follows its readings. What neighbours share can
// be taken for the line's own course, which makes it look smaller, by half at the
// most; what is the same for all of a part cannot be seen in it and keeps the
// table's size.
func TestScalesAreMeasured(t *testing.T) {
	for _, k := range []float64{0.5, 1, 2} {
		parts := noisy(rand.New(rand.NewPCG(7, 7)), 30, k, 1, k)
		low, high := 0.75*k, 1.25*k
		if k > 1 {
			low = 1 + 0.45*(k-1)
		}
		sc := measureScales(parts)
		if sc.white < low || sc.white > high {
			t.Errorf("pin-pointing %v times the table's: measured %.2f", k, sc.white)
		}
		if sc.shared < 0.5 || sc.shared > 1.6 {
			t.Errorf("pin-pointing shared as in the table: measured %.2f", sc.shared)
		}
		if g := sc.of(nmea.QualityRTKFixed); g < 0.6 || g > 1.6 {
			t.Errorf("GNSS as told: measured %.2f of it", g)
		}
		white, shared := measureDepthScales(parts)
		// Beside a better independent part the shared one is taken for better, too.
		if white < low || white > high || shared < 0.4 || shared > 1.6*max(k, 1) {
			t.Errorf("depths %v times the table's: measured %.2f, shared %.2f", k, white, shared)
		}
	}
}

// A day too small to say anything keeps the table.
func TestScalesOfASmallDay(t *testing.T) {
	sc := measureScales(nil)
	if sc.white != 1 || sc.shared != 1 || sc.of(nmea.QualityRTKFixed) != 1 {
		t.Errorf("nothing gives %+v", sc)
	}
	pts, _, _ := follow(3, leg{n: 4})
	unit := unitScales()
	p := shape(placedAt(pts), all(4), &unit)
	if sc := measureScales([]*shapedPart{nil, p}); sc.white != 1 || sc.shared != 1 {
		t.Errorf("four readings give %+v", sc)
	}
	if a, b := measureDepthScales([]*shapedPart{nil, p}); a != 1 || b != 1 {
		t.Errorf("four depths give %v and %v", a, b)
	}
}

// The search climbs to the top of a hill, whatever its place and slant, and asks for
// no place twice.
func TestPatternSearch(t *testing.T) {
	for _, top := range [][]float64{{0, 0, 0}, {0.7, -1.1, 0.3}, {2, 2, -2}} {
		asked := map[[3]float64]bool{}
		got := patternSearch(3, func(v []float64) float64 {
			if asked[[3]float64(v)] {
				t.Errorf("top at %v: %v asked for again", top, v)
			}
			asked[[3]float64(v)] = true
			var l float64
			for k := range v {
				l -= sq(v[k]-top[k]) + 0.3*(v[k]-top[k])*(v[(k+1)%3]-top[(k+1)%3])
			}
			return l
		})
		for k := range top {
			if math.Abs(got[k]-top[k]) > 0.06 { // its last step
				t.Errorf("top at %v, found %v", top, got)
			}
		}
	}
}
