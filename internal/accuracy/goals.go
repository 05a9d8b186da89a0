package main

import (
	"fmt"
	"strings"

	"tracemap/internal/score"
	"tracemap/internal/simulate"
)

// The goals. Coverages are shares of the length.
const (
	coverLow, coverHigh         = 0.93, 0.97 // all days together
	coverLowest, coverHighest   = 0.90, 0.99 // each fix quality
	maxSharpness                = 1.25
	gainPreset, maxGain         = "rtk-stopgo", 0.5
	maxBend                     = 0.25 // m, 95th percentile, RTK
	minComplete                 = 0.98
	maxClockStops, maxClockBack = 1.0, 0.5 // s
)

func outside(v, low, high float64) bool { return v < low || v > high }

func missesCoverage(r *row) bool {
	c := total(r.lateral).Coverage()
	if r.kind == ofAll {
		return outside(c, coverLow, coverHigh)
	}
	return outside(c, coverLowest, coverHighest)
}

func missesDepth(r *row) bool {
	if r.score == nil {
		return false
	}
	c := r.score.Depth.Coverage()
	if r.kind == ofAll {
		return outside(c, coverLow, coverHigh)
	}
	return outside(c, coverLowest, coverHighest)
}

func missesClock(r *row) bool {
	switch {
	case r.every(stopAndGo):
		return clocksOf(r.score.Clocks).worst > maxClockStops
	case r.every(returning):
		return clocksOf(r.score.Clocks).worst > maxClockBack
	}
	return false
}

// A goal with the figure that was measured.
type goal struct {
	what, want, got string
	met             bool
}

// goals holds the days against each goal; a goal for which no day is there is
// left out.
func goals(days []*day) []goal {
	var out []goal
	add := func(what, want, got string, met bool) { out = append(out, goal{what, want, got, met}) }
	all := rowOf("all", ofAll, days)
	add("lateral coverage, all", "93–97 %", percent(all.lateral), !missesCoverage(all))
	for _, k := range qualities {
		if r := qualityRow(k.name, k.q, days); total(r.lateral).Length > 0 {
			add("lateral coverage, "+k.name, "90–99 %", fmt.Sprintf("%s, %.1f km", percent(r.lateral), total(r.lateral).Length/1000), !missesCoverage(r))
		}
	}
	sharp := total(all.lateral).Sharpness()
	add("sharpness, all", "≤ 1.25", number(sharp, 2), sharp <= maxSharpness)
	if r := rowOf("", ofPreset, chosen(days, knownClock)); len(r.days) > 0 {
		sharp := total(r.lateral).Sharpness()
		add("sharpness, days with a known clock", "≤ 1.25", number(sharp, 2), sharp <= maxSharpness)
	}
	out = append(out, widestGoal(days))
	if s := sumOf(days, func(d *day) bool { return d.Preset == gainPreset }); s.Days > 0 {
		add("RMSE ÷ raw dots, "+gainPreset, "≤ 0.5", number(s.Gain(), 2), s.Gain() <= maxGain)
	}
	if s := sumOf(days, func(d *day) bool { return fixed(&d.Scenario) }); len(s.Corners) > 0 {
		add("90° bends, RTK, 95th percentile", "≤ 0.25 m", fmt.Sprintf("%.2f m of %d", s.Corner(0.95), len(s.Corners)), s.Corner(0.95) <= maxBend)
	}
	add("depth coverage, all", "93–97 %", number(100*all.score.Depth.Coverage(), 1)+" %", !missesDepth(all))
	add("completeness, all", "≥ 98 %", number(100*all.score.Completeness(), 1)+" %", all.score.Completeness() >= minComplete)
	return append(out, clockGoals(days)...)
}

// widestGoal asks for sharpness where gross errors cannot hide wide widths: by
// the factor that each fix quality's widths are larger than they need to be.
func widestGoal(days []*day) goal {
	widest, name := 0.0, ""
	for _, k := range qualities {
		if f := total(qualityRow(k.name, k.q, days).lateral).Factor(); 1/f > widest {
			widest, name = 1/f, k.name
		}
	}
	return goal{"width ÷ width needed, widest fix quality", "≤ 1.25", fmt.Sprintf("%.2f, %s", widest, name), widest <= maxSharpness}
}

func clockGoals(days []*day) []goal {
	var out []goal
	for _, k := range []struct {
		what, want string
		is         func(*simulate.Scenario) bool
		most       float64
	}{
		{"clock, stop-and-go, largest error", "≤ 1.0 s", stopAndGo, maxClockStops},
		{"clock, return passes, largest error", "≤ 0.5 s", returning, maxClockBack},
	} {
		if s := sumOf(days, func(d *day) bool { return k.is(&d.Scenario) }); s.Days > 0 {
			c := clocksOf(s.Clocks)
			out = append(out, goal{k.what, k.want, fmt.Sprintf("%.2f s, determined on %d of %d", c.worst, c.determined, c.days), c.worst <= k.most})
		}
	}
	c := clocksOf(rowOf("all", ofAll, days).score.Clocks)
	beyond := c.beyond + c.undetBeyond
	out = append(out,
		goal{"clock within 3 σ", "every day", fmt.Sprintf("%d of %d days beyond, %d of them determined", beyond, c.days, c.beyond), beyond == 0},
		goal{"determined clocks wrong by > 1 s", "none", fmt.Sprintf("%d of %d", c.wrong, c.determined), c.wrong == 0})
	return out
}

// sumOf adds up the days of a kind.
func sumOf(days []*day, is func(*day) bool) *score.Score {
	return rowOf("", ofPreset, chosen(days, is)).score
}

func percent(es []score.Extent) string {
	return fmt.Sprintf("%s ± %s %%", number(100*total(es).Coverage(), 1), number(100*spread(es), 1))
}

func renderGoals(gs []goal) string {
	lines := [][]string{{"goal", "wanted", "measured", ""}}
	for _, g := range gs {
		verdict := "met"
		if !g.met {
			verdict = "MISSED"
		}
		lines = append(lines, []string{g.what, g.want, g.got, verdict})
	}
	return strings.Join(aligned(lines, false), "\n") + "\n"
}
