package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"tracemap/internal/store"
)

// A check is a question of the hand-over.
type check struct {
	Key   string `json:"key"`
	Words string `json:"words"`
}

// checks are what crews are asked before a day's map leaves their hands: common
// practice of the trade, no source.
var checks = []check{
	{"self_check", "The locator passed its self-check on the day"},
	{"antenna", "The antenna's height above the ground was measured on the day"},
	{"frame", "The reference frame of the corrections is known"},
	{"control", "A control point was visited and its coordinates agree"},
	{"clock", "The locator's clock was compared with UTC, or its offset is settled by the day itself"},
	{"revisit", "The places to revisit were looked at"},
}

// A handover is what the person who hands a day over says of it.
type handover struct {
	Name    string       `json:"name"`           // of the person, as on the sheet
	Checks  []checkReply `json:"checks"`         // one for each check
	Notes   string       `json:"notes"`          // for who receives it
	Who     string       `json:"who,omitempty"`  // the account
	At      *time.Time   `json:"at,omitempty"`   // when
	Version int          `json:"form,omitempty"` // of the list of checks
}

type checkReply struct {
	Check  string `json:"check"`
	Answer string `json:"answer"` // yes, no, not_applicable
	Note   string `json:"note,omitempty"`
}

func (s *Server) getChecks(_ *http.Request, w http.ResponseWriter) error {
	return answer(w, http.StatusOK, map[string]any{"checks": checks})
}

// postHandover locks the newest revision with its checklist.
func (s *Server) postHandover(r *http.Request, w http.ResponseWriter) error {
	id, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	var h handover
	if err := read(r, &h); err != nil {
		return err
	}
	rev, err := s.store.Revision(r.Context(), id, number)
	if err != nil {
		return err
	}
	if rev.State != store.Done {
		return &problem{http.StatusConflict, "this revision has no map", "Hand over a revision that has been processed."}
	}
	if err := h.tidy(rev); err != nil {
		return err
	}
	at := s.opt.Now().UTC().Truncate(time.Second)
	h.Who, h.At, h.Version = who(r), &at, 1
	text, err := json.Marshal(h)
	if err != nil {
		return err
	}
	if err := s.store.Lock(r.Context(), id, number, who(r), text); err != nil {
		return err
	}
	if rev, err = s.store.Revision(r.Context(), id, number); err != nil {
		return err
	}
	return answer(w, http.StatusOK, rev)
}

// tidy checks the answers and refuses a hand-over that contradicts what the day
// was computed with.
func (h *handover) tidy(rev store.Revision) error {
	wrong := func(title, detail string) error { return &problem{http.StatusUnprocessableEntity, title, detail} }
	h.Name, h.Notes = shortText(h.Name, 100), longText(h.Notes, 4000)
	if h.Name == "" {
		return wrong("nobody's name is given", "Write who hands the day over.")
	}
	replies := map[string]checkReply{}
	for _, c := range h.Checks {
		c.Note = shortText(c.Note, 500)
		replies[c.Check] = c
	}
	h.Checks = nil
	for _, c := range checks {
		reply, ok := replies[c.Key]
		switch {
		case !ok || reply.Answer != "yes" && reply.Answer != "no" && reply.Answer != "not_applicable":
			return wrong("not answered: "+c.Words, "Answer every check with yes, no, or does not apply.")
		case reply.Answer != "yes" && reply.Note == "":
			return wrong("no reason given: "+c.Words, "Say in a few words why not.")
		}
		h.Checks = append(h.Checks, reply)
	}
	settings, err := parseSettings(rev.Settings)
	if err != nil {
		return err
	}
	switch {
	case replies["antenna"].Answer == "yes" && settings.AntennaHeight == nil:
		return wrong("the antenna's height is said to be measured, and this revision assumes it", "Enter the height in the settings, then hand over the new revision.")
	case replies["frame"].Answer == "yes" && settings.Frame == "":
		return wrong("the frame is said to be known, and this revision assumes it", "Enter the frame in the settings, then hand over the new revision.")
	}
	return nil
}

// longText trims a text of several lines that a person typed.
func longText(text string, most int) string {
	out := []rune{}
	for _, c := range text {
		if c == '\n' || c >= ' ' && c != 0x7f && c != '\uFFFD' {
			out = append(out, c)
		}
	}
	return string(out[:min(len(out), most)])
}

// handoverOf gives what was said at the hand-over; nil while the revision is open.
func handoverOf(rev store.Revision) (*handover, error) {
	if rev.Locked == nil {
		return nil, nil
	}
	h := new(handover)
	if err := json.Unmarshal(rev.Locked, h); err != nil {
		return nil, fmt.Errorf("hand-over of day %d revision %d: %w", rev.Day, rev.Number, err)
	}
	return h, nil
}
