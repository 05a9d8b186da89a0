package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/geodesy/plane"
	"tracemap/present"
)

// A drawn record: lines in several directions, each of which is displaced by
// itself and all of which may be displaced, turned and stretched alike.
type drawn struct {
	lines          int
	bent           bool    // two legs at right angles; else one, in any direction
	scatter        float64 // one σ a coordinate of each line's own displacement, m
	told           float64 // what the record tells of it, one σ, m
	alike          plane.Pt
	turned, larger float64
}

// blocks draws what the lines show, 40 m each on a site of 120 m, with 5 cm of
// the located lines' own error in each 12 m.
func (d drawn) blocks(rng *rand.Rand) []block {
	const own, legs = 0.05, 3
	var out []block
	for i := range d.lines {
		at := plane.Pt{E: 120 * (rng.Float64() - 0.5), N: 120 * (rng.Float64() - 0.5)}
		a := 2 * math.Pi * rng.Float64()
		self := plane.Pt{E: d.scatter * rng.NormFloat64(), N: d.scatter * rng.NormFloat64()}
		for k := range 2 * legs {
			n := plane.Pt{E: math.Cos(a), N: math.Sin(a)}
			if d.bent && k >= legs {
				n = n.Left()
			}
			at = at.Add(n.Left().Mul(-blockLength))
			by := d.alike.Add(at.Left().Mul(d.turned)).Add(at.Mul(d.larger)).Add(self)
			out = append(out, block{line: i, at: at, n: n, lateral: n.Dot(by) + own*rng.NormFloat64(), record: d.told, weight: 1 / square(own)})
		}
	}
	return out
}

// Where lines are displaced each in its own way no displacement of all is said to
// be there, whatever the record tells of its accuracy: in at most 1 % of the
// draws, of which 300 are made in each case; the bound of a case leaves room for
// three of the drawn share's σ, that of all has none.
func TestNoFalseSignificance(t *testing.T) {
	const draws = 300
	all, cases := 0, 0
	for _, bent := range []bool{false, true} {
		for _, n := range []int{3, 4, 5, 8, 20} {
			for _, scatter := range []float64{0.05, 0.15, 0.3} {
				for _, told := range []float64{0.05, 0.15} {
					rng := rand.New(rand.NewPCG(11, uint64(n)))
					wrong := 0
					for range draws {
						if s := findShift(drawn{lines: n, bent: bent, scatter: scatter, told: told}.blocks(rng)); s.Significant {
							wrong++
						}
					}
					if limit := 0.01*draws + 3*math.Sqrt(0.01*draws); float64(wrong) > limit {
						t.Errorf("%d lines, bent %v, scatter %.2f m told as %.2f m: %d of %d draws are significant", n, bent, scatter, told, wrong, draws)
					}
					all, cases = all+wrong, cases+1
				}
			}
		}
	}
	t.Logf("%d of %d draws are significant", all, cases*draws)
	if 100*all > cases*draws {
		t.Errorf("%d of %d draws are significant", all, cases*draws)
	}
}

// A mix-up of frames of 1.2 m is found: from five lines on in at least 85 % of the
// draws where lines scatter by 0.1 m.
func TestMixUpIsFound(t *testing.T) {
	const draws = 300
	for _, bent := range []bool{false, true} {
		for _, n := range []int{3, 4, 5, 6, 8} {
			rng := rand.New(rand.NewPCG(12, uint64(n)))
			found, inside := 0, 0
			for range draws {
				a := 2 * math.Pi * rng.Float64()
				by := plane.Pt{E: 1.2 * math.Cos(a), N: 1.2 * math.Sin(a)}
				s := findShift(drawn{lines: n, bent: bent, scatter: 0.1, told: 0.1, alike: by}.blocks(rng))
				if s.Displaced {
					found++
				}
				if d := s.vector().Sub(by); !s.Across {
					inv := inverse2(s.cov)
					if d.E*d.E*inv[0][0]+2*d.E*d.N*inv[0][1]+d.N*d.N*inv[1][1] < 5.991 {
						inside++
					}
				}
			}
			t.Logf("%d lines, bent %v: found in %.0f %%, the 95 %% ellipse holds it in %.0f %%", n, bent, 100*float64(found)/draws, 100*float64(inside)/draws)
			if n >= 5 && 100*found < 85*draws {
				t.Errorf("%d lines, bent %v: found in %d of %d", n, bent, found, draws)
			}
			if 100*inside < 85*draws {
				t.Errorf("%d lines, bent %v: the 95 %% ellipse holds the displacement in %d of %d draws", n, bent, inside, draws)
			}
		}
	}
}

