package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"tracemap/fuse"
	"tracemap/present"
	"tracemap/remarks"
	"tracemap/result"
)

// aboutFacts says what the page is about.
func aboutFacts(m *result.Map) []result.Fact {
	t := &m.Meta
	var out []result.Fact
	for _, f := range []result.Fact{
		{Label: "Job", Text: t.Job}, {Label: "Surveyed", Text: present.Period(t.From, t.To)}, {Label: "Operator", Text: t.Operator},
		{Label: "Instrument", Text: t.Instrument}, {Label: "Reference frame", Text: t.Frame}, {Label: "Note", Text: t.Note},
	} {
		if f.Text != "" && f.Text != "–" {
			out = append(out, f)
		}
	}
	return out
}

// figures are the numbers at the top.
func figures(m *result.Map, u present.Units, places int) []result.Fact {
	length, worst, parts := 0.0, math.NaN(), 0
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			part := &m.Lines[i].Parts[j]
			if len(part.Vertices) == 0 {
				continue
			}
			parts++
			length += part.Length()
			if half := result.StatsOf(m, &m.Lines[i], part).HalfMax; !(worst >= half) {
				worst = half
			}
		}
	}
	placed := 0
	for i := range m.Readings {
		if m.Readings[i].OK {
			placed++
		}
	}
	out := []result.Fact{
		{Label: "lines, in " + present.Count(parts, "part", "parts"), Text: fmt.Sprint(len(m.Lines))},
		{Label: "located", Text: u.Length(length)},
		{Label: "readings placed of " + fmt.Sprint(len(m.Readings)+len(m.Aside)), Text: fmt.Sprint(placed)},
		{Label: "places to revisit", Text: fmt.Sprint(places)},
	}
	if present.Known(worst) {
		out = slices.Insert(out, 2, result.Fact{Label: "widest 95 % half-width", Text: "± " + u.Depth(worst)})
	}
	return out
}

// legend lists the utilities on the map.
func legend(m *result.Map) []legendEntry {
	there := map[string]bool{}
	for i := range m.Lines {
		there[string(present.LookOf(m.Lines[i].Utility).Utility)] = true
	}
	var out []legendEntry
	for _, look := range present.Looks {
		if there[string(look.Utility)] {
			out = append(out, legendEntry{Letters: look.Letters, Name: look.Name, Colour: look.Hex()})
		}
	}
	return out
}

// kinds finds the kinds of points on the map.
func kinds(m *result.Map) (k pointKinds) {
	for i := range m.Points {
		switch m.Points[i].Placed.Reading.Feature {
		case "":
			k.Sonde = true
		case "pothole":
			k.Pothole = true
		default:
			k.Feature = true
		}
	}
	return k
}

// style is the page's style sheet with the bands' colours.
func style(m *result.Map) template.CSS {
	var b strings.Builder
	b.WriteString(present.Style(styleText))
	for _, look := range present.Looks {
		fmt.Fprintf(&b, ".b-%s{fill:%s}\n", look.Utility, look.Hex())
	}
	return template.CSS(b.String())
}

// notes explains flags that hold for a whole part.
func notes(s remarks.Set) []flagNote {
	var out []flagNote
	for _, row := range remarks.Table {
		if s.Has(row.Flag) {
			out = append(out, flagNote{present.RemarkWord(row.Name), row.Meaning, row.Revisit})
		}
	}
	return out
}

// points lists features with the depths known of them.
func points(m *result.Map, u present.Units) []pointRow {
	var out []pointRow
	for i := range m.Points {
		pt := &m.Points[i]
		r := pt.Placed.Reading
		row := pointRow{Feature: r.Feature, Line: "–", Depth: u.Depth(r.BestDepth()), Seen: u.Depth(r.MeasuredDepth), Fitted: u.Depth(fittedDepth(m, pt)), Radius: "± " + u.Depth(present.Radius95(pt.Placed.Radius)), Note: r.Note}
		if row.Feature == "" {
			row.Feature = "sonde"
		}
		if pt.LineID != "" {
			row.Line = pt.LineID
			if present.Known(pt.Placed.Station) {
				row.Line += " at " + unbroken(u.Length(pt.Placed.Station))
			}
		}
		if !pt.Placed.OK {
			row.Radius = "no position"
		}
		out = append(out, row)
	}
	return out
}

