package web

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strings"
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/store"
	"tracemap/internal/survey"
	"tracemap/internal/svg"
	"tracemap/present"
	"tracemap/result"
)

//go:embed sheet.html
var sheetText string

var sheetPage = template.Must(template.New("sheet").Parse(sheetText))

// A sheet is the page that goes with a day on paper.
type sheet struct {
	Title, Number, Tool, Caution string
	Days                         string
	Revision                     store.Revision
	Settings                     Settings
	View                         *view
	Handover                     *handover
	Checks                       []sheetCheck
	Lines                        []sheetLine
	Corrections                  []sheetCorrection
	Inputs                       []result.Input
	Plan                         template.HTML
	Clock, Set                   string
}

type sheetCheck struct{ Words, Answer, Note string }

type sheetLine struct{ Name, Length, Depth, Within, Fix, Class string }

type sheetCorrection struct{ What, Why, Who, At string }

// answerWords are how answers stand on paper.
var answerWords = map[string]string{"yes": "yes", "no": "NO", "not_applicable": "does not apply"}

// getSheet gives a revision's sheet to be printed; one that is not handed over says
// so in large letters.
func (s *Server) getSheet(r *http.Request, w http.ResponseWriter) error {
	id, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	day, err := s.store.Day(r.Context(), id)
	if err != nil {
		return err
	}
	rev, err := s.store.Revision(r.Context(), id, number)
	if err != nil {
		return err
	}
	name, err := viewName(r)
	if err != nil {
		return err
	}
	v, err := s.viewKept(id, number, name)
	if err != nil {
		return err
	}
	page, err := sheetOf(day, rev, v, present.Units{Imperial: name == viewImperialFile})
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := sheetPage.Execute(&b, page); err != nil {
		return err
	}
	if err := s.noteSeen(r, fmt.Sprintf("day %d revision %d", id, number), "sheet"); err != nil {
		return err
	}
	w.Header().Set("Content-Security-Policy", reportPolicy)
	return packed(w, r, "text/html; charset=utf-8", &b)
}

func sheetOf(day store.Day, rev store.Revision, v *view, u present.Units) (*sheet, error) {
	settings, err := parseSettings(rev.Settings)
	if err != nil {
		return nil, err
	}
	p := &sheet{
		Title: day.Title, Number: fmt.Sprintf("%d.%d", rev.Day, rev.Number), Tool: survey.Tool, Caution: present.Caution, Revision: rev, Settings: settings, View: v, Inputs: v.Inputs,
		Plan: planOf(v, u), Clock: clockWords(&v.Clock), Set: settingWords(settings, u), Days: period(v.Outcome.From, v.Outcome.To),
	}
	if p.Handover, err = handoverOf(rev); err != nil {
		return nil, err
	}
	if p.Handover != nil {
		for i, c := range p.Handover.Checks {
			words := c.Check
			if i < len(checks) && checks[i].Key == c.Check {
				words = checks[i].Words
			}
			p.Checks = append(p.Checks, sheetCheck{words, answerWords[c.Answer], c.Note})
		}
	}
	for _, l := range v.Lines {
		for _, part := range l.Parts {
			p.Lines = append(p.Lines, sheetLine{v.Looks[l.Utility].Letters + " " + part.Name, fact(part, "length"), fact(part, "depth"), fact(part, "width"), fact(part, "fix"), part.Class})
		}
	}
	for _, c := range settings.Corrections {
		p.Corrections = append(p.Corrections, sheetCorrection{c.words(), c.Why, c.Who, c.At.UTC().Format("2006-01-02 15:04 UTC")})
	}
	return p, nil
}

// fact returns the text of a part's fact; "" where it has none of that key.
func fact(part viewPart, key string) string {
	for _, f := range part.Facts {
		if f.Key == key {
			return f.Text
		}
	}
	return ""
}

// words say what a correction does.
func (c *Correction) words() string {
	var where []string
	for _, s := range c.Rows[:min(len(c.Rows), 4)] {
		if s.From == s.To {
			where = append(where, fmt.Sprintf("%s row %d", s.File, s.From))
		} else {
			where = append(where, fmt.Sprintf("%s rows %d to %d", s.File, s.From, s.To))
		}
	}
	if more := len(c.Rows) - 4; more > 0 {
		where = append(where, fmt.Sprintf("%d more stretches", more))
	}
	rows := strings.Join(where, ", ")
	switch survey.EditKind(c.Kind) {
	case survey.SetAside:
		return "set aside: " + rows
	case survey.BringBack:
		return "brought back: " + rows
	case survey.SetUtility:
		return "utility " + c.Value + ": " + rows
	}
	if c.Value == "" {
		return "no line name: " + rows
	}
	return "line " + c.Value + ": " + rows
}

