package web

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
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

// cookieName is that of the start address's cookie.
const cookieName = "tracemap_start"

// startPath returns the folder of addresses below which the page of this machine's
// user lies, and the value of its cookie. A cookie reaches the servers of every
// port of a machine, also those of other users: it says nothing of the token, is
// sent only below a folder that nobody else knows, and counts only there.
func startPath(token string) (path, cookie string) {
	sum := func(use string) string {
		h := hmac.New(sha256.New, []byte(token))
		h.Write([]byte(use))
		return hex.EncodeToString(h.Sum(nil))
	}
	return "/" + sum("path")[:32], sum("cookie")
}

// Handler gives all that the server answers behind its guards: the host's name,
// cross-origin requests, headers.
func (s *Server) Handler() http.Handler {
	cross := http.NewCrossOriginProtection()
	policy := policy(s.base.origin)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// Before anything is known of who asks, for every path.
		control := http.NewResponseController(w)
		control.SetReadDeadline(time.Now().Add(s.opt.LongestPause))
		control.SetWriteDeadline(time.Now().Add(s.opt.LongestPause + s.opt.LongestWork))
		w = &patientWriter{w, control, s.opt.LongestPause}
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
			s.refuse(w, r, &problem{http.StatusMisdirectedRequest, "this page is not served under that name", "Open the full address that tracemap serve printed."})
			return
		}
		if err := cross.Check(r); err != nil {
			s.refuse(w, r, &problem{http.StatusForbidden, "the request comes from another site", ""})
			return
		}
		s.mux.ServeHTTP(w, s.belowStart(r))
	})
}

// belowStartKey is the context key that marks a request below the start path.
type belowStartKey struct{}

// belowStart takes the start path off a request's address, and marks the request.
func (s *Server) belowStart(r *http.Request) *http.Request {
	path, _ := startPath(s.opt.Token)
	rest, below := strings.CutPrefix(r.URL.Path, path+"/")
	if s.opt.Accounts || !below {
		return r
	}
	r = r.WithContext(context.WithValue(r.Context(), belowStartKey{}, true))
	u := *r.URL
	u.Path = "/" + rest
	if u.RawPath != "" { // with escaped slashes
		u.RawPath = strings.TrimPrefix(u.RawPath, path)
	}
	r.URL = &u
	return r
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
			err = may(r, p, rt.needs, func(id int64) (store.Day, error) { return s.store.Day(r.Context(), id) })
		}
		if err != nil {
			s.refuse(w, r, err)
			return
		}
		if rt.needs != toEnter {
			welcome(r)
		}
		r = r.WithContext(s.still(store.From(context.WithValue(r.Context(), personKey{}, p), s.addressOf(r)), r, p, rt.needs))
		if rt.body == 0 && r.ContentLength != 0 {
			s.refuse(w, r, &problem{http.StatusBadRequest, "this request takes no body", "Leave it out; openapi.json describes each request."})
			return
		}
		control := http.NewResponseController(w)
		control.SetWriteDeadline(time.Now().Add(longestUpload)) // until the answer begins: see patientWriter
		if r.ContentLength == 0 {
			control.SetReadDeadline(time.Time{}) // it would end the request while that is worked on
		}
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

// still returns a context in which whatever the request changes in the store asks
// again, within that change, whether its sender may do so: between the first
// question and the last byte of a body an account may have been closed, or a day
// handed over. On this machine alone nobody's rights change.
func (s *Server) still(ctx context.Context, r *http.Request, p person, needs right) context.Context {
	if !s.opt.Accounts || needs == toEnter {
		return ctx
	}
	return store.WithRight(ctx, func(now *store.Present) error {
		a, err := now.Session(p.secret)
		if errors.Is(err, store.ErrNotFound) {
			return notLoggedIn
		}
		if err != nil {
			return err
		}
		return may(r, person{a.Name, a.Role, p.secret}, needs, now.Day)
	})
}

var notLoggedIn = &problem{http.StatusUnauthorized, "not logged in", "Log in, then do it again."}

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

// identify returns who asks. On this machine alone that is whoever came by the
// start address (the page, by its cookie) or holds the token (programs, as
// bearer); where there are accounts, whoever has a session.
func (s *Server) identify(r *http.Request, needs right) (person, error) {
	if needs == toEnter {
		return person{}, nil
	}
	if s.opt.Accounts {
		return s.identifySession(r)
	}
	given, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	want := s.opt.Token
	if below := r.Context().Value(belowStartKey{}) != nil; !ok && below {
		_, want = startPath(s.opt.Token)
		if c, err := r.Cookie(cookieName); err == nil {
			given = c.Value
		}
	}
	if !sameSecret(given, want) {
		return person{}, &problem{http.StatusUnauthorized, "not started from the printed address", "Open the address that tracemap serve printed, or send its token as Authorization: Bearer."}
	}
	return person{name: store.LocalUser, role: store.Administrator}, nil
}

func (s *Server) identifySession(r *http.Request) (person, error) {
	c, err := r.Cookie(s.sessionCookie())
	if err != nil {
		return person{}, notLoggedIn
	}
	a, err := s.store.Session(r.Context(), c.Value)
	if errors.Is(err, store.ErrNotFound) {
		return person{}, notLoggedIn
	}
	return person{a.Name, a.Role, c.Value}, err
}

func sameSecret(a, b string) bool {
	x, y := sha256.Sum256([]byte(a)), sha256.Sum256([]byte(b))
	return b != "" && subtle.ConstantTimeCompare(x[:], y[:]) == 1
}

// start trades the token of the printed address for a cookie, so that the token
// is in no history and no referrer.
func (s *Server) start(w http.ResponseWriter, r *http.Request) {
	if s.opt.Accounts || !sameSecret(r.URL.Query().Get("token"), s.opt.Token) {
		s.refuse(w, r, &problem{http.StatusUnauthorized, "this start address is out of date", "Open the address that tracemap serve printed last."})
		return
	}
	path, cookie := startPath(s.opt.Token)
	http.SetCookie(w, &http.Cookie{Name: cookieName, Value: cookie, Path: path + "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: s.opt.Secure, MaxAge: 30 * 24 * 3600})
	w.Header().Set("Cache-Control", "no-store")
	http.Redirect(w, r, path+"/", http.StatusSeeOther)
}

// tooLarge turns the limit's error into words.
func tooLarge(err error) error {
	var e *http.MaxBytesError
	if errors.As(err, &e) {
		return &problem{http.StatusRequestEntityTooLarge, "the file is larger than " + bytesText(e.Limit), "Cut the log into parts; parts of one log are put together again."}
	}
	return err
}
