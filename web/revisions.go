package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"

	"tracemap/internal/store"
)

// listed is a revision in a list: with what it changed from the one it was made of.
type listed struct {
	store.Revision
	Changes []change `json:"changes"`
}

// A change is one thing in which the settings or corrections of two revisions
// differ.
type change struct {
	Setting string          `json:"setting,omitempty"` // its name in the settings
	Before  json.RawMessage `json:"before,omitempty"`  // missing when it was not set
	After   json.RawMessage `json:"after,omitempty"`
	Added   *Correction     `json:"added,omitempty"`
	Undone  *Correction     `json:"undone,omitempty"`
}

func (s *Server) getRevisions(r *http.Request, w http.ResponseWriter) error {
	id, err := number(r, "day")
	if err != nil {
		return err
	}
	list, err := s.store.Revisions(r.Context(), id)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		return store.ErrNotFound
	}
	out := []listed{}
	for _, rev := range list {
		changes := []change{}
		if i := slices.IndexFunc(list, func(b store.Revision) bool { return b.Number == rev.Base }); i >= 0 {
			if changes, err = changesOf(list[i].Settings, rev.Settings); err != nil {
				return err
			}
		}
		out = append(out, listed{rev, changes})
	}
	return answer(w, http.StatusOK, map[string]any{"revisions": out})
}

func (s *Server) getRevision(r *http.Request, w http.ResponseWriter) error {
	day, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	rev, err := s.store.Revision(r.Context(), day, number)
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, rev)
}

// newRevision is the body of a request for a revision.
type newRevision struct {
	Base        int             `json:"base"`
	Settings    json.RawMessage `json:"settings,omitempty"` // all of them; those of the base when missing
	Corrections []newCorrection `json:"corrections,omitempty"`
	Undo        []string        `json:"undo,omitempty"`    // corrections to take out
	Restore     int             `json:"restore,omitempty"` // start from this revision's settings and corrections
	Reopen      bool            `json:"reopen,omitempty"`  // although the base was handed over
	Why         string          `json:"why"`
}

func (s *Server) postRevision(r *http.Request, w http.ResponseWriter) error {
	id, err := number(r, "day")
	if err != nil {
		return err
	}
	var n newRevision
	if err := read(r, &n); err != nil {
		return err
	}
	if n.Why = shortText(n.Why, 500); n.Why == "" {
		return &problem{http.StatusUnprocessableEntity, "no reason given", "Say in a few words why the day is computed anew."}
	}
	base, err := s.baseOf(r, id, &n)
	if err != nil {
		return err
	}
	settings, err := s.settingsOf(r, &n, base)
	if err != nil {
		return err
	}
	if err := s.roomForWork(r.Context(), who(r)); err != nil {
		return err
	}
	rev, err := s.store.NewRevision(r.Context(), id, n.Base, settings, n.Why, who(r))
	if errors.Is(err, store.ErrStale) {
		return s.overtaken(r, id, n.Base)
	}
	if err != nil {
		return err
	}
	s.work.wake()
	w.Header().Set("Location", fmt.Sprintf("/api/v1/days/%d/revisions/%d", id, rev.Number))
	return answer(w, http.StatusCreated, rev)
}

// baseOf gives the revision that a new one is made of, refusing one that somebody
// has overtaken and, unless that is meant, one that was handed over.
func (s *Server) baseOf(r *http.Request, id int64, n *newRevision) (store.Revision, error) {
	day, err := s.store.Day(r.Context(), id)
	if err != nil {
		return store.Revision{}, err
	}
	if day.Latest.Number != n.Base {
		return store.Revision{}, s.overtaken(r, id, n.Base)
	}
	if day.Latest.Locked != nil && !n.Reopen {
		return store.Revision{}, &problem{http.StatusConflict, fmt.Sprintf("revision %d was handed over and does not change", n.Base), "Reopen the day: what was handed over stays, and a new revision begins."}
	}
	var names []string
	for _, f := range day.Files {
		names = append(names, f.Name)
	}
	return *day.Latest, known(n.Corrections, names)
}

// settingsOf puts a new revision's settings and corrections together.
func (s *Server) settingsOf(r *http.Request, n *newRevision, base store.Revision) (json.RawMessage, error) {
	from := base
	if n.Restore > 0 {
		var err error
		if from, err = s.store.Revision(r.Context(), base.Day, n.Restore); err != nil {
			return nil, err
		}
	}
	old, err := parseSettings(from.Settings)
	if err != nil {
		return nil, err
	}
	settings := old
	if len(n.Settings) > 0 {
		if settings, err = parseSettings(n.Settings); err != nil {
			return nil, err
		}
	}
	if settings.Corrections, err = n.corrected(old.Corrections, n.Base+1, who(r), s.opt.Now()); err != nil {
		return nil, err
	}
	if _, err := settings.options(); err != nil {
		return nil, err
	}
	return json.Marshal(settings)
}

// overtaken says who has changed the day meanwhile, and what.
func (s *Server) overtaken(r *http.Request, id int64, base int) error {
	list, err := s.store.Revisions(r.Context(), id)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(list, func(v store.Revision) bool { return v.Number == base })
	if i <= 0 {
		return &problem{http.StatusUnprocessableEntity, fmt.Sprintf("day %d has no revision %d to start from", id, base), "Look at its list of revisions."}
	}
	newer := []listed{}
	for k := i - 1; k >= 0; k-- {
		changes, err := changesOf(list[k+1].Settings, list[k].Settings)
		if err != nil {
			return err
		}
		newer = append(newer, listed{list[k], changes})
	}
	last := list[0]
	return &problemWith{&problem{
		http.StatusConflict, fmt.Sprintf("there is a newer revision %d: %s – %s", last.Number, last.CreatedBy, last.Why),
		"Look at it; your change is still here and can be made on top of it.",
	}, map[string]any{"newer": newer}}
}

// changesOf lists in what two revisions' settings and corrections differ.
func changesOf(before, after json.RawMessage) ([]change, error) {
	var a, b map[string]json.RawMessage
	if err := errors.Join(json.Unmarshal(before, &a), json.Unmarshal(after, &b)); err != nil {
		return nil, err
	}
	out := []change{}
	var names []string
	for name := range a {
		names = append(names, name)
	}
	for name := range b {
		if _, ok := a[name]; !ok {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		if name != "corrections" && string(a[name]) != string(b[name]) {
			out = append(out, change{Setting: name, Before: a[name], After: b[name]})
		}
	}
	was, err := parseSettings(before)
	if err != nil {
		return nil, err
	}
	is, err := parseSettings(after)
	if err != nil {
		return nil, err
	}
	return append(append(out, missing(is.Corrections, was.Corrections, true)...), missing(was.Corrections, is.Corrections, false)...), nil
}

// missing lists the corrections of one list that the other has not.
func missing(list, other []Correction, added bool) []change {
	var out []change
	for _, c := range list {
		if slices.ContainsFunc(other, func(o Correction) bool { return o.ID == c.ID }) {
			continue
		}
		if added {
			out = append(out, change{Added: &c})
		} else {
			out = append(out, change{Undone: &c})
		}
	}
	return out
}
