package main

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"tracemap/internal/survey"
	"tracemap/nmea"
	"tracemap/present"
	"tracemap/result"
)

// overview is what inspect says to a person.
func overview(d *survey.Day, s *result.Summary) string {
	var b strings.Builder
	b.WriteString(verdictText(s.Verdict))
	row := func(name, format string, args ...any) {
		fmt.Fprintf(&b, "  %-10s %s\n", name, oneLine(fmt.Sprintf(format, args...)))
	}
	if d.NMEA != nil {
		b.WriteString("Receiver's log\n")
		receiverRows(row, d, s)
	}
	if d.Readings != nil {
		b.WriteString("Readings log\n")
		readingRows(row, d, s)
	}
	if d.Located != nil {
		b.WriteString("Together\n")
		row("clock", "%s", clockText(&s.Clock)+otherClocks(s))
		row("placed", "%d of %d readings", s.Readings.Placed, s.Readings.Total)
	}
	b.WriteString(checks(d.Findings()))
	return b.String()
}

func receiverRows(row func(string, string, ...any), d *survey.Day, s *result.Summary) {
	st := &d.NMEA.Stats
	files, track := filesText(s, survey.NMEA, "line", "lines"), filesText(s, survey.Track, "place", "places")
	row("files", "%s", files+track)
	if st.Epochs > 0 {
		text := fmt.Sprintf("%s to %s UTC, %s", day(st.From), day(st.To), present.Count(st.Epochs, "position", "positions"))
		if step := d.Step(); step > 0 {
			text += fmt.Sprintf(", one every %.3g s", step.Seconds())
		}
		row("time", "%s", text)
	}
	row("fixes", "%s", shares(st.Fix))
	if track != "" {
		row("damaged", "%s could not be read", present.Count(st.Malformed, "place", "places"))
	} else {
		row("sentences", "%s", kinds(st.Sentences))
		elsewhereRows(row, d.NMEA)
		row("damaged", "%d with a wrong checksum, %d without one, %d malformed", st.BadChecksum, st.NoChecksum, st.Malformed)
	}
	if len(d.NMEA.Gaps) == 0 {
		row("gaps", "none")
	}
	for i, g := range d.NMEA.Gaps {
		name := ""
		if i == 0 {
			name = "gaps"
		}
		if i == 5 {
			row("", "and %d more", len(d.NMEA.Gaps)-i)
			break
		}
		row(name, "%.0f s from %s", g.Seconds(), day(g.From))
	}
}

// elsewhereRows tells what the log holds beside positions.
func elsewhereRows(row func(string, string, ...any), l *nmea.Log) {
	if l.Sky.Looks > 0 {
		row("satellites", "%s", skyText(&l.Sky))
	}
	headings := 0
	for i := range l.Epochs {
		if h := l.Epochs[i].Heading; h == h {
			headings++
		}
	}
	if headings > 0 {
		row("heading", "true heading at %d of %s", headings, present.Count(len(l.Epochs), "position", "positions"))
	}
	var readable, unreadable []string
	for _, name := range slices.Sorted(maps.Keys(l.Stats.Other)) {
		if why := l.Stats.Other[name].Why; why != "" {
			unreadable = append(unreadable, fmt.Sprintf("%s (%s)", name, why))
		} else {
			readable = append(readable, name)
		}
	}
	if len(readable) > 0 {
		row("not needed", "%s", strings.Join(readable, ", "))
	}
	if len(unreadable) > 0 {
		row("not read", "%s", strings.Join(unreadable, ", "))
	}
}

func skyText(sky *nmea.Sky) string {
	var systems []string
	all := 0.0
	for _, name := range slices.Sorted(maps.Keys(sky.InView)) {
		systems = append(systems, fmt.Sprintf("%s %.0f", name, sky.InView[name]))
		all += sky.InView[name]
	}
	text := fmt.Sprintf("%.0f in view", all)
	if len(systems) > 0 {
		text += " (" + strings.Join(systems, ", ") + ")"
	}
	if !math.IsNaN(sky.CN0) {
		text += fmt.Sprintf(", signals %.0f dB-Hz on average", sky.CN0)
	}
	return text
}

func readingRows(row func(string, string, ...any), d *survey.Day, s *result.Summary) {
	row("files", "%s", filesText(s, survey.Readings, "row", "rows"))
	if first, last := d.ReadingSpan(); !first.IsZero() {
		row("time", "%s to %s on the locator's clock", day(first), day(last))
	}
	utilities, lines := map[string]int{}, map[string]int{}
	points := 0
	for i := range d.Readings.Readings {
		r := &d.Readings.Readings[i]
		if !r.OnLine() {
			points++
			continue
		}
		utilities[string(r.Utility)]++
		if r.Line != "" {
			lines[r.Line]++
		}
	}
	row("readings", "%d on %s, %s, %d rows could not be read", len(d.Readings.Readings)-points, present.Count(len(lines), "named line", "named lines"),
		present.Count(points, "point", "points"), len(d.Readings.Aside))
	row("utilities", "%s", kinds(utilities))
	if len(s.Readings.ByFlag) > 0 {
		row("flags", "%s", kinds(s.Readings.ByFlag))
	}
}

// filesText names the files of a kind with their rows.
func filesText(s *result.Summary, kind survey.Kind, one, many string) string {
	var out []string
	for _, in := range s.Inputs {
		if in.Kind == string(kind) {
			out = append(out, fmt.Sprintf("%s (%s)", in.File, present.Count(in.Rows, one, many)))
		}
	}
	if len(out) > 6 {
		out = append(out[:5], fmt.Sprintf("and %d more", len(out)-5))
	}
	return strings.Join(out, ", ")
}

// kinds writes counts by name, in the order of the names.
func kinds(counts map[string]int) string {
	var names []string
	for name := range counts {
		names = append(names, name)
	}
	slices.Sort(names)
	var out []string
	for _, name := range names {
		out = append(out, fmt.Sprintf("%s %d", name, counts[name]))
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, ", ")
}

// day writes a time as people log it.
func day(t time.Time) string { return t.UTC().Format("2006-01-02 15:04:05") }

// checks lists what the logs do well and where they are weak.
func checks(findings []survey.Finding) string {
	var b strings.Builder
	if len(findings) > 0 {
		b.WriteString("Checks\n")
	}
	for _, f := range findings {
		mark := "good"
		if f.Weak {
			mark = "weak"
		}
		fmt.Fprintf(&b, "  %s  %s\n", mark, oneLine(f.Text))
	}
	return b.String()
}
