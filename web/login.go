package web

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"tracemap/internal/store"
	"tracemap/internal/survey"
	"tracemap/present"
)

// sessionCookie is the name of the cookie that holds a session's secret. The
// prefix has browsers take it over TLS only, for this host and no other (RFC
// 6265bis, section 4.1.3.2).
func (s *Server) sessionCookie() string {
	if s.opt.Secure {
		return "__Host-tracemap"
	}
	return "tracemap"
}

// getDoor says how one comes in, before anybody has.
func (s *Server) getDoor(r *http.Request, w http.ResponseWriter) error {
	return answer(w, http.StatusOK, map[string]any{"login": s.opt.Accounts, "tool": survey.Tool, "caution": present.Caution})
}

// entry is the body of a request to log in.
type entry struct {
	Name     string `json:"name"`
	Password string `json:"password"`
}

func (s *Server) postLogin(r *http.Request, w http.ResponseWriter) error {
	if !s.opt.Accounts {
		return &problem{http.StatusConflict, "this page has no accounts", "Open the full address that tracemap serve printed."}
	}
	var e entry
	if err := read(r, &e); err != nil {
		return err
	}
	e.Name = shortText(e.Name, 100)
	a, err := s.enter(r, e)
	if err != nil {
		return err
	}
	old := ""
	if c, err := r.Cookie(s.sessionCookie()); err == nil {
		old = c.Value
	}
	secret, err := s.store.NewSession(unhurried(r), a.Name, s.addressOf(r), old)
	if err != nil {
		return err
	}
	s.setCookie(w, secret, 7*24*3600)
	return s.answerSession(r, w, person{name: a.Name, role: a.Role})
}

func (s *Server) setCookie(w http.ResponseWriter, secret string, age int) {
	http.SetCookie(w, &http.Cookie{Name: s.sessionCookie(), Value: secret, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: s.opt.Secure, MaxAge: age})
}

// enter checks a name and a password, as often as the paces allow. A name that
// has a session from the same address is not slowed down by strangers who try it
// from elsewhere.
func (s *Server) enter(r *http.Request, e entry) (store.Account, error) {
	now, from := s.opt.Now(), s.addressOf(r)
	pair := from + " " + strings.ToLower(e.Name)
	if err := tooOften(s.slow.try(now, paceAddress, from)); err != nil {
		return store.Account{}, err
	}
	if err := tooOften(s.slow.try(now, pacePair, pair)); err != nil {
		return store.Account{}, err
	}
	known, err := s.store.KnownPlace(unhurried(r), e.Name, from)
	if err != nil {
		return store.Account{}, err
	}
	if !known {
		if err := tooOften(s.slow.try(now, paceName, strings.ToLower(e.Name))); err != nil {
			return store.Account{}, err
		}
	}
	a, err := s.store.CheckEntry(unhurried(r), e.Name, e.Password)
	if errors.Is(err, store.ErrNoEntry) {
		return a, errors.Join(&problem{http.StatusUnauthorized, "name or password is wrong", "Try again, or ask an administrator."}, s.noteRefused(r, e.Name))
	}
	if err == nil {
		s.slow.forgive(paceAddress, from)
		s.slow.forgive(pacePair, pair)
		if !known {
			s.slow.forgive(paceName, strings.ToLower(e.Name))
		}
	}
	return a, err
}

// noteRefused writes a refused login down. What was typed is kept only where it
// is somebody's name: people type passwords into the wrong field.
func (s *Server) noteRefused(r *http.Request, name string) error {
	a, err := s.store.Account(unhurried(r), name)
	if errors.Is(err, store.ErrNotFound) {
		a.Name, err = "an unknown name", nil
	}
	if err != nil {
		return err
	}
	return s.store.Note(unhurried(r), a.Name, "login refused", "", "")
}

// unhurried returns the request's context without its end: a try counts and is
// written down whether or not its sender waits for the answer.
func unhurried(r *http.Request) context.Context { return context.WithoutCancel(r.Context()) }

func tooOften(wait time.Duration) error {
	if wait <= 0 {
		return nil
	}
	return &problem{http.StatusTooManyRequests, "too many tries", fmt.Sprintf("Wait %.0f s, then try again.", math.Ceil(wait.Seconds()))}
}

func (s *Server) postLogout(r *http.Request, w http.ResponseWriter) error {
	if p := userOf(r); p.secret != "" {
		if err := s.store.EndSession(r.Context(), p.name, p.secret); err != nil {
			return err
		}
	}
	s.setCookie(w, "", -1)
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// addressOf returns the network address that a request comes from, as household
// does. Behind a proxy it is what the proxy
// says, and of a list the last: earlier ones are the asker's own words.
func (s *Server) addressOf(r *http.Request) string {
	text := r.RemoteAddr
	if s.opt.Proxied {
		list := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
		if last := strings.TrimSpace(list[len(list)-1]); last != "" {
			text = last
		}
	}
	return household(text)
}

// household returns what one household has of a network address, with or without
// a port: all of an IPv4 address, the first 64 bits of an IPv6 address.
func household(text string) string {
	if host, _, err := net.SplitHostPort(text); err == nil {
		text = host
	}
	a, err := netip.ParseAddr(text)
	if err != nil {
		return "unknown"
	}
	if a = a.Unmap().WithZone(""); a.Is4() {
		return a.String()
	}
	p, err := a.Prefix(64)
	if err != nil {
		return "unknown"
	}
	return p.String()
}
