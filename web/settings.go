package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"tracemap/internal/survey"
)

// Settings say how a day is computed, as people set them: the flags of convert.
// What is missing takes the program's default. Lengths are metres.
type Settings struct {
	ClockOffset    string   `json:"clock_offset,omitempty"` // auto, none or a duration
	Sync           []string `json:"sync,omitempty"`         // locator's clock = UTC, RFC 3339
	Zone           string   `json:"zone,omitempty"`         // IANA
	AntennaHeight  *float64 `json:"antenna_height_m,omitempty"`
	AntennaForward float64  `json:"antenna_forward_m,omitempty"`
	AntennaRight   float64  `json:"antenna_right_m,omitempty"`
	Frame          string   `json:"frame,omitempty"`
	MaxGap         *float64 `json:"max_gap_m,omitempty"`
	Scheme         string   `json:"scheme,omitempty"`
	CRS            string   `json:"crs,omitempty"`
	Units          string   `json:"units,omitempty"` // of reports: metric, imperial
	Job            string   `json:"job,omitempty"`
	Operator       string   `json:"operator,omitempty"`
	Instrument     string   `json:"instrument,omitempty"`
	Note           string   `json:"note,omitempty"`
	// Corrections of readings, in the order in which people made them. The server
	// keeps them; what a request says here is not read.
	Corrections []Correction `json:"corrections,omitempty"`
}

// parseSettings reads settings from JSON, refusing what it does not know.
func parseSettings(text json.RawMessage) (Settings, error) {
	var s Settings
	if len(text) == 0 {
		return s, nil
	}
	dec := json.NewDecoder(strings.NewReader(string(text)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&s); err != nil {
		return s, &problem{http.StatusBadRequest, fmt.Sprintf("the settings cannot be read: %v", err), ""}
	}
	return s, nil
}

// options checks the settings and gives what survey understands.
func (s *Settings) options() (survey.Options, error) {
	o := survey.DefaultOptions()
	wrong := func(err error) (survey.Options, error) {
		return o, &problem{http.StatusUnprocessableEntity, inPageWords(err.Error()), "Correct the setting and try again."}
	}
	var err error
	if s.ClockOffset != "" {
		if o.Clock.Mode, o.Clock.Offset, err = survey.ParseClockOffset(s.ClockOffset); err != nil {
			return wrong(err)
		}
	}
	for _, text := range s.Sync {
		m, err := survey.ParseMark(text)
		if err != nil {
			return wrong(err)
		}
		o.Clock.Marks = append(o.Clock.Marks, m)
	}
	if s.Zone != "" {
		if o.Zone, err = survey.ParseZone(s.Zone); err != nil {
			return wrong(err)
		}
	}
	o.CRS = survey.FrameCRS(s.Frame)
	if s.CRS != "" {
		if o.CRS, err = survey.ParseCRS(s.CRS); err != nil {
			return wrong(err)
		}
	}
	if s.Units != "" {
		if o.Imperial, err = survey.ParseUnits(s.Units); err != nil {
			return wrong(err)
		}
	}
	if s.AntennaHeight != nil {
		o.Fuse.AntennaHeight = *s.AntennaHeight
	}
	if s.MaxGap != nil {
		o.Fuse.MaxGap = *s.MaxGap
	}
	if s.Scheme != "" {
		o.Scheme = s.Scheme
	}
	o.Fuse.AntennaForward, o.Fuse.AntennaRight, o.Frame = s.AntennaForward, s.AntennaRight, s.Frame
	o.Job, o.Operator, o.Instrument, o.Note = s.Job, s.Operator, s.Instrument, s.Note
	for i := range s.Corrections {
		o.Edits = append(o.Edits, s.Corrections[i].edit())
	}
	if err := o.Check(); err != nil {
		return wrong(err)
	}
	return o, nil
}

// flagWords are what the page calls the flags that messages of survey name: first
// where the words about one change with it, then each flag by itself.
var flagWords = func() *strings.Replacer {
	words := []string{
		"let the clock be estimated (--clock-offset auto)", "let the clock be estimated",
		"a sync mark (--sync)", "a sync mark in the settings",
		"with --columns", "by a map of columns (on the command line)",
		"name one with --crs", "name one in the settings",
		"name another grid with --crs", "name another grid in the settings",
		" (--crs)", "",
	}
	for _, p := range survey.Params {
		words = append(words, "--"+p.Flag, p.Page)
	}
	return strings.NewReplacer(words...)
}()

// inPageWords rewrites a message that was made for the command line.
func inPageWords(text string) string { return flagWords.Replace(text) }
