package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse/noise"
)

// Plain lines show a step on one in twenty at the most, whatever their errors are
// made of; a step by 0.65 at 60 mA is found on at least 85 of 100 lines where the
// errors are the usual ones. Errors are drawn here, as a Markov process along the
// line, 120 m with 40 readings.
func TestStepsStandOutOfSharedErrors(t *testing.T) {
	for _, c := range []struct {
		what          string
		white, shared float64 // σ of ln(I)
		current, unit float64 // mA
		step          float64
		least, most   float64 // of 400 lines, the share that shows exactly one step, or any
	}{
		{"white", 0.08, 0, 60, 0, 1, 0, 0.05},
		{"white and shared alike", 0.05, 0.05, 60, 0, 1, 0, 0.05},
		{"mostly shared", 0.02, 0.05, 60, 0, 1, 0, 0.05},
		{"shared and large", 0.02, 0.08, 60, 0, 1, 0, 0.05},
		{"8 mA in whole mA", 0.03, 0, 8, 1, 1, 0, 0.05},
		{"8 mA in whole mA, shared too", 0.03, 0.05, 8, 1, 1, 0, 0.05},
		{"20 mA in whole mA", 0.03, 0, 20, 1, 1, 0, 0.05},
		{"a step, white", 0.05, 0, 60, 1, 0.65, 0.85, 1},
		{"a step, shared too", 0.03, 0.05, 60, 1, 0.65, 0.85, 1},
		{"a step of a half in whole mA", 0.03, 0, 20, 1, 0.5, 0.95, 1},
	} {
		rng := rand.New(rand.NewPCG(91, uint64(1000*c.white+10*c.current)))
		any, one := 0, 0
		const lines = 400
		for range lines {
			var s, i []float64
			common := c.shared * rng.NormFloat64()
			for k := range 40 {
				fade := math.Exp(-3 / noise.PinLength)
				common = fade*common + c.shared*math.Sqrt(1-fade*fade)*rng.NormFloat64()
				v := c.current * math.Exp(-0.002*3*float64(k)+common+c.white*rng.NormFloat64())
				if k >= 20 {
					v *= c.step
				}
				if c.unit > 0 {
					v = math.Round(v/c.unit) * c.unit
				}
				s, i = append(s, 3*float64(k)), append(i, v)
			}
			at, _ := told(provenCurrent(s, i))
			if len(at) > 0 {
				any++
			}
			if len(at) == 1 && math.Abs(at[0]-58.5) < 7 {
				one++
			}
		}
		if share := float64(any) / lines; share > c.most {
			t.Errorf("%s: %.1f %% of plain lines show a step, at most %.0f %% may", c.what, 100*share, 100*c.most)
		}
		if share := float64(one) / lines; share < c.least {
			t.Errorf("%s: the one step is found on %.1f %% of lines, want %.0f %%", c.what, 100*share, 100*c.least)
		}
		t.Logf("%s: %d of %d show a step, %d just the one", c.what, any, lines, one)
	}
}
