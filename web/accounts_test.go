package web_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tracemap/internal/store"
	"tracemap/web"
)

const password = "seven wet boots 4"

// A team is a server with accounts, over TLS, and a clock that tests turn.
type team struct {
	t     *testing.T
	store *store.Store
	srv   *httptest.Server
	ahead *atomic.Int64 // nanoseconds
}

// newTeam serves an empty folder.
func newTeam(t *testing.T, change func(*web.Options)) *team {
	t.Helper()
	ahead := &atomic.Int64{}
	now := func() time.Time { return start.Add(time.Duration(ahead.Load())) }
	st, err := store.Open(t.Context(), t.TempDir(), now)
	if err != nil {
		t.Fatal(err)
	}
	opt := web.DefaultOptions()
	opt.Accounts, opt.Secure, opt.Now = true, true, now
	if change != nil {
		change(&opt)
	}
	s, err := web.New(st, opt)
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewTLSServer(s.Handler())
	t.Cleanup(func() { srv.Close(); s.Close(); st.Close() })
	return &team{t, st, srv, ahead}
}

// A member is somebody with a browser.
type member struct {
	team *team
	http *http.Client
}

func (m *team) member() *member {
	jar, err := cookiejar.New(nil)
	if err != nil {
		m.t.Fatal(err)
	}
	c := *m.srv.Client()
	c.Jar = jar
	return &member{m, &c}
}

// account makes the account of a role, called by its role, unless it is there.
func (m *team) account(role store.Role) {
	m.t.Helper()
	if err := m.store.NewAccount(m.t.Context(), "cli", string(role), role, password); err != nil && !errors.Is(err, store.ErrExists) {
		m.t.Fatal(err)
	}
}

// as gives a browser in which a role's account is logged in.
func (m *team) as(role store.Role) *member {
	m.t.Helper()
	m.account(role)
	b := m.member()
	if code, text := b.login(string(role), password); code != 200 {
		m.t.Fatalf("%s logs in: %d %s", role, code, text)
	}
	return b
}

func (b *member) ask(method, path string, body any, headers ...string) (int, string) {
	b.team.t.Helper()
	var r io.Reader
	if body != nil {
		text, err := json.Marshal(body)
		if err != nil {
			b.team.t.Fatal(err)
		}
		r = bytes.NewReader(text)
	}
	req, err := http.NewRequest(method, b.team.srv.URL+path, r)
	if err != nil {
		b.team.t.Fatal(err)
	}
	for i := 0; i < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	res, err := b.http.Do(req)
	if err != nil {
		b.team.t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		b.team.t.Fatal(err)
	}
	return res.StatusCode, string(text)
}

func (b *member) login(name, password string, headers ...string) (int, string) {
	b.team.t.Helper()
	return b.ask("POST", "/api/v1/login", map[string]string{"name": name, "password": password}, headers...)
}

// docs/serve.md shows the same table: who may do what, with all days or own ones.
var granted = map[store.Role]string{
	store.Locator:       "see all, upload all, correct own, hand over own",
	store.Technician:    "see all, upload all, correct all, hand over all, compare all",
	store.Engineer:      "see all, compare all",
	store.Administrator: "see all, upload all, correct all, hand over all, compare all, administer all",
}

// Every role asks for every route: without an account 401, without the right 403,
// else neither.
func TestEveryRoleOnEveryRoute(t *testing.T) {
	m := newTeam(t, nil)
	sum := strings.Repeat("0", 64)
	fills := strings.NewReplacer("{day}", "1", "{revision}", "1", "{name}", "x", "{sha256}", sum)
	stranger := m.member()
	browsers := map[store.Role]*member{}
	for _, role := range store.Roles {
		browsers[role] = m.as(role)
	}
	for _, r := range web.RoutesWithRights() {
		path := fills.Replace(r.Path)
		if r.Path == "/api/v1/logout" {
			continue
		}
		code, _ := stranger.ask(r.Method, path, nil)
		if open := r.Needs == "enter"; open == (code == 401) {
			t.Errorf("%s %s without an account: status %d", r.Method, path, code)
		}
		for role, b := range browsers {
			code, text := b.ask(r.Method, path, nil)
			may := r.Needs == "enter" || strings.Contains(granted[role], r.Needs+" ")
			if code == 401 || may == (code == 403) {
				t.Errorf("%s %s as %s: status %d %s; may: %v", r.Method, path, role, code, text, may)
			}
		}
	}
}

