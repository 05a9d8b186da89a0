package main

import (
	"strings"
	"testing"
)

func TestMultiplied(t *testing.T) {
	source := "package p\n\nconst a = 2.0 * b\nconst (\n\tb = 4.5 // m\n\tn = 3\n\tone = 1\n)\n"
	for _, c := range []struct {
		name   string
		factor float64
		want   string
	}{
		{"a", 0.75, "const a = (2.0 * b) * 0.75\n"},
		{"b", 1.25, "\tb = (4.5) * 1.25 // m\n"},
		{"n", 1.25, "\tn = 4\n"},     // 3.75
		{"one", 1.25, "\tone = 2\n"}, // 1.25 would round to what it is
		{"one", 0.75, "\tone = 0\n"},
	} {
		got, err := multiplied([]byte(source), c.name, c.factor)
		if err != nil || !strings.Contains(string(got), c.want) || strings.Count(string(got), "\n") != strings.Count(source, "\n") {
			t.Errorf("%s × %v: %v\n%s", c.name, c.factor, err, got)
		}
	}
	if _, err := multiplied([]byte(source), "m", 0.75); err == nil {
		t.Error("a constant that is not there was multiplied")
	}
}

// One row comes of each generator's table, with the columns found by their heads, the
// mark of a missed goal off, and no days of a state counted as none.
func TestRowsOf(t *testing.T) {
	table := `2 presets, 1 days each

generator: internal/simulate
preset            days  refused    km  cover%    ±   half  known   cmax  c>3σ
rtk-stopgo           1        0  0.56    94.2    -  0.100    1/1   0.28     0
clock:known          1        0  1.65    96.0  1.0  0.101    1/1   0.28     0
all                  2        0  3.32    91.1! 0.8  1.245    1/1   0.28     0

generator: internal/otherdays
preset            days  refused    km  cover%    ±   half  known   cmax  c>3σ
clock:estimated      3        0  0.85    96.2  3.4  2.000    0/3      -     0
clock:unknown        5        0  1.34    98.6  0.7 12.000    0/5      -     1!
all                  8        0  2.18    97.6  1.4  8.000    0/8      -     1!

goal                    wanted
lateral coverage, all   93–97 %
`
	want := "| x | simulate | 1 | 0 | 0 | 0 | 0.28 | 91.1 | 1.245 |\n| x | otherdays | 0 | 3 | 5 | 1 | - | 97.6 | 8.000 |\n"
	if got := rowsOf("x", table); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}