func period(from, to string) string {
	a, err1 := time.Parse(time.RFC3339, from)
	b, err2 := time.Parse(time.RFC3339, to)
	if err1 != nil || err2 != nil {
		return "time unknown"
	}
	return present.Period(a, b)
}

func clockWords(c *viewClock) string {
	if math.IsNaN(float64(c.Offset)) {
		return "locator's clock not tied to UTC"
	}
	text := fmt.Sprintf("locator's clock minus UTC %.2f s", c.Offset)
	if !math.IsNaN(float64(c.Half)) {
		text += fmt.Sprintf(", 95 %% within ± %.2f s", c.Half)
	}
	text += " (" + strings.ReplaceAll(c.Method, "+", ", ") + ")"
	if c.State == "unknown" {
		text += "; more than one offset fits this day, the widths include that"
	}
	return text
}

func settingWords(s Settings, u present.Units) string {
	out := []string{"antenna height assumed"}
	if s.AntennaHeight != nil {
		out[0] = fmt.Sprintf("antenna %s above the ground", u.Depth(*s.AntennaHeight))
	}
	if s.AntennaForward != 0 || s.AntennaRight != 0 {
		out = append(out, fmt.Sprintf("antenna %s ahead and %s right of the locator", u.Depth(s.AntennaForward), u.Depth(s.AntennaRight)))
	}
	if s.Frame == "" {
		out = append(out, "frame of the corrections assumed")
	} else {
		out = append(out, "frame of the corrections "+s.Frame)
	}
	if s.MaxGap != nil {
		out = append(out, fmt.Sprintf("gaps over %s not joined", u.Length(*s.MaxGap)))
	}
	if s.Scheme != "" && s.Scheme != "none" {
		out = append(out, "accuracy classes "+s.Scheme)
	}
	return strings.Join(out, "; ")
}

// planOf draws the lines as a plan: north up, with corridors, a scale bar and the
// lines' letters.
func planOf(v *view, u present.Units) template.HTML {
	const width = 1000.0
	place := geodesy.NewLocal(geodesy.Geo{Lat: float64(v.Origin[0]), Lon: float64(v.Origin[1])})
	at := func(p [2]num) plane.Pt {
		return place.Forward(geodesy.Geo{Lat: float64(p[0]), Lon: float64(p[1])})
	}
	var all []plane.Pt
	for _, l := range v.Lines {
		for _, part := range l.Parts {
			for _, x := range part.Vertices {
				all = append(all, at(x.At))
			}
		}
	}
	if len(all) == 0 {
		return ""
	}
	w, height := svg.Frame{Width: width, Least: 240, Most: 620, Beside: 40, Above: 40}.Fit(all, 0)
	c := svg.New(width, height, "plan of the lines")
	for _, l := range v.Lines {
		look := v.Looks[l.Utility]
		for _, part := range l.Parts {
			for _, polygon := range part.Corridor {
				rings := make([][]svg.Point, len(polygon))
				for i, ring := range polygon {
					for _, p := range ring {
						rings[i] = append(rings[i], w.At(at(p)))
					}
				}
				c.Add("path", "d", svg.Ring(rings), "fill", look.Colour, "fill-opacity", 0.2, "fill-rule", "evenodd", "stroke", look.Colour, "stroke-width", 0.6)
			}
			var line []svg.Point
			for _, x := range part.Vertices {
				line = append(line, w.At(at(x.At)))
			}
			c.Add("path", "d", svg.Path(line), "fill", "none", "stroke", look.Colour, "stroke-width", 2.5)
			name := line[len(line)/2]
			c.Text(name.X+6, name.Y-6, "start", "", look.Letters+" "+part.Name)
		}
	}
	factor, symbol := u.Scale()
	w.Bar(c, 240, height-14, 220, factor, symbol)
	w.North(c, width-30, 36)
	return template.HTML(c.String())
}
