package fuse

import (
	"math"
	"testing"

	"tracemap/readings"
)

// A diameter that nobody stated is not 0: cover would be taken for depth.
func TestDiameterIsTheReadingsOrUnknown(t *testing.T) {
	ps := make([]Placed, 4)
	for i, d := range []float64{0.16, math.NaN(), 0.16, math.NaN()} {
		ps[i].Reading = &readings.Reading{Diameter: d}
	}
	if got := typicalDiameter(ps, []int{0, 1, 2}); got != 0.16 {
		t.Errorf("diameter %v m, want 0.16", got)
	}
	if got := typicalDiameter(ps, []int{1, 3}); !math.IsNaN(got) {
		t.Errorf("diameter %v m of readings without one, want NaN", got)
	}
}
