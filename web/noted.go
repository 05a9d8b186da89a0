package web

import (
	"net/http"
	"strings"
	"sync"
	"time"
)

// noteTaken writes down who took a file away, where more than one person could.
// Who only asks whether it has changed, or for its size, takes nothing: tag is the
// file's ETag, "" where it has none, and changed when it last did.
func (s *Server) noteTaken(r *http.Request, about, name, tag string, changed time.Time) error {
	if !s.opt.Accounts || r.Method == http.MethodHead || hasAlready(r, tag, changed) {
		return nil
	}
	return s.store.Note(r.Context(), who(r), "took away", about, name)
}

// hasAlready reports whether the asker holds what is asked for (RFC 9110, 13.2.2:
// If-None-Match before If-Modified-Since).
func hasAlready(r *http.Request, tag string, changed time.Time) bool {
	if match := r.Header.Get("If-None-Match"); match != "" {
		return tag != "" && strings.Contains(match, tag)
	}
	since, err := http.ParseTime(r.Header.Get("If-Modified-Since"))
	return err == nil && !changed.IsZero() && !changed.Truncate(time.Second).After(since)
}

// looked remembers who has looked at what, so that the audit log gets one entry
// for it in an hour and not one for each redrawing.
type looked struct {
	mu   sync.Mutex
	last map[string]time.Time
}

// How long a look counts as the same one, and how many are remembered.
const (
	oneLook    = time.Hour
	mostLooked = 10_000
)

// again reports whether a look is the same as one of the last hour.
func (l *looked) again(now time.Time, key string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if at, ok := l.last[key]; ok && now.Sub(at) < oneLook {
		return true
	}
	if l.last == nil || len(l.last) >= mostLooked {
		l.last = map[string]time.Time{} // a few entries more than needed, never one less
	}
	l.last[key] = now
	return false
}

// noteSeen writes down who looked at what holds all of a result, where more than
// one person could.
func (s *Server) noteSeen(r *http.Request, about, what string) error {
	if !s.opt.Accounts || r.Method == http.MethodHead || s.looked.again(s.opt.Now(), who(r)+"\x00"+about+"\x00"+what) {
		return nil
	}
	return s.store.Note(r.Context(), who(r), "looked at", about, what)
}
