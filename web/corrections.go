package web

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"tracemap/internal/survey"
)

// A Correction is what a person changed about readings: with who, when and why,
// and a number by which it can be undone.
type Correction struct {
	ID    string    `json:"id"`   // revision.number within it; never used again
	Kind  string    `json:"kind"` // aside, back, line, utility
	Rows  []rowSpan `json:"rows"`
	Value string    `json:"value,omitempty"` // the line's name or the utility
	Why   string    `json:"why"`
	Who   string    `json:"who"`
	At    time.Time `json:"at"`
}

// A rowSpan is the readings of a file from one row to another.
type rowSpan struct {
	File string `json:"file"`
	From int    `json:"from"`
	To   int    `json:"to"`
}

// mostCorrections bounds what is kept with a revision: a person's work of weeks.
const (
	mostCorrections = 2000
	mostSpans       = 50_000
)

func (c *Correction) edit() survey.Edit {
	e := survey.Edit{Kind: survey.EditKind(c.Kind), Value: c.Value, Reason: fmt.Sprintf("%s (%s, %s)", c.Why, c.Who, c.At.UTC().Format(time.DateOnly))}
	for _, s := range c.Rows {
		e.Rows = append(e.Rows, survey.RowSpan{File: s.File, From: s.From, To: s.To})
	}
	return e
}

// newCorrection is a correction as a person asks for it.
type newCorrection struct {
	Kind  string    `json:"kind"`
	Rows  []rowSpan `json:"rows"`
	Value string    `json:"value,omitempty"`
	Why   string    `json:"why,omitempty"` // the revision's reason when missing
}

// corrected gives the corrections of a new revision: those of the old one, without
// what is undone, and with what is added.
func (n *newRevision) corrected(old []Correction, number int, by string, at time.Time) ([]Correction, error) {
	out := slices.Clone(old)
	for _, id := range n.Undo {
		i := slices.IndexFunc(out, func(c Correction) bool { return c.ID == id })
		if i < 0 {
			return nil, &problem{http.StatusUnprocessableEntity, "there is no correction " + shortText(id, 30) + " to undo", "It is undone already, or was never made."}
		}
		out = slices.Delete(out, i, i+1)
	}
	spans := 0
	for i, c := range n.Corrections {
		why := shortText(c.Why, 500)
		if why == "" {
			why = n.Why
		}
		value := c.Value
		if c.Kind == string(survey.SetLine) {
			value = shortText(value, 200)
		}
		out = append(out, Correction{fmt.Sprintf("%d.%d", number, i+1), c.Kind, c.Rows, value, why, by, at.UTC().Truncate(time.Second)})
	}
	for _, c := range out {
		spans += len(c.Rows)
	}
	if len(out) > mostCorrections || spans > mostSpans {
		return nil, &problem{http.StatusUnprocessableEntity, fmt.Sprintf("%d corrections of %d stretches are more than a day takes", len(out), spans), "Correct the readings log itself and upload it as a new day."}
	}
	return out, nil
}

// known refuses corrections of files that are not the day's.
func known(list []newCorrection, names []string) error {
	for _, c := range list {
		for _, s := range c.Rows {
			if !slices.Contains(names, s.File) {
				return &problem{http.StatusUnprocessableEntity, "no file " + plainName(s.File) + " belongs to this day", "Name the file as the day's list of files does."}
			}
		}
	}
	return nil
}
