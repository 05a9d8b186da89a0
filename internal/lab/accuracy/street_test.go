package main

import (
	"context"
	"testing"

	"tracemap/internal/lab/score"
)

// On a street up to a quarter of each line's signal flows back on its neighbours: all
// depths of a line are off to one side. Without the neighbours' field in the widths
// 72 to 80 % of the length are within 95 %.
func TestDepthsOnStreets(t *testing.T) {
	if testing.Short() {
		t.Skip("invents 16 days")
	}
	for _, generator := range presets() {
		if generator.name != "rtk-street" && generator.name != "street" {
			continue
		}
		var sum score.Score
		for seed := range uint64(8) {
			d, err := judge(context.Background(), generator, base(generator.name)+1+seed, false, &stopwatch{})
			if err != nil {
				t.Fatal(err)
			}
			sum.Add(d.Score)
		}
		if c := sum.Depth.Coverage(); c < 0.92 {
			t.Errorf("%s: %.1f %% of the depths are within their 95 %%", generator.name, 100*c)
		}
		if c := sum.Lateral.Coverage(); c < 0.92 {
			t.Errorf("%s: %.1f %% of the places are within their 95 %%", generator.name, 100*c)
		}
	}
}
