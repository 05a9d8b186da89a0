package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"

	"tracemap/internal/parallel"
	"tracemap/internal/store"
)

// A problem is an answer that refuses: RFC 9457's title and detail.
type problem struct {
	status int
	title  string // what is wrong
	detail string // what to do
}

func (p *problem) Error() string { return p.title }

// A problemWith says more to a program than words: the member more of the answer.
type problemWith struct {
	*problem
	more any
}

func (p *problemWith) Unwrap() error { return p.problem }

// refuse answers with an error. What the person cannot know or change is logged
// and told without its inside.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, err error) {
	var p *problem
	var defect *parallel.Fault
	switch {
	case errors.As(err, &p):
	case errors.As(err, &defect):
		s.logFault(err)
		p = &problem{http.StatusInternalServerError, defect.Error(), "Nothing that was acknowledged is lost. Please report it, with the server's own messages."}
	case errors.Is(err, store.ErrNotFound):
		p = &problem{http.StatusNotFound, "not found", ""}
	case errors.Is(err, store.ErrStale):
		p = &problem{http.StatusConflict, "somebody has made a newer revision meanwhile", "Look at the newest revision, then make your change again."}
	case errors.Is(err, store.ErrLocked):
		p = &problem{http.StatusConflict, "this revision was handed over and does not change", "Make a new revision to change the day."}
	case s.store.Full(err):
		p = &problem{http.StatusInsufficientStorage, "the disk is full", "Make room on the disk of the data folder, then do it again; what was acknowledged is kept."}
	case errors.Is(err, context.Canceled):
		p = &problem{499, "the request was given up", ""}
	default:
		s.opt.Log.Error("request failed", "method", r.Method, "path", r.URL.Path, "error", err)
		p = &problem{http.StatusInternalServerError, "this went wrong on the server", "Nothing that was acknowledged is lost. Try again; the server's own messages say more."}
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.Header().Del("Content-Encoding")
	w.WriteHeader(p.status)
	body := map[string]any{"status": p.status, "title": p.title, "detail": p.detail}
	var with *problemWith
	if errors.As(err, &with) {
		body["more"] = with.more
	}
	json.NewEncoder(w).Encode(body) // the reader may be gone
}

// answer writes a value as JSON.
func answer(w http.ResponseWriter, status int, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, err = w.Write(append(b, '\n'))
	return ignoreGone(err)
}

// ignoreGone drops errors of writing to somebody who has left: nothing can be
// told to them.
func ignoreGone(error) error { return nil }

// read decodes a request's JSON and refuses what it does not know, and all that
// is not exactly one value.
func read(r *http.Request, v any) error {
	dec := json.NewDecoder(r.Body)
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		if t := tooLarge(err); t != err {
			return t
		}
		return &problem{http.StatusBadRequest, fmt.Sprintf("the request's JSON cannot be read: %v", err), "openapi.json describes it."}
	}
	if _, err := dec.Token(); err != io.EOF {
		return &problem{http.StatusBadRequest, "something follows the request's JSON", "Send one value; openapi.json describes it."}
	}
	return nil
}

// number reads a number out of a path.
func number(r *http.Request, name string) (int64, error) {
	n, err := strconv.ParseInt(r.PathValue(name), 10, 64)
	if err != nil || n < 1 {
		return 0, store.ErrNotFound
	}
	return n, nil
}

// revisionOf reads which revision a path means.
func revisionOf(r *http.Request) (day int64, revision int, err error) {
	if day, err = number(r, "day"); err != nil {
		return 0, 0, err
	}
	n, err := number(r, "revision")
	return day, int(n), err
}

// bytesText writes a size for people.
func bytesText(n int64) string {
	switch {
	case n < 1000:
		return fmt.Sprintf("%d bytes", n)
	case n < 1e6:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	case n < 1e9:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%.1f GB", float64(n)/1e9)
}
