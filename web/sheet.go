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
			p.Lines = append(p.Lines, sheetLine{v.Looks[l.Utility].Letters + " " + part.Name, fact(part, "Length"), fact(part, "Depth to centre"), fact(part, "Line lies 95 % within"), fact(part, "Weakest fix"), part.Class})
		}
	}
	for _, c := range settings.Corrections {
		p.Corrections = append(p.Corrections, sheetCorrection{c.words(), c.Why, c.Who, c.At.UTC().Format("2006-01-02 15:04 UTC")})
	}
	return p, nil
}

// fact gives what is told of a part under a label.
func fact(part viewPart, label string) string {
	for _, f := range part.Facts {
		if f.Label == label {
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
// lines' letters. Figures are pixels of the picture, 1,000 wide.
func planOf(v *view, u present.Units) template.HTML {
	const width, height, pad = 1000.0, 620.0, 40.0
	place := geodesy.NewLocal(geodesy.Geo{Lat: float64(v.Origin[0]), Lon: float64(v.Origin[1])})
	at := func(p [2]num) plane.Pt {
		return place.Forward(geodesy.Geo{Lat: float64(p[0]), Lon: float64(p[1])})
	}
	lo, hi := plane.Pt{E: math.Inf(1), N: math.Inf(1)}, plane.Pt{E: math.Inf(-1), N: math.Inf(-1)}
	for _, l := range v.Lines {
		for _, part := range l.Parts {
			for _, x := range part.Vertices {
				q := at(x.At)
				lo, hi = plane.Pt{E: min(lo.E, q.E), N: min(lo.N, q.N)}, plane.Pt{E: max(hi.E, q.E), N: max(hi.N, q.N)}
			}
		}
	}
	if hi.E < lo.E {
		return ""
	}
	scale := min((width-2*pad)/max(hi.E-lo.E, 1), (height-2*pad)/max(hi.N-lo.N, 1))
	mid := lo.Lerp(hi, 0.5)
	xy := func(p [2]num) string {
		q := at(p)
		return fmt.Sprintf("%.1f,%.1f", width/2+(q.E-mid.E)*scale, height/2-(q.N-mid.N)*scale)
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="plan of the lines">`, width, height)
	for _, l := range v.Lines {
		look := v.Looks[l.Utility]
		for _, part := range l.Parts {
			for _, polygon := range part.Corridor {
				for _, ring := range polygon {
					b.WriteString(`<polygon points="`)
					for _, p := range ring {
						b.WriteString(xy(p) + " ")
					}
					fmt.Fprintf(&b, `" fill="%s" fill-opacity="0.2" stroke="%s" stroke-width="0.6"/>`, look.Colour, look.Colour)
				}
			}
			b.WriteString(`<polyline points="`)
			for _, x := range part.Vertices {
				b.WriteString(xy(x.At) + " ")
			}
			fmt.Fprintf(&b, `" fill="none" stroke="%s" stroke-width="2.5"/>`, look.Colour)
			x, y, _ := strings.Cut(xy(part.Vertices[len(part.Vertices)/2].At), ",")
			fmt.Fprintf(&b, `<text x="%s" y="%s" dx="6" dy="-6">%s</text>`, x, y, template.HTMLEscapeString(look.Letters+" "+part.Name))
		}
	}
	factor, name := u.Scale()
	bar := niceLength(200 / scale * factor)
	fmt.Fprintf(&b, `<path d="M20 %g v8 h%.1f v-8" fill="none" stroke="#000" stroke-width="1.5"/><text x="20" y="%g">%g %s</text>`, height-22, bar/factor*scale, height-26, bar, name)
	fmt.Fprintf(&b, `<path d="M%g 20 l8 28 l-8 -6 l-8 6 z"/><text x="%g" y="14">N</text></svg>`, width-30, width-35)
	return template.HTML(b.String())
}

// niceLength is the largest 1, 2 or 5 times a power of ten up to v.
func niceLength(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range []float64{5, 2} {
		if k*p <= v {
			return k * p
		}
	}
	return p
}
