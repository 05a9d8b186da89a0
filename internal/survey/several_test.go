package survey_test

import (
	"strings"
	"testing"
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
			rows[i] += ",500000,5500000,B"
		}
	}
	said := run(t, log, strings.Join(rows, "\n")+"\n", nil).Summary.Warnings
	for _, want := range []string{"easting and northing, which are not used", "from 2 locators, and one clock offset"} {
		if !contains(said, want) {
			t.Errorf("no warning with %q among %q", want, said)
		}
	}
	if said := run(t, log, readings, nil).Summary.Warnings; contains(said, "locators") || contains(said, "northing") {
		t.Errorf("warnings of a plain log: %q", said)
	}
}
