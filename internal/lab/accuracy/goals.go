package main

import (
	"fmt"
	"math"
	"strings"

	"tracemap/internal/lab/score"
)

// The goals. Coverages are shares of the length.
const (
	coverLow, coverHigh         = 0.93, 0.97 // all days together, and depths in each kind of day
	coverLowest, coverHighest   = 0.92, 0.98 // each fix quality, state of the clock and density
	maxSharpness                = 1.25
	gainPreset, maxGain         = "rtk-stopgo", 0.40
	maxBend                     = 0.25  // m, 95th percentile, RTK
	maxBias                     = 0.003 // of the depth
	maxStepped                  = 0.05  // of the plain lines
	maxJumps                    = 1.0   // an hour
	minComplete                 = 0.985
	maxClockStops, maxClockBack = 1.0, 0.5 // s
)

func outside(v, low, high float64) bool { return v < low || v > high }

func missesCoverage(r *row) bool {
	c := total(r.fits).Lateral.Coverage()
	if r.kind == ofAll {
		return outside(c, coverLow, coverHigh)
	}
	return outside(c, coverLowest, coverHighest)
}

// missesDepth holds the depths of a kind of day against the goal of each kind;
// two standard errors beyond it are chance, no more.
func missesDepth(r *row) bool {
	c := total(r.fits).Depth.Coverage()
	switch r.kind {
	case ofAll:
		return outside(c, coverLow, coverHigh)
	case ofPool:
		return outside(c, coverLowest, coverHighest)
	}
	room := 2 * spread(depths(r.fits))
	if math.IsNaN(room) {
		room = 0.05
	}
	return outside(c, coverLow-room, coverHigh+room)
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
	unmeasured      bool // nothing was there to be held against it
}

// verdict returns what is printed behind the goal.
func (g *goal) verdict() string {
	switch {
	case g.unmeasured:
		return "not measured"
	case g.met:
		return "met"
	}
	return "MISSED"
}

// goals holds the days of one generator against each goal; a goal for which no
// day is there is left out.
func goals(days []*day) []goal {
	var out []goal
	add := func(what, want, got string, met bool) {
		out = append(out, goal{what: what, want: want, got: got, met: met})
	}
	most := func(what string, got, want float64, decimals int, unit string) {
		if !math.IsNaN(got) {
			add(what, fmt.Sprintf("≤ %g%s", want, unit), number(got, decimals)+unit, got <= want)
		}
	}
	all := rowOf("all", ofAll, days)
	pool := pooled(days)
	lateral := func(r *row) score.Extent { return total(r.fits).Lateral }
	depth := func(r *row) score.Extent { return total(r.fits).Depth }
	add("lateral coverage, all", "93–97 %", percent(laterals(all.fits)), !missesCoverage(all))
	out = append(out, inEach(pool, "lateral coverage", "92–98 %", func(r *row) float64 { return 100 * lateral(r).Coverage() }, 100*coverLowest, 100*coverHighest, 1)...)
	most("sharpness, all", lateral(all).Sharpness(), maxSharpness, 2, "")
	out = append(out, inEach(pool, "sharpness", "≤ 1.25", func(r *row) float64 { return lateral(r).Sharpness() }, 0, maxSharpness, 2)...)
	out = append(out, widestGoal(days))
	if s := sumOf(days, func(d *day) bool { return d.Preset.name == gainPreset }); s.Days > 0 {
		most("RMSE ÷ raw dots, "+gainPreset, s.Gain(), maxGain, 2, "")
	}
	if s := sumOf(days, fixed); len(s.Corners) > 0 {
		add("90° bends, RTK, 95th percentile", "≤ 0.25 m", fmt.Sprintf("%.2f m of %d", s.Corner(0.95), len(s.Corners)), s.Corner(0.95) <= maxBend)
	}
	add("depth coverage, all", "93–97 %", percent(depths(all.fits)), !missesDepth(all))
	out = append(out, inEach(pool, "depth coverage", "92–98 %", func(r *row) float64 { return 100 * depth(r).Coverage() }, 100*coverLowest, 100*coverHighest, 1)...)
	out = append(out, kindsGoal(days))
	most("depth sharpness, all", depth(all).Sharpness(), maxSharpness, 2, "")
	out = append(out, inEach(pool, "depth sharpness", "≤ 1.25", func(r *row) float64 { return depth(r).Sharpness() }, 0, maxSharpness, 2)...)
	bias := 100 * depth(all).Bias()
	add("depth bias, all", "± 0.3 %", number(bias, 1)+" %", math.Abs(bias) <= 100*maxBias)
	out = append(out, inEach(pool, "depth bias", "± 0.3 %", func(r *row) float64 { return 100 * depth(r).Bias() }, -100*maxBias, 100*maxBias, 1)...)
	most("plain lines that show a step of the current", 100*stepped(all.score), 100*maxStepped, 0, " %")
	most("false jumps of steady receivers", jumps(all.score), maxJumps, 1, " an hour")
	add("completeness, all", "≥ 98.5 %", number(100*all.score.Completeness(), 1)+" %", all.score.Completeness() >= minComplete)
	return append(out, clockGoals(days)...)
}

