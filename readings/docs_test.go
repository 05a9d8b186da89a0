package readings_test

import (
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"tracemap/readings"
)

// fenced gives the first block of that kind in the manual page.
func fenced(t *testing.T, kind string) string {
	t.Helper()
	page, err := os.ReadFile("../docs/readings-log.md")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.ReplaceAll(string(page), "\r\n", "\n")
	_, rest, ok := strings.Cut(text, "```"+kind+"\n")
	block, _, closed := strings.Cut(rest, "```")
	if !ok || !closed {
		t.Fatalf("docs/readings-log.md has no block of %s", kind)
	}
	return block
}

// The manual's map reads the manual's log.
func TestManualExample(t *testing.T) {
	log := read(t, fenced(t, "csv"), readings.Options{Zone: time.UTC, Columns: mapping(t, fenced(t, "toml"))})
	r := only(t, log)
	want := blank()
	want.Row, want.Time, want.Line, want.Utility, want.Method = 4, time.Date(2026, 3, 5, 8, 0, 0, 0, time.UTC), "G7", "gas", readings.Direct
	want.BottomCoil, want.TopCoil, want.CoilSpacing = 16.6667, 12.5, 0.4
	want.CoilDepth, want.CoilCurrent = r.CoilDepth, r.CoilCurrent
	if diff := differ(r, want); diff != "" || math.Abs(r.CoilDepth-1.2) > 1e-4 || math.Abs(r.CoilCurrent-100) > 1e-2 {
		t.Errorf("coil depth %v m, current %v mA, want 1.2 and 100\n%s", r.CoilDepth, r.CoilCurrent, diff)
	}
	if len(log.Warnings) != 0 {
		t.Errorf("warnings = %q, want none", log.Warnings)
	}
}
