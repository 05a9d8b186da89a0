package web

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/store"
	"tracemap/internal/survey"
	"tracemap/present"
	"tracemap/remarks"
	"tracemap/result"
)

// viewFile is the file of a result that the page draws from, and viewImperialFile
// the same with its sentences in feet.
const (
	viewFile         = "view.json"
	viewImperialFile = "view-imperial.json"
)

// num is a number in JSON; what was not measured is null.
type num float64

// MarshalJSON writes NaN as null.
func (n num) MarshalJSON() ([]byte, error) {
	if v := float64(n); math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, float64(n), 'f', -1, 64), nil
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (n *num) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = num(math.NaN())
		return nil
	}
	v, err := strconv.ParseFloat(string(b), 64)
	*n = num(v)
	return err
}

func rounded(v float64, decimals int) num {
	k := math.Pow10(decimals)
	return num(math.Round(v*k) / k)
}

func degrees(v float64) num { return rounded(v, 9) } // 0.1 mm
func metres(v float64) num  { return rounded(v, 3) }

// A view is all that the page draws of a revision. Lengths are metres, positions
// degrees of WGS 84, widths 95 %.
type view struct {
	Outcome  outcome              `json:"outcome"`
	Rules    []string             `json:"rules"`
	Origin   [2]num               `json:"origin"` // latitude, longitude
	Lines    []viewLine           `json:"lines"`
	Readings []viewReading        `json:"readings"`
	Aside    []string             `json:"aside"` // rows that could not be read
	Revisit  []viewPlace          `json:"revisit"`
	Clock    viewClock            `json:"clock"`
	GNSS     result.GNSS          `json:"gnss"`
	Counts   result.ReadingCounts `json:"counts"`
	Warnings []string             `json:"warnings"`
	Frame    string               `json:"frame"`
	Flags    map[string][2]string `json:"flags"` // meaning, what to do
	Looks    map[string]viewLook  `json:"looks"`
	Inputs   []result.Input       `json:"inputs"`
}

type viewLook struct {
	Name    string    `json:"name"`
	Letters string    `json:"letters"`
	Colour  string    `json:"colour"`
	Dash    []float64 `json:"dash,omitempty"`
}

type viewLine struct {
	ID      string     `json:"id"`
	Utility string     `json:"utility"`
	Parts   []viewPart `json:"parts"`
}

type viewPart struct {
	Number   int           `json:"number"`
	Name     string        `json:"name"`
	Facts    []result.Fact `json:"facts"`
	Length   num           `json:"length"`
	Flags    []string      `json:"flags"`
	Class    string        `json:"class,omitempty"` // suggested accuracy class of its worst place
	Vertices []viewVertex  `json:"vertices"`
	Corridor [][][][2]num  `json:"corridor"` // polygons of rings
}

type viewVertex struct {
	At      [2]num   `json:"at"`
	Station num      `json:"s"`
	Half    num      `json:"half"`
	Depth   num      `json:"depth"`
	Depth95 num      `json:"depth95"`
	Current num      `json:"current"`
	Fix     string   `json:"fix"`
	Flags   []string `json:"flags,omitempty"`
}

type viewReading struct {
	File    string   `json:"file"`
	Row     int      `json:"row"`
	Time    string   `json:"time,omitempty"`
	Given   string   `json:"given,omitempty"` // line as the log names it
	Line    string   `json:"line,omitempty"`
	Part    int      `json:"part,omitempty"`
	Utility string   `json:"utility"`
	Feature string   `json:"feature,omitempty"`
	At      []num    `json:"at,omitempty"`
	Station num      `json:"s"`
	Offset  num      `json:"offset"`
	Depth   num      `json:"depth"`
	Seen    num      `json:"seen"`
	Current num      `json:"current"`
	Radius  num      `json:"radius"`
	Fix     string   `json:"fix"`
	Used    bool     `json:"used"`
	Flags   []string `json:"flags,omitempty"`
	Note    string   `json:"note,omitempty"`
}

