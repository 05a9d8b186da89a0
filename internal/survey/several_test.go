package survey_test

import (
	"math"
	"strings"
	"testing"
	"time"
)

// What a log says and the map does not use is said: coordinates in a grid that
// nobody names, and a second locator's clock.
func TestUnusedIsSaid(t *testing.T) {
	log, readings := demo(t)
	rows := strings.Split(strings.TrimSpace(readings), "\n")
	for i := range rows {
		switch {
		case i == 0:
			rows[i] += ",easting_m,northing_m,instrument"
		case i%2 == 0:
			rows[i] += ",500000,5500000,A"
		default:
			rows[i] = later(t, rows[i], 40*time.Second) + ",500000,5500000,B"
		}
	}
	s := run(t, log, strings.Join(rows, "\n")+"\n", nil).Summary
	for _, want := range []string{"easting and northing, which are not used", "on clocks that differ, and each has its own offset: B, 123 readings: +134."} {
		if !contains(s.Warnings, want) {
			t.Errorf("no warning with %q among %q", want, s.Warnings)
		}
	}
	if len(s.Clocks) != 2 || math.Abs(s.Clocks[0].Offset-s.Clocks[1].Offset-40) > 1 || s.Clocks[0].State != "known" {
		t.Errorf("clocks %+v, want two that are known and 40 s apart", s.Clocks)
	}
	if said := run(t, log, readings, nil).Summary.Warnings; contains(said, "clocks") || contains(said, "northing") {
		t.Errorf("warnings of a plain log: %q", said)
	}
}

// later is a row of the demo's readings log with its time moved.
func later(t *testing.T, row string, by time.Duration) string {
	t.Helper()
	text, rest, _ := strings.Cut(row, ",")
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return at.Add(by).Format(time.RFC3339) + "," + rest
}
