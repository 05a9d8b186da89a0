package main

import (
	"cmp"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"tracemap/present"
	"tracemap/result"
)

// resultText is what convert says of a map to a person who may not open it at
// once.
func resultText(m *result.Map, path string) string {
	var b strings.Builder
	row := func(name, format string, args ...any) {
		fmt.Fprintf(&b, "%-10s %s\n", name, fmt.Sprintf(format, args...))
	}
	b.WriteString(verdictText(m.Summary.Verdict))
	row("Map", "%s", filepath.Join(path, "report.html"))
	row("Lines", "%s", linesText(m))
	row("Readings", "%d of %d placed", m.Summary.Readings.Placed, m.Summary.Readings.Total)
	row("Fixes", "%s", shares(m.Summary.GNSS.Fix))
	row("Clock", "%s", clockText(&m.Summary.Clock)+otherClocks(m.Summary))
	if w := widthText(m); w != "" {
		row("Width", "%s", w)
	}
	row("Revisit", "%s", revisitText(m.Revisit))
	b.WriteString("\n" + present.Caution + "\n")
	return b.String()
}

// verdictText writes the day's verdict: its level first, then what was located or why
// not, the reasons, and what the crew did not state.
func verdictText(v *result.Verdict) string {
	var b strings.Builder
	line := func(name, text string) { fmt.Fprintf(&b, "%-10s %s\n", name, oneLine(text)) }
	line("Verdict", v.Level.String())
	line("", v.Summary)
	for _, reason := range v.Reasons {
		line("", "– "+reason)
	}
	for i, text := range v.NotTold {
		name := ""
		if i == 0 {
			name = "Not stated"
		}
		line(name, text)
	}
	return b.String()
}

// metres writes a length in the units that people asked for.
func metres(v float64, imperial bool, decimals int) string {
	if imperial {
		return fmt.Sprintf("%.*f ft", decimals, v/present.MetresPerFoot)
	}
	return fmt.Sprintf("%.*f m", decimals, v)
}

func linesText(m *result.Map) string {
	parts, length := 0, 0.0
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			parts++
			length += m.Lines[i].Parts[j].Length()
		}
	}
	return fmt.Sprintf("%s in %s, %s; %s", present.Count(len(m.Lines), "line", "lines"), present.Count(parts, "part", "parts"),
		metres(length, m.Meta.Imperial, 0), present.Count(len(m.Points), "point", "points"))
}

// shares writes counts by name as percentages, the largest first.
func shares(counts map[string]int) string {
	type share struct {
		name string
		n    int
	}
	var all []share
	sum := 0
	for name, n := range counts {
		all = append(all, share{name, n})
		sum += n
	}
	slices.SortFunc(all, func(a, b share) int { return cmp.Or(cmp.Compare(b.n, a.n), cmp.Compare(a.name, b.name)) })
	var out []string
	for _, s := range all {
		if s.n == 0 {
			continue
		}
		percent := 100 * float64(s.n) / float64(sum)
		text := fmt.Sprintf("%.0f %%", percent)
		if percent < 1 {
			text = "under 1 %"
		}
		out = append(out, strings.ReplaceAll(s.name, "_", " ")+" "+text)
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, ", ")
}

// clockText writes the offset with its 95 % bound; 1.96 σ, as for one
// coordinate.
func clockText(k *result.ClockSummary) string {
	switch {
	case k.State == "unknown":
		return fmt.Sprintf("not known: %+.0f s against UTC ±%.0f s (95 %%)%s", k.Offset, present.HalfWidth(k.Sigma), clockCost(k))
	case k.Method == "none":
		return "taken as right, as asked"
	case k.Method == "given":
		return fmt.Sprintf("%+.1f s against UTC, as given", k.Offset)
	}
	text := fmt.Sprintf("%+.1f s against UTC, ±%.1f s (95 %%), from %s", k.Offset, present.HalfWidth(k.Sigma), k.Method)
	if math.Abs(k.Drift) >= 0.05 {
		text += fmt.Sprintf(", drift %+.1f ppm", k.Drift)
	}
	return text + clockCost(k)
}

// otherClocks says that there are more clocks than the one shown.
func otherClocks(s *result.Summary) string {
	if len(s.Clocks) < 2 {
		return ""
	}
	return fmt.Sprintf(" (%s; %s in all, see the warnings)", s.Clocks[0].Name, present.Count(len(s.Clocks), "clock", "clocks"))
}

// clockCost says what the clock adds to the widths, where it does.
func clockCost(k *result.ClockSummary) string {
	if !(k.WidthAdded >= 0.005) || k.Determined {
		return ""
	}
	return fmt.Sprintf(", adds up to %.2f m to a half-width", k.WidthAdded)
}

// widthText gives the mean half-width along all parts and the widest place.
func widthText(m *result.Map) string {
	var sum, length, widest float64
	var where string
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			p := &m.Lines[i].Parts[j]
			for k := range p.Vertices {
				half := present.HalfWidth(p.Vertices[k].Sigma)
				if half > widest {
					widest, where = half, fmt.Sprintf("line %s part %d", m.Lines[i].ID, p.Number)
				}
				if k > 0 {
					step := p.Vertices[k].Station - p.Vertices[k-1].Station
					sum += step * (half + present.HalfWidth(p.Vertices[k-1].Sigma)) / 2
					length += step
				}
			}
		}
	}
	if where == "" {
		return ""
	}
	text := fmt.Sprintf("at most %s to either side with 95 %% (%s)", metres(widest, m.Meta.Imperial, 2), oneLine(where))
	if length > 0 {
		text = fmt.Sprintf("±%s on average, ", metres(sum/length, m.Meta.Imperial, 2)) + text
	}
	return text
}

// revisitText counts the places to go back to by reason.
func revisitText(places []result.Revisit) string {
	if len(places) == 0 {
		return "nothing to go back for"
	}
	counts := map[string]int{}
	var order []string
	for _, p := range places {
		for reason := range strings.SplitSeq(p.Reason, "; ") {
			if counts[reason] == 0 {
				order = append(order, reason)
			}
			counts[reason]++
		}
	}
	var out []string
	for _, reason := range order {
		out = append(out, fmt.Sprintf("%s %d", reason, counts[reason]))
	}
	return fmt.Sprintf("%s (%s): see revisit.gpx", present.Count(len(places), "place", "places"), strings.Join(out, ", "))
}