// families are the pooled rows that a goal is asked of one by one.
var families = []struct{ prefix, name string }{
	{"fix:", "each fix quality"}, {"clock:", "each state of the clock"}, {"readings:", "each density of readings"},
}

// inEach holds the smallest and the largest figure of each family of pooled rows
// against the bounds.
func inEach(pool []*row, what, want string, of func(*row) float64, low, high float64, decimals int) []goal {
	var out []goal
	for _, f := range families {
		var least, most *row
		for _, r := range pool {
			if !strings.HasPrefix(r.name, f.prefix) || math.IsNaN(of(r)) {
				continue
			}
			if least == nil || of(r) < of(least) {
				least = r
			}
			if most == nil || of(r) > of(most) {
				most = r
			}
		}
		if least == nil {
			continue
		}
		say := func(r *row) string { return number(of(r), decimals) + " " + strings.TrimPrefix(r.name, f.prefix) }
		got := say(least)
		if most != least {
			got += " … " + say(most)
		}
		out = append(out, goal{what: what + ", " + f.name, want: want, got: got, met: of(least) >= low && of(most) <= high})
	}
	return out
}

// kindsGoal counts the kinds of day whose depths are not covered as they should.
func kindsGoal(days []*day) goal {
	kinds, beyond := map[string][]*day{}, 0
	for _, d := range days {
		kinds[d.Preset.name] = append(kinds[d.Preset.name], d)
	}
	for name, of := range kinds {
		if r := rowOf(name, ofPreset, of); total(r.fits).Depth.Length > 0 && missesDepth(r) {
			beyond++
		}
	}
	return goal{what: "depth coverage, kinds of day outside 93–97 %", want: "none", got: fmt.Sprintf("%d of %d", beyond, len(kinds)), met: beyond == 0}
}

// widestGoal asks for sharpness where gross errors cannot hide wide widths: by
// the factor that each fix quality's widths are larger than they need to be.
func widestGoal(days []*day) goal {
	widest, name := 0.0, ""
	for _, k := range qualities {
		if f := total(qualityRow(k.name, k.q, days).fits).Lateral.Factor(); 1/f > widest {
			widest, name = 1/f, k.name
		}
	}
	return goal{what: "width ÷ width needed, widest fix quality", want: "≤ 1.25", got: fmt.Sprintf("%.2f, %s", widest, name), met: widest <= maxSharpness}
}

func clockGoals(days []*day) []goal {
	var out []goal
	for _, k := range []struct {
		what, want string
		is         func(*day) bool
		most       float64
	}{
		{"clock, stop-and-go, largest error", "≤ 1.0 s", stopAndGo, maxClockStops},
		{"clock, return passes, largest error", "≤ 0.5 s", returning, maxClockBack},
	} {
		if s := sumOf(days, k.is); s.Days > 0 {
			c := clocksOf(s.Clocks)
			out = append(out, worstClock(k.what, k.want, c, k.most))
		}
	}
	c := clocksOf(rowOf("all", ofAll, days).score.Clocks)
	return append(out,
		goal{what: "clocks beyond 3 σ, determined or not", want: "none", got: fmt.Sprintf("%d of %d", c.beyond, c.all), met: c.beyond == 0, unmeasured: c.all == 0},
		goal{what: "determined clocks wrong by > 1 s", want: "none", got: fmt.Sprintf("%d of %d", c.wrong, c.determined), met: c.wrong == 0, unmeasured: c.determined == 0})
}

// worstClock holds the largest error of the determined clocks, s, against a goal.
func worstClock(what, want string, c clocks, most float64) goal {
	g := goal{what: what, want: want, got: fmt.Sprintf("determined on %d of %d", c.determined, c.all), met: c.worst <= most, unmeasured: c.determined == 0}
	if !g.unmeasured {
		g.got = fmt.Sprintf("%.2f s, %s", c.worst, g.got)
	}
	return g
}

// sumOf adds up the days of a kind.
func sumOf(days []*day, is func(*day) bool) *score.Score {
	return rowOf("", ofPreset, chosen(days, is)).score
}

func percent(es []score.Extent) string {
	return fmt.Sprintf("%s ± %s %%", number(100*sum(es).Coverage(), 1), number(100*spread(es), 1))
}

// renderGoals writes each goal with the figure of each generator.
func renderGoals(days []*day) string {
	head := []string{"goal", "wanted"}
	var names []string
	rows := map[string][]string{}
	for _, g := range []string{simulated, other} {
		own := chosen(days, func(d *day) bool { return d.Preset.generator == g })
		if len(own) == 0 {
			continue
		}
		for _, k := range goals(own) {
			r, ok := rows[k.what]
			if !ok {
				names = append(names, k.what)
				r = []string{k.what, k.want}
			}
			for len(r) < len(head) {
				r = append(r, "-", "")
			}
			rows[k.what] = append(r, k.got, k.verdict())
		}
		head = append(head, "internal/"+g, "")
	}
	lines := [][]string{head}
	for _, n := range names {
		r := rows[n]
		for len(r) < len(head) {
			r = append(r, "-", "")
		}
		lines = append(lines, r)
	}
	return strings.Join(aligned(lines, false), "\n") + "\n"
}
