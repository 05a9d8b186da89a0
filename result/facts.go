package result

import (
	"fmt"
	"path/filepath"
	"strconv"

	"tracemap/fuse"
	"tracemap/present"
)

// PartName is how a part is called before people.
func PartName(line *fuse.Line, part *fuse.Part) string {
	name := line.ID
	if name == "" {
		name = "unnamed"
	}
	if len(line.Parts) > 1 {
		return fmt.Sprintf("%s, part %d", name, part.Number)
	}
	return name
}

// A Fact is something that a person wants to read, with its label. Key names what it
// is for programs; "" where none asks for it.
type Fact struct{ Key, Label, Text string }

// Facts lists what a person wants to read of a part, remarks apart.
func Facts(m *Map, line *fuse.Line, part *fuse.Part) []Fact {
	r, u := StatsOf(m, line, part), m.Units()
	out := []Fact{
		{"utility", "Utility", present.LookOf(line.Utility).Name},
		{"method", "Located by", locatedBy(line)},
		{"length", "Length", u.Length(part.Length())},
		{"readings", "Readings", fmt.Sprint(part.Readings)},
	}
	if present.Known(r.DepthMin) {
		out = append(out, Fact{"depth", "Depth to centre", u.Span(r.DepthMin, r.DepthMax) + ", 95 % within ± " + u.Depth(r.Depth95Max)})
	} else {
		out = append(out, Fact{"depth", "Depth to centre", "not read"})
	}
	if present.Known(r.CoverMin) {
		out = append(out, Fact{"cover", "Cover to the top", u.Span(r.CoverMin, r.CoverMax)}, Fact{"diameter", "Outside diameter", diameters(r.DiameterMin, r.DiameterMax)})
	}
	out = append(out, Fact{"width", "Line lies 95 % within", "± " + u.Depth(r.HalfMax) + " at its widest, ± " + u.Depth(r.HalfMean) + " on average"},
		Fact{"fix", "Weakest fix", present.FixName(r.Weakest)})
	if r.Class != "" {
		out = append(out, Fact{"class", "Suggested class", r.Class + " (" + m.Meta.Scheme + "); a licensed professional decides"})
	}
	if !part.From.IsZero() {
		out = append(out, Fact{"surveyed", "Surveyed", present.Period(part.From, part.To)})
	}
	return out
}

// diameters writes one or a range, m, in millimetres, in which pipes are named.
func diameters(low, high float64) string {
	a, b := present.AppendNumber(nil, present.Round(low*1000, 1)), present.AppendNumber(nil, present.Round(high*1000, 1))
	if string(a) == string(b) {
		return string(a) + " mm"
	}
	return string(a) + " to " + string(b) + " mm"
}

// locatedBy says how the signal came onto the line, and at what frequency.
func locatedBy(line *fuse.Line) string {
	if !present.Known(line.Frequency) {
		return present.MethodName(line.Method)
	}
	return present.MethodName(line.Method) + ", " + present.Hertz(line.Frequency)
}

// ReadingFacts lists what a person wants to read of a placed reading of a line; the
// line's name is empty for none.
func ReadingFacts(m *Map, p *fuse.Placed, lineID string) []Fact {
	u := m.Units()
	out := make([]Fact, 0, 13)
	add := func(label, text string) {
		if text != "" && text != "–" {
			out = append(out, Fact{"", label, text})
		}
	}
	add("Feature", p.Reading.Feature)
	if lineID != "" {
		add("Line", lineID)
	}
	add("Depth to centre", u.Depth(p.Reading.BestDepth()))
	add("Cover to the top", u.Depth(p.Reading.BestDepth()-p.Reading.Diameter/2))
	add("Depth seen", u.Depth(p.Reading.MeasuredDepth))
	if present.Known(p.Reading.Current) {
		add("Current", strconv.FormatFloat(p.Reading.Current, 'f', 1, 64)+" mA")
	}
	add("Point lies 95 % within", u.Depth(present.Radius95(p.Radius)))
	add("Fix", present.FixName(p.Quality))
	if !p.UTC.IsZero() {
		add("Time", p.UTC.UTC().Format("2006-01-02 15:04:05 UTC"))
	}
	if p.Reading.OnLine() && !p.Used {
		add("Use", "set aside, not part of the line")
	}
	add("Remarks", present.RemarkWords(p.Flags|p.Reading.Flags))
	add("Note", p.Reading.Note)
	add("From", filepath.Base(p.Reading.File)+", row "+strconv.Itoa(p.Reading.Row))
	return out
}