type viewPlace struct {
	At      [2]num `json:"at"`
	Line    string `json:"line"`
	Part    int    `json:"part,omitempty"` // 0 where it lies on none
	Station num    `json:"s"`
	Reason  string `json:"reason"`
	Advice  string `json:"advice"`
}

type viewClock struct {
	Offset     num      `json:"offset"`
	Half       num      `json:"half"` // 95 %
	Drift      num      `json:"drift"`
	Method     string   `json:"method"`
	State      string   `json:"state"` // known, estimated, unknown
	Determined bool     `json:"determined"`
	RunnerUp   num      `json:"runner_up"`
	Advice     string   `json:"advice"`
	Evidence   [][2]num `json:"evidence"` // offset, log-likelihood against the best
}

// viewOf gathers what the page draws.
func viewOf(m *result.Map) *view {
	v := &view{
		Outcome: outcomeOf(m), Rules: result.VerdictRules(m.Units()), Frame: m.Meta.Frame,
		GNSS: m.Summary.GNSS, Counts: m.Summary.Readings, Warnings: []string{}, Aside: []string{}, Inputs: m.Summary.Inputs,
		Flags: map[string][2]string{}, Looks: map[string]viewLook{}, Lines: []viewLine{}, Readings: []viewReading{}, Revisit: []viewPlace{},
	}
	o := m.Place.Origin()
	v.Origin = [2]num{degrees(o.Lat), degrees(o.Lon)}
	for _, w := range m.Summary.Warnings {
		v.Warnings = append(v.Warnings, inPageWords(w))
	}
	for _, a := range m.Aside {
		v.Aside = append(v.Aside, survey.DescribeAside(a))
	}
	for _, row := range remarks.Table {
		v.Flags[row.Name] = [2]string{row.Meaning, row.Revisit}
	}
	for _, l := range present.Looks {
		v.Looks[string(l.Utility)] = viewLook{l.Name, l.Letters, l.Hex(), l.Dash}
	}
	v.addLines(m)
	v.addReadings(m)
	for _, p := range result.SortedRevisit(m) {
		v.Revisit = append(v.Revisit, viewPlace{[2]num{degrees(p.Geo.Lat), degrees(p.Geo.Lon)}, p.LineID, p.Part, metres(p.Station), p.Reason, p.Advice})
	}
	v.addClock(m)
	return v
}

func (v *view) addLines(m *result.Map) {
	for i := range m.Lines {
		line := &m.Lines[i]
		l := viewLine{ID: line.ID, Utility: string(present.LookOf(line.Utility).Utility), Parts: []viewPart{}}
		for j := range line.Parts {
			part := &line.Parts[j]
			stats := result.StatsOf(m, line, part)
			p := viewPart{
				Number: part.Number, Name: result.PartName(line, part), Facts: result.Facts(m, line, part), Length: metres(part.Length()),
				Flags: stats.Flags.Names(), Class: stats.Class, Corridor: corridorOf(m.Place, part.Corridor),
			}
			for k := range part.Vertices {
				x := &part.Vertices[k]
				p.Vertices = append(p.Vertices, viewVertex{
					[2]num{degrees(x.Ground.Lat), degrees(x.Ground.Lon)}, metres(x.Station), metres(present.HalfWidth(x.Sigma)), metres(x.Depth),
					metres(present.Depth95(x.SigmaDepth)), metres(x.Current), x.Quality.String(), x.Flags.Names(),
				})
			}
			l.Parts = append(l.Parts, p)
		}
		v.Lines = append(v.Lines, l)
	}
}

func corridorOf(place *geodesy.Local, polygons [][][]plane.Pt) [][][][2]num {
	out := [][][][2]num{}
	for _, polygon := range polygons {
		var rings [][][2]num
		for _, ring := range polygon {
			var r [][2]num
			for _, p := range ring {
				g := place.Inverse(p)
				r = append(r, [2]num{degrees(g.Lat), degrees(g.Lon)})
			}
			rings = append(rings, r)
		}
		out = append(out, rings)
	}
	return out
}

