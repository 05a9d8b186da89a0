package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"tracemap/internal/lab/score"
	"tracemap/internal/lab/simulate"
	"tracemap/nmea"
)

// Whoever reads the table finds every column in its description.
func TestEveryColumnIsExplained(t *testing.T) {
	b, err := os.ReadFile(filepath.Join("..", "..", "..", "docs", "accuracy.md"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range columns {
		if !strings.Contains(string(b), "| `"+c.name+"` |") {
			t.Errorf("docs/accuracy.md has no row for the column %s", c.name)
		}
	}
}

// made gives days with coverages as asked, and clocks off by so much.
func made(preset string, cover []float64, clockError, sigma float64) []*day {
	var out []*day
	p := named(preset)[0]
	kind, _ := simulate.Named(preset)
	scenario := kind.Scenario(1)
	for i, c := range cover {
		s := &score.Score{Days: 1, Surveyed: 1000, Covered: 990, ByQuality: map[nmea.Quality]score.Fit{}}
		s.Lateral = score.Extent{Length: 1000, Inside: 1000 * c, Square: 1000 * 0.05 * 0.05, Half: 1000 * 1.96 * 0.06, Half2: 1000 * 1.96 * 1.96 * 0.06 * 0.06}
		s.Lateral.Ratio[39] = 1000 // |error| ÷ half-width just below 1
		s.Depth, s.Raw = s.Lateral, score.Extent{Length: 1000, Square: 1000 * 0.13 * 0.13}
		s.Plain, s.SteadyHours = 3, 1
		s.ByQuality[nmea.QualityRTKFixed] = score.Fit{Lateral: s.Lateral, Depth: s.Depth}
		s.ByDensity[score.Sparse] = s.ByQuality[nmea.QualityRTKFixed]
		s.Corners = []float64{0.1, 0.2}
		s.Clocks = []score.Clock{{Error: clockError, Sigma: sigma, Determined: true}}
		out = append(out, &day{Preset: p, Seed: uint64(i), Traits: traitsOf(&scenario), Clock: "known", Score: s})
	}
	return out
}

func TestVerdicts(t *testing.T) {
	verdict := func(days []*day) map[string]bool {
		out := map[string]bool{}
		for _, g := range goals(days) {
			out[g.what] = g.met
		}
		return out
	}
	good := verdict(made("rtk-stopgo", []float64{0.94, 0.96}, 0.3, 0.2))
	for what, met := range good {
		if !met {
			t.Errorf("%s: missed by a day that is within all goals", what)
		}
	}
	if len(good) < 10 {
		t.Errorf("only %d goals were held against", len(good))
	}
	for _, c := range []struct {
		days  []*day
		fails []string
	}{
		{made("rtk-stopgo", []float64{0.90, 0.94}, 0.3, 0.2), []string{"lateral coverage, all", "depth coverage, all"}},
		{made("rtk-stopgo", []float64{0.98, 0.98}, 0.3, 0.2), []string{"lateral coverage, all", "depth coverage, all"}},
		{made("rtk-stopgo", []float64{1, 1}, 0.3, 0.2), []string{"lateral coverage, each fix quality", "depth coverage, each density of readings"}},
		{made("rtk-stopgo", []float64{0.88, 0.88}, 0.3, 0.2), []string{"lateral coverage, each fix quality", "depth coverage, each density of readings"}},
		{made("rtk-stopgo", []float64{0.95}, -1.1, 0.5), []string{"clock, stop-and-go, largest error", "determined clocks wrong by > 1 s"}},
		{made("rtk-return", []float64{0.95}, 0.6, 0.5), []string{"clock, return passes, largest error"}},
		{made("rtk-stopgo", []float64{0.95}, 0.7, 0.2), []string{"clocks beyond 3 σ, determined or not"}},
		{changed(func(s *score.Score) { s.Depth.Lean = -5 }), []string{"depth bias, all"}},
		{changed(func(s *score.Score) { s.PlainStepped = 1 }), []string{"plain lines that show a step of the current"}},
		{changed(func(s *score.Score) { s.JumpsFalse = 2 }), []string{"false jumps of steady receivers"}},
		{changed(func(s *score.Score) { s.Depth.Inside = 900 }), []string{"depth coverage, kinds of day outside 93–97 %"}},
		{tooWide(made("rtk-stopgo", []float64{0.95}, 0.3, 0.2)), []string{"width ÷ width needed, widest fix quality"}},
	} {
		got := verdict(c.days)
		for _, what := range c.fails {
			if met, ok := got[what]; met || !ok {
				t.Errorf("%s: should be missed: %v", what, got)
			}
		}
	}
}

// changed is two days within all goals, changed.
func changed(change func(*score.Score)) []*day {
	days := made("rtk-stopgo", []float64{0.95, 0.95}, 0.3, 0.2)
	for _, d := range days {
		change(d.Score)
	}
	return days
}

// tooWide makes every error half of its half-width.
func tooWide(days []*day) []*day {
	for _, d := range days {
		e := d.Score.ByQuality[nmea.QualityRTKFixed]
		e.Lateral.Ratio = [len(e.Lateral.Ratio)]float64{19: e.Lateral.Length}
		d.Score.ByQuality[nmea.QualityRTKFixed] = e
	}
	return days
}

// A clock that is called undetermined is not confidently wrong, but its σ must
// still hold.
func TestUndeterminedClocks(t *testing.T) {
	days := made("walk-no-evidence", []float64{0.95, 0.95}, 40, 30)
	for _, d := range days {
		d.Score.Clocks[0].Determined = false
	}
	days[1].Score.Clocks[0].Sigma = 10
	c := clocksOf(rowOf("", ofAll, days).score.Clocks)
	if c.determined != 0 || c.wrong != 0 || c.beyond != 1 {
		t.Errorf("%+v", c)
	}
	for _, g := range clockGoals(days) {
		if got := g.verdict(); (got == "not measured") != strings.HasPrefix(g.what, "determined") {
			t.Errorf("%s: %s, and printed as %s", g.what, g.got, got)
		}
	}
	if g := clockGoals(madeUndetermined()); g[0].verdict() != "not measured" || strings.Contains(g[0].got, "NaN") {
		t.Errorf("largest error of no clock: %+v, printed as %s", g[0], g[0].verdict())
	}
}

// madeUndetermined is a stop-and-go day whose clock was not determined.
func madeUndetermined() []*day {
	days := made("rtk-stopgo", []float64{0.95}, 2, 5)
	days[0].Score.Clocks[0].Determined = false
	return days
}

// With days of one length the standard error is that of a mean: sd ÷ √n.
func TestSpread(t *testing.T) {
	cover := []float64{0.91, 0.97, 0.94, 0.99, 0.88}
	var mean, square float64
	for _, c := range cover {
		mean += c / 5
	}
	for _, c := range cover {
		square += (c - mean) * (c - mean)
	}
	want := math.Sqrt(square / 4 / 5)
	if got := spread(laterals(rowOf("", ofAll, made("rtk-stopgo", cover, 0, 1)).fits)); math.Abs(got-want) > 1e-12 {
		t.Errorf("got %.6f, want %.6f", got, want)
	}
}

// A table reads back as it was written, and a change shows where it is.
func TestSavedTable(t *testing.T) {
	o := &order{presets: named("rtk-stopgo"), seeds: 2}
	days := made("rtk-stopgo", []float64{0.98, 0.996}, 0.3, 0.2) // some marked as missed
	rows := table(o, days)
	path := filepath.Join(t.TempDir(), "table.txt")
	text := head(o) + "\n\n" + render(rows) + renderGoals(days)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(text, missed) {
		t.Fatalf("no mark in\n%s", text)
	}
	s, err := load(path)
	if err != nil {
		t.Fatal(err)
	}
	if s.head != head(o) {
		t.Errorf("head %q, want %q", s.head, head(o))
	}
	for _, line := range strings.Split(strings.TrimSpace(s.change(rows)), "\n")[2:] {
		for _, w := range strings.Fields(line)[1:] {
			if w != "." {
				t.Errorf("a table differs from itself: %s", line)
			}
		}
	}
	change := s.change(table(o, made("rtk-stopgo", []float64{0.97, 0.986}, 0.3, 0.2)))
	if !strings.Contains(change, " -1.0 ") {
		t.Errorf("coverage down by 1 %% is not in\n%s", change)
	}
	if _, err := load(filepath.Join("..", "..", "..", "LICENSE")); err == nil {
		t.Error("a file without a table was taken for one")
	}
}

func TestFlagsAreChecked(t *testing.T) {
	for _, args := range [][]string{{"-presets", "nowhere"}, {"-seeds", "0"}, {"more"}, {"-against", "nowhere.txt", "-seeds", "1", "-presets", "rtk-bends"}} {
		if err := run(t.Context(), args, &strings.Builder{}, &strings.Builder{}); err == nil {
			t.Errorf("%q was accepted", args)
		}
	}
}

// The table does not hang on the number of processors.
func TestTableIsReproducible(t *testing.T) {
	args := []string{"-presets", "rtk-stopgo,street", "-seeds", "2", "-days"}
	var tables []string
	for _, n := range []int{1, 4} {
		before := runtime.GOMAXPROCS(n)
		var out strings.Builder
		err := run(t.Context(), args, &out, &strings.Builder{})
		runtime.GOMAXPROCS(before)
		if err != nil {
			t.Fatal(err)
		}
		tables = append(tables, out.String())
	}
	if tables[0] != tables[1] {
		t.Errorf("with 1 and with 4 processors:\n%s\n%s", tables[0], tables[1])
	}
	if n := strings.Count(tables[0], "\nrtk-stopgo/"); n != 2 {
		t.Errorf("%d rows of days, want 2:\n%s", n, fmt.Sprint(tables[0]))
	}
}