// fittedDepth is the line's depth where a point lies on it.
func fittedDepth(m *result.Map, pt *fuse.Point) float64 {
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			if part := &m.Lines[i].Parts[j]; m.Lines[i].ID == pt.LineID && part.Number == pt.Part {
				s := sheet{part: part}
				return s.interpolate(pt.Placed.Station, func(v *fuse.Vertex) float64 { return v.Depth })
			}
		}
	}
	return math.NaN()
}

func revisit(places []result.Revisit, u present.Units) []revisitRow {
	var out []revisitRow
	for i := range places {
		r := &places[i]
		row := revisitRow{Number: i + 1, Where: r.LineID, Reason: sentence(r.Reason), Advice: r.Advice, Position: position(r.Geo.Lat, r.Geo.Lon)}
		if row.Where == "" {
			row.Where = "off the lines"
		} else if present.Known(r.Station) {
			row.Where += " at " + unbroken(u.Length(r.Station))
		}
		out = append(out, row)
	}
	return out
}

// counts fills in what the summary counted.
func (p *page) counts(s *result.Summary) {
	p.Counts, p.Warnings, p.Inputs = s.Readings, s.Warnings, s.Inputs
	total := 0
	for _, n := range s.GNSS.Fix {
		total += n
	}
	for _, q := range []string{"rtk_fixed", "rtk_float", "pps", "differential", "autonomous", "estimated", "manual", "simulator", "unknown", "none"} {
		if n := s.GNSS.Fix[q]; n > 0 {
			p.Fixes = append(p.Fixes, countRow{Name: fixWord(q), Count: n, Share: percent(n, total)})
		}
	}
	for _, g := range s.GNSS.Gaps {
		p.Gaps = append(p.Gaps, gapRow{clockTime(g.From), clockTime(g.To), seconds(g.Seconds)})
	}
	for _, row := range remarks.Table {
		if n := s.Readings.ByFlag[row.Name]; n > 0 {
			p.Flags = append(p.Flags, countRow{Name: present.RemarkWord(row.Name), Meaning: row.Meaning, Count: n, Share: percent(n, s.Readings.Total)})
		}
	}
}

func fixWord(q string) string {
	if rest, ok := strings.CutPrefix(q, "rtk_"); ok {
		return "RTK " + rest
	}
	if q == "none" {
		return "no fix"
	}
	return q
}

func percent(n, of int) string {
	if of == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(of))
}

// clockTime shortens RFC 3339 for people.
func clockTime(text string) string {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return text
	}
	return t.UTC().Format("2006-01-02 15:04:05")
}

// cautions are what every reader of a locating map has to know.
var cautions = []string{
	"Before any digging, ask the one-call or records service that serves the site and wait for its answers. This page does not replace them.",
	"A depth found with a locator is an estimate, to the electrical centre of the line, at that spot and on that day. Never dig by machine on the strength of it: expose the line by hand or with vacuum, and see it.",
	"The widths hold for what was located. Between readings and beyond the ends the line may go anywhere.",
	"Lines without a signal – plastic, dead, unconnected or deep – may be missing altogether. An empty place on this map is not a clear place.",
	"Stay inside the law's tolerance zone, reckoned from the outer edge of the line, with hand tools or vacuum, also where the width shown here is narrower.",
	"The ground may have been cut or filled since the survey: depth counts from the surface of that day, the height is what lasts.",
	"Works and time make a survey stale. Have it repeated when months have passed or anything was dug nearby.",
	"Any class or level shown is a suggestion. A licensed professional decides.",
}
