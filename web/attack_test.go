package web_test

import (
	"bufio"
	"context"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tracemap/internal/store"
	"tracemap/web"
)

// held sends a request's head and the first byte of its body, runs meanwhile, and
// sends the rest: the time in which rights may change.
func (b *member) held(method, path, body string, meanwhile func()) int {
	t := b.team.t
	t.Helper()
	r, w := io.Pipe()
	req, err := http.NewRequest(method, b.team.srv.URL+path, r)
	if err != nil {
		t.Fatal(err)
	}
	req.ContentLength = int64(len(body))
	status := make(chan int, 1)
	go func() {
		res, err := b.http.Do(req)
		if err != nil {
			t.Error(err)
			status <- 0
			return
		}
		res.Body.Close()
		status <- res.StatusCode
	}()
	if _, err := io.WriteString(w, body[:1]); err != nil {
		t.Fatal(err)
	}
	time.Sleep(100 * time.Millisecond) // the head has been judged
	meanwhile()
	if _, err := io.WriteString(w, body[1:]); err != nil {
		t.Fatal(err)
	}
	w.Close()
	return <-status
}

// A right is asked again when the body is there, within the change that it
// allows: an account closed meanwhile makes no other, keeps no upload, and a day
// handed over meanwhile is not opened again.
func TestRightsAreAskedAgain(t *testing.T) {
	m := newTeam(t, nil)
	ctx := t.Context()
	closeIt := func(name string) {
		closed := true
		if err := m.store.ChangeAccount(ctx, "test", name, store.AccountChange{Closed: &closed}, ""); err != nil {
			t.Error(err)
		}
	}
	m.account(store.Engineer)
	second := m.as(store.Administrator)
	if err := m.store.NewAccount(ctx, "test", "other administrator", store.Administrator, password); err != nil {
		t.Fatal(err)
	}
	body, err := json.Marshal(map[string]string{"name": "back door", "role": "administrator", "password": password})
	if err != nil {
		t.Fatal(err)
	}
	if code := second.held("POST", "/api/v1/accounts", string(body), func() { closeIt("administrator") }); code != 401 {
		t.Errorf("a closed administrator makes another: %d, want 401", code)
	}
	if _, err := m.store.Account(ctx, "back door"); err == nil {
		t.Error("the account was made")
	}
	technician := m.as(store.Technician)
	if code := technician.held("POST", "/api/v1/originals?name=a.nmea", "a log of a closed account", func() { closeIt("technician") }); code != 401 {
		t.Errorf("an upload of a closed account: %d, want 401", code)
	}
	if list, err := m.store.Loose(ctx); err != nil || len(list) > 0 {
		t.Errorf("kept: %v, %v", list, err)
	}

	locator := m.as(store.Locator)
	o, _, err := m.store.Put(ctx, strings.NewReader("log"), "a.nmea", "locator", func(func() (io.ReadCloser, error), int64) (store.Look, error) { return store.Look{Kind: "nmea"}, nil })
	if err != nil {
		t.Fatal(err)
	}
	day, err := m.store.NewDay(ctx, "Mill Lane", "locator", []store.File{{Original: o, Name: "a.nmea"}}, json.RawMessage(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	rev, err := m.store.Take(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if err := m.store.Finish(ctx, rev, store.Done, "", json.RawMessage(`{}`)); err != nil {
		t.Fatal(err)
	}
	handOver := func() {
		if err := m.store.Lock(ctx, day.ID, 1, "technician", json.RawMessage(`{"name":"T"}`)); err != nil {
			t.Error(err)
		}
	}
	code := locator.held("POST", fmt.Sprintf("/api/v1/days/%d/revisions", day.ID), `{"base":1,"reopen":true,"why":"once more"}`, handOver)
	if list, err := m.store.Revisions(ctx, day.ID); code != 403 || err != nil || len(list) != 1 {
		t.Errorf("a locator opens a day that was handed over meanwhile: %d, want 403; %d revisions, %v", code, len(list), err)
	}
}

// Whoever tries a password is written down even when they hang up before the
// answer, and learns the same from it as anybody.
func TestTriesThatHangUpAreWrittenDown(t *testing.T) {
	m := newTeam(t, func(o *web.Options) { o.Secure = false })
	m.account(store.Engineer)
	for _, c := range []struct {
		password string
		want     int
	}{{"not the password", 401}, {password, 200}} {
		conn, err := tls.Dial("tcp", m.srv.Listener.Addr().String(), &tls.Config{InsecureSkipVerify: true})
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		body, err := json.Marshal(map[string]string{"name": "engineer", "password": c.password})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(conn, "POST /api/v1/login HTTP/1.1\r\nHost: localhost\r\nContent-Length: %d\r\n\r\n%s", len(body), body)
		if err := conn.CloseWrite(); err != nil { // as if it had gone away
			t.Fatal(err)
		}
		if err := conn.NetConn().(*net.TCPConn).CloseWrite(); err != nil {
			t.Fatal(err)
		}
		res, err := http.ReadResponse(bufio.NewReader(conn), nil)
		if err != nil || res.StatusCode != c.want {
			t.Errorf("%s: %v, %v; want %d", c.password, res, err, c.want)
		}
	}
	list, err := m.store.Audit(t.Context(), 1<<62, 10)
	if err != nil {
		t.Fatal(err)
	}
	var did []string
	for _, e := range list {
		if e.Who == "engineer" {
			did = append(did, e.Did)
		}
	}
	if got := strings.Join(did, ", "); !strings.HasPrefix(got, "logged in, login refused") {
		t.Errorf("the audit log has %q; want both tries", got)
	}
}

// serving runs a server on a listener of its own, as tracemap serve does.
func serving(t *testing.T, change func(*web.Options)) string {
	t.Helper()
	st, err := store.Open(t.Context(), t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	opt := web.DefaultOptions()
	opt.Token = token
	change(&opt)
	s, err := web.New(st, opt)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		s.Close()
		st.Close()
	})
	return l.Addr().String()
}

// A connection on which nothing is sent or taken any more ends by itself, whatever
// it asked for.
func TestIdleConnectionsEnd(t *testing.T) {
	address := serving(t, func(o *web.Options) { o.LongestPause = 200 * time.Millisecond })
	for what, head := range map[string]string{
		"a body that never comes, without a login": "POST /api/v1/originals?name=a HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000\r\n\r\n",
		"the same for a page that is not there":    "POST /nowhere HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000\r\n\r\n",
		"the same under another site's name":       "POST / HTTP/1.1\r\nHost: evil.example\r\nContent-Length: 1000\r\n\r\n",
		"a login that never comes":                 "POST /api/v1/login HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\n",
		"a body where none belongs":                "GET /api/v1/days HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer " + token + "\r\nContent-Length: 1000\r\n\r\n",
	} {
		c, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		if _, err := io.WriteString(c, head); err != nil {
			t.Fatal(err)
		}
		if err := c.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(io.Discard, c); err != nil { // nil: the server has closed it
			t.Errorf("%s: still open: %v", what, err)
		}
	}
}

// One address has so many connections and no more, and when all places are taken
// whoever has shown no session gives way: the page stays reachable, and whoever is
// at work keeps their connection.
func TestConnectionsAreBounded(t *testing.T) {
	address := serving(t, func(o *web.Options) { o.MaxConns, o.MaxConnsEach = 8, 1000 })
	work, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer work.Close()
	answers := bufio.NewReader(work)
	ask := func() {
		t.Helper()
		fmt.Fprintf(work, "GET /api/v1/days HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer %s\r\n\r\n", token)
		res, err := http.ReadResponse(answers, nil)
		if err != nil || res.StatusCode != 200 {
			t.Fatalf("at work: %v, %v", res, err)
		}
		if _, err := io.Copy(io.Discard, res.Body); err != nil {
			t.Fatal(err)
		}
	}
	ask()
	for range 30 { // silent ones
		c, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
	}
	ask()
	res, err := http.Get("http://" + address + "/")
	if err != nil || res.StatusCode != 200 {
		t.Errorf("the page, beside 30 silent connections of 8: %v, %v", res, err)
	} else {
		res.Body.Close()
	}

	address = serving(t, func(o *web.Options) { o.MaxConnsEach = 3 })
	for range 3 {
		c, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
	}
	time.Sleep(50 * time.Millisecond) // accepted
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := c.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	if n, err := c.Read(make([]byte, 1)); n != 0 || err == nil || strings.Contains(err.Error(), "timeout") {
		t.Errorf("a fourth connection of one address: %d, %v; want it closed", n, err)
	}
}

// The start address's cookie reaches the servers of every port of this machine,
// also those of other users: it is worth nothing but below the page's own folder
// of addresses, and says nothing of the token.
func TestStartCookieIsWorthNothingElsewhere(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, nil)
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Get(o.srv.URL + "/start?token=" + token)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	place := res.Header.Get("Location")
	cookies := res.Cookies()
	if len(cookies) != 1 || cookies[0].Path != place || len(place) < 30 || strings.Contains(cookies[0].Value+place, token) {
		t.Fatalf("cookies %v, place %q: want one cookie for a folder of its own that does not hold the token", cookies, place)
	}
	for path, want := range map[string]int{place + "api/v1/days": 200, "/api/v1/days": 401} {
		req, err := http.NewRequest("GET", o.srv.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.AddCookie(cookies[0])
		res, err := client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != want {
			t.Errorf("%s with the cookie: %d, want %d", path, res.StatusCode, want)
		}
	}
	req, err := http.NewRequest("GET", o.srv.URL+"/api/v1/days", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+cookies[0].Value)
	if res, err = client.Do(req); err != nil || res.StatusCode != 401 {
		t.Errorf("the cookie's value as bearer: %v, %v; want 401", res, err)
	} else {
		res.Body.Close()
	}
}

// Who looks at a whole result is written down, once an hour for each; who only
// asks whether it has changed has taken nothing.
func TestLooksAreWrittenDownOnce(t *testing.T) {
	m := newTeam(t, nil)
	ctx := t.Context()
	o, _, err := m.store.Put(ctx, strings.NewReader("log"), "a.nmea", "technician", func(func() (io.ReadCloser, error), int64) (store.Look, error) { return store.Look{Kind: "nmea"}, nil })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.store.NewDay(ctx, "Mill Lane", "technician", []store.File{{Original: o, Name: "a.nmea"}}, json.RawMessage(`{}`)); err != nil {
		t.Fatal(err)
	}
	if err := m.store.Result(1, 1, func(dir string) error { return os.WriteFile(filepath.Join(dir, "view.json"), []byte("{}"), 0o600) }); err != nil {
		t.Fatal(err)
	}
	b := m.as(store.Engineer)
	entries := func(did string) (n int) {
		list, err := m.store.Audit(ctx, 1<<62, 500)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range list {
			if e.Did == did && e.Who == "engineer" {
				n++
			}
		}
		return n
	}
	for range 3 {
		if code, text := b.ask("GET", "/api/v1/days/1/revisions/1/view", nil); code != 200 {
			t.Fatalf("view: %d %s", code, text)
		}
	}
	if n := entries("looked at"); n != 1 {
		t.Errorf("%d entries of three looks, want 1", n)
	}
	m.ahead.Add(int64(2 * time.Hour))
	b.ask("GET", "/api/v1/days/1/revisions/1/view", nil)
	if n := entries("looked at"); n != 2 {
		t.Errorf("%d entries two hours later, want 2", n)
	}
	path := "/api/v1/originals/" + o.SHA256
	b.ask("HEAD", path, nil)
	if code, _ := b.ask("GET", path, nil, "If-None-Match", `"`+o.SHA256+`"`); code != 304 {
		t.Errorf("an unchanged file: %d, want 304", code)
	}
	if n := entries("took away"); n != 0 {
		t.Errorf("%d entries although nothing was taken", n)
	}
	b.ask("GET", path, nil)
	if n := entries("took away"); n != 1 {
		t.Errorf("%d entries of a file taken, want 1", n)
	}
}
