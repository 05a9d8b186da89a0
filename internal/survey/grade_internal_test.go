package survey

import (
	"math"
	"testing"

	"tracemap/fuse"
)

// The limits of each scheme, just kept and just passed. Half-widths are 1.96 σ.
func TestGrade(t *testing.T) {
	nan := math.NaN()
	part := func(half, depth, depth95 float64) *fuse.Part {
		good := fuse.Vertex{Sigma: 0.01, Depth: 1, SigmaDepth: 0.01}
		return &fuse.Part{Vertices: []fuse.Vertex{good, {Sigma: half / 1.95996, Depth: depth, SigmaDepth: depth95 / 1.95996}, good}}
	}
	for _, c := range []struct {
		scheme               string
		half, depth, depth95 float64
		want                 string
	}{
		{"pas128", 0.249, 1.5, 0.59, "B2"},
		{"pas128", 0.01, 1.5, 0.01, "B2"}, // never B1: one technique
		{"pas128", 0.251, 1.5, 0.59, "B3"},
		{"pas128", 0.249, 1.5, 0.61, "B3"},
		{"pas128", 0.249, nan, nan, "B3"},
		{"pas128", 0.499, nan, nan, "B3"},
		{"pas128", 0.501, 1.5, 0.1, ""},
		{"as5488", 0.299, 1.5, 0.49, "B"},
		{"as5488", 0.01, 1.5, 0.01, "B"}, // never A: not exposed
		{"as5488", 0.301, 1.5, 0.49, ""},
		{"as5488", 0.299, 1.5, 0.51, ""},
		{"as5488", 0.299, nan, nan, ""},
		{"fr2012", 0.152, nan, nan, "A"},
		{"fr2012", 0.154, 1, 0.1, "B"},
		{"fr2012", 0.573, 1, 0.1, "B"},
		{"fr2012", 0.575, 1, 0.1, "C"},
	} {
		if got := classer(c.scheme)(nil, part(c.half, c.depth, c.depth95)); got != c.want {
			t.Errorf("%s: ±%v m, depth %v ± %v m: %q, want %q", c.scheme, c.half, c.depth, c.depth95, got, c.want)
		}
	}
	if classer("none") != nil {
		t.Error("none grades")
	}
}