// One line that moved by itself neither hides a displacement of the others nor
// makes one.
func TestOneMovedLine(t *testing.T) {
	const draws = 300
	for _, c := range []struct {
		alike plane.Pt
		n     int
		want  bool
	}{{plane.Pt{}, 6, false}, {plane.Pt{E: 1.1, N: -0.6}, 8, true}} {
		rng := rand.New(rand.NewPCG(13, 13))
		found := 0
		for range draws {
			bs := drawn{lines: c.n, bent: true, scatter: 0.1, told: 0.1, alike: c.alike}.blocks(rng)
			for i := range bs {
				if bs[i].line == 2 {
					bs[i].lateral += bs[i].n.Dot(plane.Pt{E: 0.9, N: 0.4})
				}
			}
			if findShift(bs).Significant {
				found++
			}
		}
		t.Logf("%d lines, one of them moved, all by %v: significant in %d of %d", c.n, c.alike, found, draws)
		if share := float64(found) / draws; c.want && share < 0.85 || !c.want && share > 0.02 {
			t.Errorf("%d lines, one of them moved, all by %v: significant in %d of %d", c.n, c.alike, found, draws)
		}
	}
}

// A turned or stretched drawing is named as that, and stays where it is at the
// point that it was turned about.
func TestTurnedDrawing(t *testing.T) {
	const draws = 200
	for _, c := range []struct{ turned, larger float64 }{{0.0087, 0}, {0, 0.008}, {0.0087, -0.008}} {
		rng := rand.New(rand.NewPCG(14, 14))
		rotations, scales, far := 0, 0, 0
		var off []float64
		for range draws {
			s := findShift(drawn{lines: 12, bent: true, scatter: 0.05, told: 0.05, turned: c.turned, larger: c.larger}.blocks(rng))
			if present.Known(s.Rotation) {
				rotations++
				off = append(off, (s.Rotation*math.Pi/180-c.turned)/(s.RotationSig*math.Pi/180))
			}
			if present.Known(s.Scale) {
				scales++
			}
			if s.at(plane.Pt{}).Len() > 0.1 {
				far++
			}
		}
		what := fmt.Sprintf("turned by %.2f°, larger by %.1f ‰", c.turned*180/math.Pi, 1000*c.larger)
		t.Logf("%s: rotation in %d, scale in %d, the middle moved by more than 0.1 m in %d of %d; rotation off by %.2f σ (root mean square)", what, rotations, scales, far, draws, math.Sqrt(meanSquare(off)))
		if c.turned != 0 && 10*rotations < 9*draws || c.turned == 0 && 50*rotations > draws || c.larger != 0 && 10*scales < 9*draws || c.larger == 0 && 50*scales > draws || 20*far > draws {
			t.Errorf("%s: rotation in %d, scale in %d, the middle moved in %d of %d", what, rotations, scales, far, draws)
		}
		if c.turned != 0 && math.Sqrt(meanSquare(off)) > 1.5 {
			t.Errorf("%s: the rotation is off by %.2f of its σ", what, math.Sqrt(meanSquare(off)))
		}
	}
}

func meanSquare(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x * x / float64(len(v))
	}
	return sum
}