// A locator corrects days of their own until they are handed over.
func TestOwnDays(t *testing.T) {
	m := newTeam(t, nil)
	ctx := t.Context()
	put := func(text, who string) store.Day {
		t.Helper()
		o, _, err := m.store.Put(ctx, strings.NewReader(text), "a", who, func(func() (io.ReadCloser, error), int64) (store.Look, error) { return store.Look{}, nil })
		if err != nil {
			t.Fatal(err)
		}
		d, err := m.store.NewDay(ctx, text, who, []store.File{{Original: o, Name: "a"}}, json.RawMessage(`{}`))
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	mine := put("mine", "locator")
	put("theirs", "technician")
	b := m.as(store.Locator)
	change := map[string]any{"base": 1, "settings": map[string]any{}, "why": "antenna", "reopen": true}
	if code, text := b.ask("POST", "/api/v1/days/2/revisions", change); code != 403 || !strings.Contains(text, "technician's") {
		t.Errorf("another's day: %d %s", code, text)
	}
	r, err := m.store.Take(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if err := m.store.Finish(ctx, r, store.Done, "", json.RawMessage(`{}`)); err != nil {
		t.Fatal(err)
	}
	if err := m.store.Lock(ctx, 1, 1, "locator", json.RawMessage(`{"notes":""}`)); err != nil {
		t.Fatal(err)
	}
	if code, text := b.ask("POST", "/api/v1/days/1/revisions", change); code != 403 || !strings.Contains(text, "handed over") {
		t.Errorf("own day, handed over: %d %s", code, text)
	}
	if code, text := m.as(store.Technician).ask("POST", "/api/v1/days/1/revisions", change); code != 201 {
		t.Errorf("the technician opens it again: %d %s", code, text)
	}
	if code, _ := b.ask("GET", "/api/v1/originals/"+mine.Files[0].SHA256, nil); code != 200 {
		t.Errorf("an original: %d", code)
	}
	if list, err := m.store.Audit(ctx, 1<<60, 1); err != nil || list[0].Did != "took away" || list[0].Who != "locator" || list[0].About != mine.Files[0].SHA256 {
		t.Errorf("who took an original: %+v %v", list, err)
	}
	change["base"] = 2
	if code, text := b.ask("POST", "/api/v1/days/1/revisions", change); code != 201 {
		t.Errorf("own day, opened again: %d %s", code, text)
	}
}

func TestSessionCookie(t *testing.T) {
	m := newTeam(t, nil)
	m.account(store.Engineer)
	b := m.member()
	req := strings.NewReader(`{"name":"Engineer","password":"` + password + `"}`)
	res, err := b.http.Post(m.srv.URL+"/api/v1/login", "application/json", req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	c := res.Cookies()
	if len(c) != 1 || c[0].Name != "__Host-tracemap" || !c[0].Secure || !c[0].HttpOnly || c[0].SameSite != http.SameSiteStrictMode || c[0].Path != "/" || c[0].Domain != "" {
		t.Fatalf("cookies: %v", c)
	}
	if res.Header.Get("Strict-Transport-Security") == "" {
		t.Error("no Strict-Transport-Security")
	}
	if code, text := b.ask("GET", "/api/v1/session", nil); code != 200 || !strings.Contains(text, `"user":"engineer"`) {
		t.Errorf("session: %d %s", code, text)
	}
	old := "__Host-tracemap=" + c[0].Value
	with := m.member()
	if code, _ := with.ask("GET", "/api/v1/session", nil, "Cookie", old); code != 200 {
		t.Errorf("the secret before another login: %d", code)
	}
	b.login("engineer", password) // rotates
	if code, _ := with.ask("GET", "/api/v1/session", nil, "Cookie", old); code != 401 {
		t.Errorf("the secret after another login: %d, want 401", code)
	}
	if code, _ := b.ask("POST", "/api/v1/logout", nil); code != 204 {
		t.Errorf("logout: %d", code)
	}
	if code, _ := b.ask("GET", "/api/v1/session", nil); code != 401 {
		t.Errorf("after logging out: %d", code)
	}
	for _, path := range []string{"/start?token=", "/start?token=" + token} {
		if code, _ := m.member().ask("GET", path, nil); code != 401 {
			t.Errorf("%s opens a page that has accounts: %d", path, code)
		}
	}
	if code, _ := m.member().ask("GET", "/api/v1/days", nil, "Authorization", "Bearer "+token); code != 401 {
		t.Error("a start token opens a page that has accounts")
	}
}

func TestTriesAreSlowedDown(t *testing.T) {
	m := newTeam(t, func(o *web.Options) { o.Proxied = true })
	m.account(store.Engineer)
	b := m.member()
	from := func(address string) []string { return []string{"X-Forwarded-For", "203.0.113.9, " + address} }
	home := m.member()
	if code, _ := home.login("engineer", password, from("198.51.100.1")...); code != 200 {
		t.Fatalf("the engineer at home: %d", code)
	}
	wrong := 0
	for i := range 8 {
		code, text := b.login("engineer", "guess number "+string(rune('a'+i)), from("192.0.2.1")...)
		if code == 401 {
			wrong++
		} else if code != 429 || !strings.Contains(text, "Wait ") {
			t.Errorf("try %d: %d %s", i, code, text)
		}
	}
	if wrong != 5 {
		t.Errorf("%d guesses from one address were looked at, want 5", wrong)
	}
	// The same stranger, with a new address for each guess.
	wrong = 0
	for i := range 10 {
		if code, _ := b.login("engineer", "guess guess guess", from("192.0.2.1"+string(rune('0'+i)))...); code == 401 {
			wrong++
		}
	}
	if wrong != 5 {
		t.Errorf("%d guesses of one name were looked at after the first five, want 5", wrong)
	}
	if code, _ := m.member().login("engineer", password, from("192.0.2.77")...); code != 429 {
		t.Errorf("the name from somewhere new: %d, want 429", code)
	}
	if code, _ := m.member().login("engineer", password, from("198.51.100.1")...); code != 200 {
		t.Errorf("the owner, where they have a session: %d; a stranger locked them out", code)
	}
	m.ahead.Add(int64(time.Minute))
	if code, _ := m.member().login("engineer", password, from("192.0.2.77")...); code != 200 {
		t.Error("a minute later one more try is let through")
	}
}

func TestAdministratorsWork(t *testing.T) {
	m := newTeam(t, nil)
	b := m.as(store.Administrator)
	if code, text := b.ask("POST", "/api/v1/accounts", map[string]string{"name": "Pia", "role": "locator", "password": "weak"}); code != 422 || !strings.Contains(text, "shorter than 12") {
		t.Errorf("weak password: %d %s", code, text)
	}
	if code, text := b.ask("POST", "/api/v1/accounts", map[string]string{"name": "Pia", "role": "locator", "password": password}); code != 201 {
		t.Fatalf("new account: %d %s", code, text)
	}
	pia := m.member()
	pia.login("Pia", password)
	if code, _ := pia.ask("PUT", "/api/v1/session/password", map[string]string{"old": "wrong", "new": "another word 55"}); code != 401 {
		t.Errorf("new password without the old one: %d", code)
	}
	if code, text := pia.ask("PUT", "/api/v1/session/password", map[string]string{"old": password, "new": "another word 55"}); code != 204 {
		t.Errorf("new password: %d %s", code, text)
	}
	if code, text := b.ask("PATCH", "/api/v1/accounts/pia", map[string]any{"role": "technician"}); code != 200 || !strings.Contains(text, "technician") {
		t.Errorf("other role: %d %s", code, text)
	}
	if code, _ := pia.ask("GET", "/api/v1/days", nil); code != 401 {
		t.Errorf("a session with the old role: %d, want it ended", code)
	}
	if code, _ := b.ask("PATCH", "/api/v1/accounts/administrator", map[string]any{"closed": true}); code != 409 {
		t.Errorf("closing the last administrator: %d", code)
	}
	if code, _ := b.ask("PATCH", "/api/v1/accounts/pia", map[string]any{"closed": true}); code != 200 {
		t.Errorf("closing: %d", code)
	}
	if code, _ := pia.login("Pia", "another word 55"); code != 401 {
		t.Errorf("a closed account logs in: %d", code)
	}
	if code, _ := pia.login("password typed as a name", "x"); code != 401 {
		t.Errorf("unknown name: %d", code)
	}
	_, text := b.ask("GET", "/api/v1/audit", nil)
	for _, want := range []string{`"did":"account made","about":"Pia","detail":"locator"`, `"did":"login refused"`, `"who":"an unknown name"`, `"detail":"closed"`, `"from":"127.0.0.1"`} {
		if !strings.Contains(text, want) {
			t.Errorf("the audit log has no %s: %s", want, text)
		}
	}
	if strings.Contains(text, "password typed") || strings.Contains(text, password) {
		t.Error("the audit log tells what was typed")
	}
}
