package export_test

import (
	"encoding/json"
	"testing"

	"tracemap/export"
	"tracemap/internal/lab/invented"
)

// The keys that programs rely on are there for every map, lists as lists and
// tables as tables also when they are empty.
func TestSummaryKeys(t *testing.T) {
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			b, err := export.EncodeSummary(c.Map)
			if err != nil {
				t.Fatal(err)
			}
			var s map[string]any
			if err := json.Unmarshal(b, &s); err != nil {
				t.Fatal(err)
			}
			for _, key := range []string{"tool", "inputs", "gnss", "clock", "readings", "lines", "warnings", "elapsed_s"} {
				if s[key] == nil {
					t.Errorf("%s is missing or null", key)
				}
			}
			for part, keys := range map[string][]string{
				"gnss":     {"sentences", "bad_checksum", "no_checksum", "malformed", "epochs", "from", "to", "fix", "gaps"},
				"clock":    {"offset_s", "sigma_s", "drift_ppm", "method", "determined"},
				"readings": {"total", "placed", "unplaced", "malformed", "by_flag"},
			} {
				for _, key := range keys {
					if _, there := s[part].(map[string]any)[key]; !there {
						t.Errorf("%s.%s is missing", part, key)
					}
				}
			}
			lines := s["lines"].([]any)
			parts := 0
			for _, l := range c.Map.Lines {
				parts += len(l.Parts)
			}
			if len(lines) != parts {
				t.Errorf("%d lines, map has %d parts", len(lines), parts)
			}
		})
	}
}

// A map without a summary still writes one, and what cannot be a JSON number is null.
func TestSummaryOfNothing(t *testing.T) {
	m := invented.Bad()
	b, err := export.EncodeSummary(m)
	if err != nil {
		t.Fatal(err)
	}
	var s struct {
		Clock map[string]any
		Lines []map[string]any
	}
	if err := json.Unmarshal(b, &s); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"offset_s", "sigma_s", "runner_up_s"} {
		if s.Clock[key] != nil {
			t.Errorf("clock.%s = %v, want null", key, s.Clock[key])
		}
	}
	if v := s.Lines[0]["depth_min_m"]; v != nil {
		t.Errorf("depth_min_m = %v, want null", v)
	}
	m.Summary = nil
	if _, err := export.EncodeSummary(m); err != nil {
		t.Error(err)
	}
}
