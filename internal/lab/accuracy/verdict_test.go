package main

import (
	"context"
	"slices"
	"testing"

	"tracemap/internal/lab/simulate"
	"tracemap/result"
)

// Sound days are called good, although nobody told the frame; days with something
// wrong that shows in the logs are not. docs/verdict.md has the figures of all kinds.
func TestVerdictByKindOfDay(t *testing.T) {
	for _, c := range []struct {
		preset string
		want   []result.Level
	}{
		{"rtk-stopgo", []result.Level{result.Good}},
		{"rtk-plain", []result.Level{result.Good}},
		{"rtk-distorted", []result.Level{result.WithCare, result.NotUsable}},
		{"rtk-broken", []result.Level{result.WithCare, result.NotUsable}},
		{"autonomous-stopgo", []result.Level{result.NotUsable}},
	} {
		p, ok := simulate.Named(c.preset)
		if !ok {
			t.Fatalf("no preset %q", c.preset)
		}
		// One stop-and-go day in twelve has a stretch that looks distorted by chance.
		spare := 0
		if c.preset == "rtk-stopgo" {
			spare = 1
		}
		for seed := range uint64(3) {
			d, err := convert(context.Background(), fromSimulated(simulate.Invent(p.Scenario(base(p.Name)+1+seed))), func(string) {})
			if err != nil {
				t.Fatal(err)
			}
			v := d.Map().Judged()
			if spare > 0 && v.Level == result.WithCare {
				spare--
				continue
			}
			if !slices.Contains(c.want, v.Level) || len(v.NotTold) == 0 && c.preset != "autonomous-stopgo" {
				t.Errorf("%s, day %d: %v because %q, not stated %q", c.preset, seed, v.Level, v.Reasons, v.NotTold)
			}
		}
	}
}