func (v *view) addReadings(m *result.Map) {
	for i := range m.Readings {
		p := &m.Readings[i]
		r := p.Reading
		x := viewReading{
			File: r.File, Row: r.Row, Time: stamp(p.UTC), Given: r.Line, Line: p.LineID, Part: p.Part, Utility: string(r.Utility), Feature: r.Feature,
			Station: num(math.NaN()), Offset: num(math.NaN()), Depth: metres(r.BestDepth()), Seen: metres(r.MeasuredDepth), Current: metres(r.Current),
			Radius: num(math.NaN()), Used: p.Used, Flags: (p.Flags | r.Flags).Names(), Note: r.Note,
		}
		if p.OK {
			x.At, x.Fix, x.Radius = []num{degrees(p.Geo.Lat), degrees(p.Geo.Lon)}, p.Quality.String(), metres(present.Radius95(p.Radius))
		}
		if p.Part > 0 {
			x.Station, x.Offset = metres(p.Station), metres(p.Offset)
		}
		v.Readings = append(v.Readings, x)
	}
}

// mostEvidence is how many offsets of the clock's evidence are sent: what a
// picture some hundred pixels wide can show.
const mostEvidence = 1200

func (v *view) addClock(m *result.Map) {
	c := m.Clock
	v.Clock = viewClock{
		Offset: metres(c.Offset), Half: metres(present.Depth95(c.Sigma)), Drift: metres(c.Drift), Method: c.Method, State: c.State.String(), Determined: c.Determined,
		RunnerUp: metres(c.RunnerUp), Advice: c.Advice, Evidence: [][2]num{},
	}
	// Of each stretch of offsets the best supported one is kept.
	step := (len(c.Evidence) + mostEvidence - 1) / mostEvidence
	for at := 0; at < len(c.Evidence); at += max(step, 1) {
		best := c.Evidence[at]
		for _, e := range c.Evidence[at:min(at+step, len(c.Evidence))] {
			if e.LogLikelihood > best.LogLikelihood {
				best = e
			}
		}
		v.Clock.Evidence = append(v.Clock.Evidence, [2]num{metres(best.Offset), metres(best.LogLikelihood)})
	}
}

// getView gives what the page draws. A computed revision never changes, so the
// browser may keep it.
func (s *Server) getView(r *http.Request, w http.ResponseWriter) error {
	day, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	name, err := viewName(r)
	if err != nil {
		return err
	}
	f, err := s.store.OpenResult(day, number, name)
	if errors.Is(err, store.ErrNotFound) && name != viewFile { // of a revision from before there were two
		f, err = s.store.OpenResult(day, number, viewFile)
	}
	if err != nil {
		return err
	}
	defer f.Close()
	if err := s.noteSeen(r, fmt.Sprintf("day %d revision %d", day, number), "map"); err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	return packed(w, r, "application/json", f)
}

// viewName gives which of a result's two views a request asks for.
func viewName(r *http.Request) (string, error) {
	switch units := r.URL.Query().Get("units"); units {
	case "", "metric":
		return viewFile, nil
	case "imperial":
		return viewImperialFile, nil
	default:
		return "", noUnits(units)
	}
}

func noUnits(given string) error {
	return &problem{http.StatusUnprocessableEntity, fmt.Sprintf("no units %q: there are metric and imperial", plainName(given)), ""}
}

// writeViews writes the view in both units.
func writeViews(dir string, m *result.Map) error {
	for _, v := range []struct {
		name     string
		imperial bool
	}{{viewFile, false}, {viewImperialFile, true}} {
		told := *m
		told.Meta.Imperial = v.imperial
		if err := writeJSON(filepath.Join(dir, v.name), viewOf(&told)); err != nil {
			return err
		}
	}
	return nil
}

func joinNames(names []string) string { return strings.Join(names, ",") }
