package compare

import (
	"fmt"
	"math"
	"strings"

	"tracemap/present"
)

// Sentence is the verdict on the whole in one sentence.
func (r *Result) Sentence() string {
	u := unit{r.Options.Imperial}
	total := len(r.Lines)
	if total == 0 {
		return fmt.Sprintf("None of the %s could be compared with a located line.", present.Count(r.Records, "line of the record", "lines of the record"))
	}
	var parts []string
	add := func(n int, one, many string) {
		if n > 0 {
			parts = append(parts, present.Count(n, one, many))
		}
	}
	add(r.Counts[Differs], "differs from where it was located", "differ from where they were located")
	if n := r.Counts[Inconclusive]; n > 0 {
		parts = append(parts, fmt.Sprintf("%d cannot be judged %sbecause the uncertainty is too wide", n, r.undecidedIn()))
	}
	add(r.Counts[Agrees], "agrees", "agree")
	text := fmt.Sprintf("Of %s of the record that could be compared, %s, within a tolerance of %s beyond the 95 %% uncertainty", present.Count(total, "line", "lines"), join(parts), u.small(r.Options.Tolerance))
	if n := r.LinesNotLocated; n > 0 {
		text += fmt.Sprintf("; %s not located", present.Count(n, "line was", "lines were"))
	}
	if n := len(r.NotInRecord); n > 0 {
		text += fmt.Sprintf("; %s in no record", present.Count(n, "located line is", "located lines are"))
	}
	text += "."
	switch s := &r.Shift; {
	case s.Significant:
		text += " " + s.words(u) + " Look for the reason before blaming the pipes."
	case s.Suspected:
		text += " " + s.words(u)
	}
	return text
}

// undecidedIn says in which of lateral and depth the lines that cannot be judged
// are undecided: "in depth ", "laterally ", or nothing where it is some of both.
func (r *Result) undecidedIn() string {
	lateral, depth := false, false
	for i := range r.Lines {
		if l := &r.Lines[i]; l.Verdict == Inconclusive {
			lateral, depth = lateral || l.LateralVerdict == Inconclusive, depth || l.DepthVerdict == Inconclusive
		}
	}
	switch {
	case lateral && !depth:
		return "laterally "
	case depth && !lateral:
		return "in depth "
	}
	return ""
}

// words say what was found of a displacement common to all, or why none is told.
func (s *Shift) words(u unit) string {
	if !s.Significant {
		return s.reasonWords(u)
	}
	var parts []string
	if s.Displaced {
		parts = append(parts, fmt.Sprintf("displaced alike by %s towards %s", u.small(s.size()), degrees(s.vector())))
	}
	if present.Known(s.Rotation) {
		way := "anticlockwise"
		if s.Rotation < 0 {
			way = "clockwise"
		}
		parts = append(parts, fmt.Sprintf("turned %s by %.3f° ± %.3f° against the record about the middle of the lines, which is %s at the farthest line", way, math.Abs(s.Rotation), present.Line95*s.RotationSig, u.small(math.Abs(s.theta)*s.reach)))
	}
	if present.Known(s.Scale) {
		size := "larger"
		if s.Scale < 0 {
			size = "smaller"
		}
		parts = append(parts, fmt.Sprintf("%s than the record by %.0f ± %.0f parts per million, which is %s at the farthest line", size, math.Abs(s.Scale), present.Line95*s.ScaleSig, u.small(math.Abs(s.kappa)*s.reach)))
	}
	return fmt.Sprintf("Everything that was located is %s.", join(parts))
}

// reasonWords say why no displacement common to all is told.
func (s *Shift) reasonWords(u unit) string {
	best := fmt.Sprintf("the one that fits best is %s towards %s, with a σ of %s", u.small(s.size()), degrees(s.vector()), u.small(s.Sigma))
	switch s.Reason {
	case NoLines:
		return "Nothing was compared."
	case OneLine:
		return "One line is not enough to tell whether everything is displaced alike or this line is somewhere else."
	case TwoLines:
		if s.Suspected {
			return fmt.Sprintf("Both lines are displaced alike, by %s towards %s; two lines are not enough to tell whether everything is. A third line that runs another way would settle it.", u.small(s.size()), degrees(s.vector()))
		}
		return "Two lines are not enough to tell whether everything is displaced alike or the lines are somewhere else."
	case FewLines:
		return fmt.Sprintf("%d lines that run straight are not enough to tell whether everything is displaced alike: %s. Lines with bends, or more lines, would settle it.", s.Pairs, best)
	case NotAlike:
		return fmt.Sprintf("No displacement common to all: %s; it explains %d of %d lines, and they scatter too much for it.", best, s.Agreeing, s.Pairs)
	case TooSmall:
		return fmt.Sprintf("No displacement common to all that matters: %s.", best)
	}
	return fmt.Sprintf("No displacement common to all: %s, which the uncertainty of both sides explains.", best)
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

// small writes a deviation or a depth: "0.35 m", "1.15 ft"; "–" for none.
func (u unit) small(v float64) string {
	switch {
	case !present.Known(v):
		return "–"
	case u.imperial:
		return minus(fmt.Sprintf("%.2f ft", present.Round(v/present.MetresPerFoot, 2)))
	}
	return minus(fmt.Sprintf("%.2f m", present.Round(v, 2)))
}

// signed is small with its sign always.
func (u unit) signed(v float64) string {
	if text := u.small(v); !present.Known(v) || strings.HasPrefix(text, "−") || present.Round(v, 2) == 0 {
		return text
	}
	return "+" + u.small(v)
}

// sideways writes a lateral difference with its side: "1.53 m right".
func (u unit) sideways(v float64) string {
	if !present.Known(v) || present.Round(v, 2) == 0 {
		return u.small(v)
	}
	return u.small(math.Abs(v)) + " " + side(v)
}

// long writes a length along a line.
func (u unit) long(v float64) string {
	switch {
	case !present.Known(v):
		return "–"
	case u.imperial:
		return minus(fmt.Sprintf("%.0f ft", present.Round(v/present.MetresPerFoot, 0)))
	}
	return minus(fmt.Sprintf("%.1f m", present.Round(v, 1)))
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
		row("Lateral", "mean %s ± %s, RMSE %s, 95 %% within %s, at most %s", u.sideways(r.Lateral.Mean), u.small(r.Lateral.Mean95), u.small(r.Lateral.RMSE), u.small(r.Lateral.P95), u.small(r.Lateral.Max))
	}
	if r.Depth.N > 0 {
		row("Depth", "mean %s ± %s, RMSE %s, 95 %% within %s, at most %s", u.signed(r.Depth.Mean), u.small(r.Depth.Mean95), u.small(r.Depth.RMSE), u.small(r.Depth.P95), u.small(r.Depth.Max))
	}
	if r.Shift.Significant {
		if r.Shift.Displaced {
			row("Displaced", "%s east, %s north, σ %s, all alike", u.signed(r.Shift.East), u.signed(r.Shift.North), u.small(r.Shift.Sigma))
		}
		for _, c := range r.Shift.Causes {
			row("", "possible: %s", c)
		}
	}
	b.WriteString("\n" + present.Caution + "\n")
	return b.String()
}
