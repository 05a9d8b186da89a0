package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"tracemap/export"
	"tracemap/internal/store"
	"tracemap/internal/survey"
	"tracemap/present"
)

func (s *Server) getSession(r *http.Request, w http.ResponseWriter) error {
	return s.answerSession(r, w, userOf(r))
}

// answerSession tells a person who they are here and what this server allows.
func (s *Server) answerSession(r *http.Request, w http.ResponseWriter, p person) error {
	free, err := s.store.Free()
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, map[string]any{
		"user": p.name, "role": p.role, "rights": rightsOf(p.role), "login": s.opt.Accounts,
		"tool": survey.Tool, "caution": present.Caution, "schemes": survey.Schemes(), "formats": export.Names(), "max_upload": s.opt.MaxUpload, "free": free,
	})
}

func (s *Server) getDays(r *http.Request, w http.ResponseWriter) error {
	days, err := s.store.Days(r.Context())
	if err != nil {
		return err
	}
	b, err := json.Marshal(map[string]any{"days": days})
	if err != nil {
		return err
	}
	return packed(w, r, "application/json", bytes.NewReader(b)) // of a thousand days, a megabyte
}

// newDay is the body of a request for a day.
type newDay struct {
	Title     string          `json:"title"`
	Originals []namedOriginal `json:"originals"`
	Settings  json.RawMessage `json:"settings,omitempty"`
}

type namedOriginal struct {
	SHA256 string `json:"sha256"`
	Name   string `json:"name,omitempty"`
}

const (
	maxFiles = 500 // of a day: a receiver that starts a file a minute for eight hours
	maxTitle = 200 // characters
)

func (s *Server) postDay(r *http.Request, w http.ResponseWriter) error {
	var n newDay
	if err := read(r, &n); err != nil {
		return err
	}
	settings, err := checkedSettings(n.Settings)
	if err != nil {
		return err
	}
	title := shortText(n.Title, maxTitle)
	files, sums, err := s.filesOf(r, n.Originals)
	if err != nil {
		return err
	}
	if title == "" {
		title = files[0].Name
	}
	if same, err := s.store.SameFiles(r.Context(), sums); err != nil {
		return err
	} else if same > 0 {
		return &problem{http.StatusConflict, fmt.Sprintf("day %d holds exactly these files", same), "Open that day; to compute it otherwise, change its settings."}
	}
	if err := s.roomForWork(r.Context(), who(r)); err != nil {
		return err
	}
	day, err := s.store.NewDay(r.Context(), title, who(r), files, settings)
	if err != nil {
		return err
	}
	s.work.wake()
	w.Header().Set("Location", fmt.Sprintf("/api/v1/days/%d", day.ID))
	return answer(w, http.StatusCreated, day)
}

// filesOf looks up the originals of a new day and gives them names of their own:
// rows are told apart by file name.
func (s *Server) filesOf(r *http.Request, list []namedOriginal) (files []store.File, sums []string, err error) {
	if len(list) == 0 || len(list) > maxFiles {
		return nil, nil, &problem{http.StatusUnprocessableEntity, fmt.Sprintf("a day takes 1 to %d files, got %d", maxFiles, len(list)), ""}
	}
	names, seen := map[string]bool{}, map[string]bool{}
	for _, n := range list {
		o, err := s.store.Original(r.Context(), n.SHA256)
		if err != nil {
			return nil, nil, &problem{http.StatusUnprocessableEntity, "no original with the hash " + plainName(n.SHA256), "Upload the file first."}
		}
		if seen[o.SHA256] {
			continue
		}
		seen[o.SHA256] = true
		name := o.Name
		if n.Name != "" {
			name = plainName(n.Name)
		}
		unique := name
		for k := 2; names[unique]; k++ {
			unique = fmt.Sprintf("%s (%d)", name, k)
		}
		names[unique] = true
		files, sums = append(files, store.File{Original: o, Name: unique}), append(sums, o.SHA256)
	}
	return files, sums, nil
}

// checkedSettings refuses settings that make no sense, before anything waits on
// them, and gives them in their plain form.
func checkedSettings(text json.RawMessage) (json.RawMessage, error) {
	settings, err := parseSettings(text)
	if err != nil {
		return nil, err
	}
	settings.Corrections = nil // a new day has none
	if _, err := settings.options(); err != nil {
		return nil, err
	}
	return json.Marshal(settings)
}

// shortText trims a text that a person typed.
func shortText(text string, most int) string {
	text = strings.Join(strings.Fields(strings.ToValidUTF8(text, "")), " ")
	if runes := []rune(text); len(runes) > most {
		text = string(runes[:most])
	}
	return text
}

func (s *Server) getDay(r *http.Request, w http.ResponseWriter) error {
	id, err := number(r, "day")
	if err != nil {
		return err
	}
	day, err := s.store.Day(r.Context(), id)
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, day)
}
