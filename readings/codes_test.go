package readings_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tracemap/readings"
)

// codedLog is a readings log of lines whose depths are given by line and reading.
func codedLog(unit string, depth func(line, k int) string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "time,line,utility,depth_%s,current_ma\n", unit)
	for line := range 4 {
		for k := range 15 {
			fmt.Fprintf(&b, "2031-05-06T%02d:%02d:00Z,L%d,water,%s,%.1f\n", 8+line, k, line, depth(line, k), 40-0.3*float64(k))
		}
	}
	return b.String()
}

func readText(t *testing.T, text, columns string) *readings.Log {
	t.Helper()
	var m *readings.Mapping
	if columns != "" {
		var err error
		if m, err = readings.LoadMapping(strings.NewReader(columns), "map.toml"); err != nil {
			t.Fatal(err)
		}
	}
	log, err := readings.Read(t.Context(), []readings.Source{{Name: "day.csv", R: strings.NewReader(text)}}, readings.Options{Columns: m})
	if err != nil {
		t.Fatal(err)
	}
	return log
}

// A number that an instrument writes where it could not measure is no depth; depths that
// come again because the line is level and the display coarse are; and the map of
// columns decides where the program is wrong.
func TestErrorCodes(t *testing.T) {
	for _, c := range []struct {
		name, unit, columns string
		depth               func(rng *rand.Rand, line, k int) string
		lost                int
		text                string
	}{
		{"9.99 here and there", "m", "", func(rng *rand.Rand, _, k int) string { return amid(rng, k, "9.99") }, 12, "9.99"},
		{"99.9 here and there", "m", "", func(rng *rand.Rand, _, k int) string { return amid(rng, k, "99.9") }, 12, "99.9"},
		{"zero here and there", "m", "", func(rng *rand.Rand, _, k int) string { return amid(rng, k, "0") }, 12, "0"},
		{"minus one", "m", "", func(rng *rand.Rand, _, k int) string { return amid(rng, k, "-1") }, 12, "-1"},
		{"in feet", "ft", "", func(rng *rand.Rand, _, k int) string { return amid(rng, k, "32.80") }, 12, "32.80"},
		{"65535 mm", "mm", "", func(rng *rand.Rand, _, k int) string {
			if k%5 == 2 {
				return "65535"
			}
			return fmt.Sprintf("%.0f", 1200+40*rng.NormFloat64())
		}, 12, "65535"},
		{"a whole line", "m", "", func(rng *rand.Rand, line, _ int) string {
			if line == 2 {
				return "9.99"
			}
			return fmt.Sprintf("%.2f", 1.2+0.05*rng.NormFloat64())
		}, 15, "9.99"},
		{"called blank", "m", `blank = ["9.99"]`, func(rng *rand.Rand, _, k int) string { return amid(rng, k, "9.99") }, 0, ""},
		{"called measured", "m", `measured = ["9.99"]`, func(rng *rand.Rand, _, k int) string { return amid(rng, k, "9.99") }, 0, ""},
		{"level lines on a coarse display", "m", "", func(_ *rand.Rand, line, _ int) string { return []string{"0.8", "1.2", "2.0", "3.5"}[line] }, 0, ""},
		{"coarse and scattering", "m", "", func(rng *rand.Rand, line, _ int) string {
			d := []float64{0.8, 1.2, 2, 3.5}[line]
			return fmt.Sprintf("%.1f", d*(1+0.05*rng.NormFloat64()))
		}, 0, ""},
		{"one level line at rest among others", "m", "", func(rng *rand.Rand, line, k int) string {
			if line == 3 {
				return "2.40"
			}
			return fmt.Sprintf("%.2f", 1.2+0.02*math.Floor(float64(k)/4)) // the others stand still too
		}, 0, ""},
		{"a step down to a deeper stretch", "m", "", func(rng *rand.Rand, _, k int) string {
			if k > 9 {
				return fmt.Sprintf("%.2f", 2.6*(1+0.03*rng.NormFloat64()))
			}
			return fmt.Sprintf("%.2f", 1.1*(1+0.03*rng.NormFloat64()))
		}, 0, ""},
	} {
		for seed := range uint64(20) {
			rng := rand.New(rand.NewPCG(seed, 7))
			log := readText(t, codedLog(c.unit, func(line, k int) string { return c.depth(rng, line, k) }), c.columns)
			lost, noted := 0, 0
			for _, r := range log.Readings {
				if math.IsNaN(r.Depth) {
					lost++
				}
				if c.text != "" && strings.Contains(r.Note, c.text) {
					noted++
				}
			}
			said := strings.Join(log.Warnings, "\n")
			want := c.lost
			if c.name == "called blank" {
				want = 12
			}
			if lost != want || noted != c.lost || len(log.Cells) != c.lost || strings.Contains(said, "taken for a code") != (c.lost > 0) || !strings.Contains(said, fmt.Sprintf("measured = [%q]", c.text)) && c.lost > 0 {
				t.Errorf("%s, seed %d: %d depths lost, %d noted, %d cells, want %d; %s", c.name, seed, lost, noted, len(log.Cells), want, said)
				break
			}
		}
	}
}

// amid is a depth about 1.2 m, or the code in every fifth reading.
func amid(rng *rand.Rand, k int, code string) string {
	if k%5 == 2 {
		return code
	}
	return fmt.Sprintf("%.2f", 1.2+0.05*rng.NormFloat64())
}
