package web

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"io"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"

	"tracemap/internal/store"
)

// policy lets the page load its own scripts, styles and pictures, pictures from
// where the office's base map is (see base), and nothing else; nothing may frame
// it, and a form goes nowhere but home.
func policy(pictures string) string {
	return "default-src 'none'; script-src 'self'; style-src 'self'; img-src " + strings.TrimSpace("'self' data: "+pictures) + "; connect-src 'self'; " +
		"font-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
}

// reportPolicy is for the report, which carries its style inside and no script.
const reportPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox allow-popups; frame-ancestors 'none'"

// cookieName is that of the start token's cookie.
const cookieName = "tracemap_start"

// Handler gives all that the server answers behind its guards: the host's name,
// cross-origin requests, headers.
func (s *Server) Handler() http.Handler {
	cross := http.NewCrossOriginProtection()
	policy := policy(s.base.origin)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if s.opt.Secure {
			h.Set("Strict-Transport-Security", "max-age=31536000") // RFC 6797
		}
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(self)")
		if !s.hostAllowed(r.Host) {
			s.refuse(w, r, &problem{http.StatusMisdirectedRequest, "this page is not served under that name", "Open the address that tracemap serve printed."})
			return
		}
		if err := cross.Check(r); err != nil {
			s.refuse(w, r, &problem{http.StatusForbidden, "the request comes from another site", ""})
			return
		}
		s.mux.ServeHTTP(w, r)
	})
}

// hostAllowed reports whether a request's Host names this page. Without it, any
// site could let its own name point here and would pass as the same origin.
func (s *Server) hostAllowed(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	name = strings.ToLower(strings.Trim(name, "[]"))
	return slices.Contains([]string{"localhost", "127.0.0.1", "::1"}, name) || slices.Contains(s.opt.Hosts, name)
}

// guarded is a route behind its checks: who asks, how much is sent, how long it
// may take.
func (s *Server) guarded(rt route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "no-store")
		p, err := s.identify(r, rt.needs)
		if err == nil {
			err = s.may(r, p, rt.needs)
		}
		if err != nil {
			s.refuse(w, r, err)
			return
		}
		r = r.WithContext(store.From(context.WithValue(r.Context(), personKey{}, p), s.addressOf(r)))
		control := http.NewResponseController(w)
		control.SetWriteDeadline(time.Now().Add(longestUpload)) // who never reads an answer does not hold it for ever
		most, long := rt.body, longestRequest
		if rt.body < 0 {
			most, long = s.opt.MaxUpload, longestUpload
		}
		r.Body = &patientBody{http.MaxBytesReader(w, r.Body, most), control, s.opt.LongestPause, time.Now().Add(long)}
		if err := rt.handle(s, r, w); err != nil {
			s.refuse(w, r, err)
		}
	})
}

// How long an upload, or an answer, may take as long as bytes come, and how long
// any other request's body.
const (
	longestUpload  = 4 * time.Hour
	longestRequest = time.Minute
)

// A patientBody waits for each piece of an upload, but not for ever.
type patientBody struct {
	body interface {
		Read([]byte) (int, error)
		Close() error
	}
	control *http.ResponseController
	pause   time.Duration // the longest between two pieces
	end     time.Time
}

func (b *patientBody) Read(p []byte) (int, error) {
	until := time.Now().Add(b.pause)
	if until.After(b.end) {
		until = b.end
	}
	b.control.SetReadDeadline(until) // not offered by test recorders, and no harm without
	n, err := b.body.Read(p)
	if err == io.EOF {
		// What is done with the body may take its time: a deadline left standing
		// would end the request.
		b.control.SetReadDeadline(time.Time{})
	}
	return n, err
}

func (b *patientBody) Close() error { return b.body.Close() }

// identify tells who asks. On this machine alone that is whoever holds the start
// token, as cookie (the page) or as bearer (programs); where there are accounts,
// whoever has a session.
func (s *Server) identify(r *http.Request, needs right) (person, error) {
	if needs == toEnter {
		return person{}, nil
	}
	if s.opt.Accounts {
		return s.identifySession(r)
	}
	given, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	if !ok {
		if c, err := r.Cookie(cookieName); err == nil {
			given = c.Value
		}
	}
	if !sameSecret(given, s.opt.Token) {
		return person{}, &problem{http.StatusUnauthorized, "not started from the printed address", "Open the address that tracemap serve printed, or send its token as Authorization: Bearer."}
	}
	return person{name: store.LocalUser, role: store.Administrator}, nil
}

func (s *Server) identifySession(r *http.Request) (person, error) {
	out := &problem{http.StatusUnauthorized, "not logged in", "Log in, then do it again."}
	c, err := r.Cookie(s.sessionCookie())
	if err != nil {
		return person{}, out
	}
	a, err := s.store.Session(r.Context(), c.Value)
	if errors.Is(err, store.ErrNotFound) {
		return person{}, out
	}
	return person{a.Name, a.Role, c.Value}, err
}

func sameSecret(a, b string) bool {
	x, y := sha256.Sum256([]byte(a)), sha256.Sum256([]byte(b))
	return b != "" && subtle.ConstantTimeCompare(x[:], y[:]) == 1
}

// start takes the token out of the printed address into a cookie, so that it is
// in no history and no referrer.
func (s *Server) start(w http.ResponseWriter, r *http.Request) {
	if s.opt.Accounts || !sameSecret(r.URL.Query().Get("token"), s.opt.Token) {
		s.refuse(w, r, &problem{http.StatusUnauthorized, "this start address is out of date", "Open the address that tracemap serve printed last."})
		return
	}
	http.SetCookie(w, &http.Cookie{Name: cookieName, Value: s.opt.Token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: s.opt.Secure, MaxAge: 30 * 24 * 3600})
	w.Header().Set("Cache-Control", "no-store")
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// tooLarge turns the limit's error into words.
func tooLarge(err error) error {
	var e *http.MaxBytesError
	if errors.As(err, &e) {
		return &problem{http.StatusRequestEntityTooLarge, "the file is larger than " + bytesText(e.Limit), "Cut the log into parts; parts of one log are put together again."}
	}
	return err
}
