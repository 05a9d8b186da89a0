package compare

import (
	"fmt"
	"strings"
)

// Sentence is the verdict on the whole in one sentence.
func (r *Result) Sentence() string {
	u := unit{r.Options.Imperial}
	total := len(r.Pairs)
	if total == 0 {
		return fmt.Sprintf("None of the %s could be compared with a located line.", plural(r.Records, "line of the record", "lines of the record"))
	}
	var parts []string
	add := func(n int, one, many string) {
		if n > 0 {
			parts = append(parts, plural(n, one, many))
		}
	}
	add(r.Counts[Differs], "differs from where it was located", "differ from where they were located")
	add(r.Counts[Inconclusive], "cannot be judged because the uncertainty is too wide", "cannot be judged because the uncertainty is too wide")
	add(r.Counts[Agrees], "agrees", "agree")
	text := fmt.Sprintf("Of %s of the record that could be compared, %s, within a tolerance of %s beyond the 95 %% uncertainty", plural(total, "line", "lines"), join(parts), u.small(r.Options.Tolerance))
	if n := len(r.NotLocated); n > 0 {
		text += fmt.Sprintf("; %s not located", plural(n, "line was", "lines were"))
	}
	if n := len(r.NotInRecord); n > 0 {
		text += fmt.Sprintf("; %s in no record", plural(n, "located line is", "located lines are"))
	}
	text += "."
	if r.Shift.Significant {
		text += fmt.Sprintf(" Everything is displaced alike by %s towards %s: look for the reason before blaming the pipes.", u.small(r.Shift.size()), degrees(r.Shift.vector()))
	}
	return text
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// join writes a list with an "and" before its last.
func join(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

// unit writes lengths for people.
type unit struct{ imperial bool }

const metresPerFoot = 0.3048 // international foot, exact

// small writes a deviation or a depth: "0.35 m", "1.15 ft"; "–" for none.
func (u unit) small(v float64) string {
	switch {
	case !known(v):
		return "–"
	case u.imperial:
		return minus(fmt.Sprintf("%.2f ft", round(v/metresPerFoot, 2)))
	}
	return minus(fmt.Sprintf("%.2f m", round(v, 2)))
}

// signed is small with its sign always.
func (u unit) signed(v float64) string {
	if text := u.small(v); !known(v) || strings.HasPrefix(text, "−") || round(v, 2) == 0 {
		return text
	}
	return "+" + u.small(v)
}

// long writes a length along a line.
func (u unit) long(v float64) string {
	switch {
	case !known(v):
		return "–"
	case u.imperial:
		return minus(fmt.Sprintf("%.0f ft", round(v/metresPerFoot, 0)))
	}
	return minus(fmt.Sprintf("%.1f m", round(v, 1)))
}

// scale gives the factor from metres to the unit of axes, and its symbol.
func (u unit) scale() (factor float64, symbol string) {
	if u.imperial {
		return 1 / metresPerFoot, "ft"
	}
	return 1, "m"
}

func minus(s string) string {
	if strings.HasPrefix(s, "-") {
		return "−" + s[1:]
	}
	return s
}

// Text is what the command says of a result to a person who may not open the
// page at once.
func (r *Result) Text(page string) string {
	u := unit{r.Options.Imperial}
	var b strings.Builder
	row := func(name, format string, args ...any) {
		fmt.Fprintf(&b, "%-10s %s\n", name, fmt.Sprintf(format, args...))
	}
	row("Comparison", "%s", page)
	row("Verdict", "%s", r.Sentence())
	if r.Lateral.N > 0 {
		row("Lateral", "mean %s ± %s, RMSE %s, 95 %% within %s, at most %s", u.signed(r.Lateral.Mean), u.small(r.Lateral.Mean95), u.small(r.Lateral.RMSE), u.small(r.Lateral.P95), u.small(r.Lateral.Max))
	}
	if r.Depth.N > 0 {
		row("Depth", "mean %s ± %s, RMSE %s, 95 %% within %s, at most %s", u.signed(r.Depth.Mean), u.small(r.Depth.Mean95), u.small(r.Depth.RMSE), u.small(r.Depth.P95), u.small(r.Depth.Max))
	}
	if r.Shift.Significant {
		row("Displaced", "%s east, %s north, σ %s, all alike", u.signed(r.Shift.East), u.signed(r.Shift.North), u.small(r.Shift.Sigma))
		for _, c := range r.Shift.Causes {
			row("", "possible: %s", c)
		}
	}
	if r.Options.Caution != "" {
		b.WriteString("\n" + r.Options.Caution + "\n")
	}
	return b.String()
}
