package readings_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tracemap/readings"
	"tracemap/remarks"
)

// Numbers in a column of depth, below rows that show how the file writes
// decimals. want NaN: the cell is
// lost, with its text in the note, and the rest of the row is read.
func TestNumbers(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		sep, sample, cell string
		want              float64
	}{
		{",", "1.5", "1.25", 1.25}, {",", "1.5", "1.250", 1.25}, {",", "1.5", ".5", 0.5}, {",", "1.5", "2.", 2}, {",", "1.5", "12e-1", 1.2},
		{",", "1.5", `"1,25"`, nan}, {",", "1.5", `"1,250"`, nan}, {",", "1.5", `"1,250.5"`, 1250.5},
		{";", "1,5", "1,25", 1.25}, {";", "1,5", "1,250", 1.25}, {";", "1,5", "1.25", 1.25}, {";", "1,5", "1.250", nan},
		{";", "1,5", "1.250,5", 1250.5}, {";", "1,5", "1 250,5", 1250.5}, {";", "1,5", "1'250", 1250}, {";", "1,5", "-0.250", -0.25},
		{";", "1.5", "1.250", 1.25}, {";", "1.5", "1,250", nan}, {";", "1.5", "1,25", 1.25},
		{"\t", "1.5", "1,250.5", 1250.5}, {"\t", "1.5", "1,250,000", 1250000},
		{";", "2", "1,250", 1.25}, {";", "2", "1.250", 1.25}, // no other evidence
		{",", "1.5", "NaN", nan}, {",", "1.5", "inf", nan}, {",", "1.5", "-Infinity", nan}, {",", "1.5", "1e999", nan}, {",", "1.5", "-1e999", nan},
		{",", "1.5", "0x10", nan}, {",", "1.5", "1_000", nan}, {",", "1.5", "1.2.3", nan}, {",", "1.5", "--1", nan}, {",", "1.5", "1-2", nan},
		{",", "1.5", "1.2 m", 1.2}, {",", "1.5", "1.2 ft", nan}, {",", "1.5", "1.2m²", nan}, {",", "1.5", "~1.2", nan}, {",", "1.5", "1.2?", nan},
		{",", "1.5", "−1.2", -1.2}, {",", "1.5", "１.２", nan}, {",", "1.5", "e", nan}, {",", "1.5", "+", nan}, {",", "1.5", ".", nan},
	} {
		at := "2026-03-05T08:00:00Z" + c.sep
		log := read(t, "time"+c.sep+"depth_m\n"+at+c.sample+"\n"+at+c.cell+"\n", readings.Options{})
		switch {
		case len(log.Readings) != 2:
			t.Errorf("separator %q, beside %s: %s set aside: %+v, want %v", c.sep, c.sample, c.cell, log.Aside, c.want)
		case math.IsNaN(c.want) && len(log.Cells) != 1:
			t.Errorf("separator %q, beside %s: %s read as %v, want no number", c.sep, c.sample, c.cell, log.Readings[1].Depth)
		case math.IsNaN(c.want):
			a, r := log.Cells[0], log.Readings[1]
			if text := strings.Trim(c.cell, `"`); a.Row != 3 || a.Column != "depth_m" || a.Found != text || a.Reason == "" ||
				!math.IsNaN(r.Depth) || !strings.Contains(r.Note, text) || !r.Flags.Has(remarks.BadCell|remarks.DepthMissing) {
				t.Errorf("%s gives %+v, lost %+v", c.cell, r, a)
			}
		case log.Readings[1].Depth != c.want:
			t.Errorf("separator %q, beside %s: %s read as %v, want %v", c.sep, c.sample, c.cell, log.Readings[1].Depth, c.want)
		}
	}
}

// A frequency of "33,000" Hz is left open unless the file shows its decimal
// mark elsewhere: taken wrongly it would be another frequency by a factor of a thousand.
func TestThousandsOfHertz(t *testing.T) {
	for _, c := range []struct {
		depth string
		want  float64
	}{{"2", math.NaN()}, {"1.25", 33000}, {"1,25", 33}} {
		log := read(t, fmt.Sprintf("time;frequency_hz;depth_m\n2026-03-05T08:00:00Z;33,000;%s\n", c.depth), readings.Options{})
		if math.IsNaN(c.want) != (len(log.Cells) == 1) {
			t.Errorf("beside depth %s: readings %+v, want frequency %v", c.depth, log.Readings, c.want)
		} else if len(log.Cells) == 0 && log.Readings[0].Frequency != c.want {
			t.Errorf("beside depth %s: frequency = %v, want %v", c.depth, log.Readings[0].Frequency, c.want)
		}
	}
}
