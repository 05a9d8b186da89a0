// Package report writes report.html: one page for people that needs nothing
// else, with a plan-and-profile sheet for each part, the clock, the fixes, what
// to go back to, and the cautions. It prints from any browser.
package report

import (
	"bufio"
	"context"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"path/filepath"

	"tracemap/export"
	"tracemap/fuse"
	"tracemap/internal/newfile"
	"tracemap/internal/svg"
	"tracemap/present"
	"tracemap/remarks"
	"tracemap/result"
)

//go:embed page.html
var pageText string

//go:embed style.css
var styleText string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// Format is the report as a format for export.Write.
func Format() export.Format {
	return export.Format{Name: "report", Files: []string{"report.html"}, Write: writeFile}
}

func writeFile(_ context.Context, dir string, m *result.Map, _ export.Options) error {
	return newfile.Write(filepath.Join(dir, "report.html"), func(w *bufio.Writer) error { return Write(w, m) })
}

// Write writes the report of a map.
func Write(w io.Writer, m *result.Map) error {
	return pageTemplate.Execute(w, build(m))
}

// A page is what the template shows.
type page struct {
	Title    string
	About    []result.Fact
	Verdict  result.Verdict
	Mood     string // class and symbol of the verdict
	Symbol   string
	Rules    []string
	Figures  []result.Fact
	Style    template.CSS
	Caution  string
	Cautions []string

	Overview template.HTML
	Legend   []legendEntry
	Kinds    pointKinds
	Sheets   []sheetView
	Singles  []singleRow
	Points   []pointRow

	Clock    []string
	Evidence template.HTML
	Day      template.HTML
	Fixes    []countRow
	Gaps     []gapRow
	Counts   result.ReadingCounts
	Flags    []countRow
	Revisit  []revisitRow
	Warnings []string
	Inputs   []result.Input
	Tool     string
	Grades   gradesView
}

type legendEntry struct{ Letters, Name, Colour string }

// pointKinds says which symbols the legend has to explain.
type pointKinds struct{ Feature, Pothole, Sonde bool }

// A sheetView is a part's sheet on the page.
type sheetView struct {
	ID, Name, Letters, Colour string
	Facts                     []result.Fact
	Picture                   template.HTML
	Marks                     []mark
	Notes                     []flagNote // flags of the whole part
}

type flagNote struct{ Name, Meaning, Advice string }

type singleRow struct{ Letters, Name, Depth, Width, Position string }

type pointRow struct{ Feature, Line, Depth, Seen, Fitted, Radius, Note string }

type countRow struct {
	Name, Meaning string
	Count         int
	Share         string
}

type gapRow struct{ From, To, Length string }

type revisitRow struct {
	Number                          int
	Where, Reason, Advice, Position string
}

func build(m *result.Map) *page {
	u := m.Units()
	p := &page{Title: m.Meta.Title, Style: style(m), Caution: present.Caution, Cautions: cautions, Tool: m.Meta.Tool, Grades: grades(m, u)}
	if p.Title == "" {
		p.Title = "Located utilities"
	}
	p.Verdict = m.Judged()
	p.Verdict.Summary = unbroken(p.Verdict.Summary)
	reasons := make([]string, len(p.Verdict.Reasons)) // the day's own stay as they are
	for i, reason := range p.Verdict.Reasons {
		reasons[i] = unbroken(reason)
	}
	p.Verdict.Reasons = reasons
	p.Mood = [...]string{"good", "care", "no"}[p.Verdict.Level]
	p.Symbol = [...]string{"✓", "!", "✕"}[p.Verdict.Level]
	p.Rules = result.VerdictRules(u)
	p.About = aboutFacts(m)
	places := result.SortedRevisit(m)
	p.Figures = figures(m, u, len(places))
	p.Overview = overview(m, places)
	p.Legend = legend(m)
	p.Kinds = kinds(m)
	p.parts(m, u)
	p.Points = points(m, u)
	p.Clock, p.Evidence = clockWords(m.Clock), evidence(m.Clock)
	p.Day = dayline(m)
	p.Revisit = revisit(places, u)
	if m.Summary != nil {
		p.counts(m.Summary)
	}
	return p
}

// parts makes a sheet for each part with a length, a row for each without.
func (p *page) parts(m *result.Map, u present.Units) {
	onPart, around, canvas := byPart(m), partsAround(m), svg.New(0, 0, "")
	for i := range m.Lines {
		line := &m.Lines[i]
		look := present.LookOf(line.Utility)
		for j := range line.Parts {
			part := &line.Parts[j]
			stats := result.StatsOf(m, line, part)
			if len(part.Vertices) < 2 {
				p.Singles = append(p.Singles, single(line, part, look, stats, u))
				continue
			}
			s := &sheet{m: m, line: line, part: part, stats: stats, units: u, look: look, others: around, Sheet: svg.Sheet{C: canvas}}
			if members := onPart[partKey{line.ID, part.Number}]; members != nil {
				s.readings, s.points = members.readings, members.points
			}
			view := sheetView{ID: "sheet-" + s.id(), Name: result.PartName(line, part), Letters: look.Letters, Colour: look.Hex(), Facts: tight(result.Facts(m, line, part))}
			view.Picture, view.Marks = s.draw()
			view.Notes = notes(result.PartWide(line, part) &^ marked(view.Marks) &^ dayWide)
			p.Sheets = append(p.Sheets, view)
		}
	}
}

// dayWide are flags that hold for the whole day: the verdict and the warnings say
// them once.
const dayWide = remarks.AntennaAssumed | remarks.FrameAssumed | remarks.DateAssumed

// marked are the flags that the numbered remarks explain already.
func marked(marks []mark) (s remarks.Set) {
	for i := range marks {
		s |= marks[i].flag
	}
	return s
}

type partKey struct {
	id   string
	part int
}

type partMembers struct{ readings, points []*fuse.Placed }

// byPart sorts placed readings and points to their parts.
func byPart(m *result.Map) map[partKey]*partMembers {
	out := map[partKey]*partMembers{}
	get := func(id string, part int) *partMembers {
		k := partKey{id, part}
		if out[k] == nil {
			out[k] = &partMembers{}
		}
		return out[k]
	}
	for i := range m.Readings {
		if p := &m.Readings[i]; p.OK && p.Part > 0 && p.Reading.OnLine() {
			g := get(p.LineID, p.Part)
			g.readings = append(g.readings, p)
		}
	}
	for i := range m.Points {
		if pt := &m.Points[i]; pt.Placed.OK && pt.Part > 0 {
			g := get(pt.LineID, pt.Part)
			g.points = append(g.points, pt.Placed)
		}
	}
	for _, g := range out {
		sortReadings(g.readings)
		sortReadings(g.points)
	}
	return out
}

func single(line *fuse.Line, part *fuse.Part, look present.Look, stats result.Stats, u present.Units) singleRow {
	r := singleRow{Letters: look.Letters, Name: result.PartName(line, part), Depth: u.Depth(stats.DepthMin), Width: "± " + u.Depth(stats.HalfMax)}
	if len(part.Vertices) == 1 {
		r.Position = position(part.Vertices[0].Ground.Lat, part.Vertices[0].Ground.Lon)
	}
	return r
}

// position writes latitude and longitude for a receiver's screen; 7 decimals are
// a centimetre.
func position(lat, lon float64) string {
	if !present.Known(lat) || !present.Known(lon) {
		return "–"
	}
	return fmt.Sprintf("%.7f, %.7f", lat, lon)
}
