package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tracemap/internal/store"
	"tracemap/web"
)

// FuzzAPI throws requests at every route: whatever stands in path, query and
// body, the server neither panics nor calls it its own failure, refuses in JSON
// that tells why, and its headers hold.
func FuzzAPI(f *testing.F) {
	routes := web.Routes()
	for i, r := range routes {
		f.Add(uint(i), "", "", []byte(nil))
		if strings.HasPrefix(r, "P") {
			f.Add(uint(i), "", "name=a.nmea", []byte(`{"title":"x","originals":[{"sha256":"00"}],"settings":{"antenna_height_m":1.8},"based_on":1,"message":"m","name":"n","password":"p","role":"viewer"}`))
		}
	}
	handler := fuzzedServer(f)
	f.Fuzz(func(t *testing.T, route uint, names, query string, body []byte) {
		method, path, _ := strings.Cut(routes[route%uint(len(routes))], " ")
		target := url.URL{Scheme: "http", Host: "127.0.0.1", Path: filled(path, names), RawQuery: query}
		req := &http.Request{Method: method, URL: &target, Host: target.Host, Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1,
			Header: http.Header{"Authorization": {"Bearer " + token}}, Body: http.NoBody, RemoteAddr: "127.0.0.1:9"}
		if len(body) > 0 {
			req.Body, req.ContentLength = readCloser{bytes.NewReader(body)}, int64(len(body))
		}
		w := httptest.NewRecorder()
		handler.ServeHTTP(w, req.WithContext(t.Context()))
		res := w.Result()
		if res.StatusCode == http.StatusInternalServerError {
			t.Errorf("%s %s: %s", method, target.String(), w.Body.String())
		}
		if kind := res.Header.Get("Content-Type"); strings.Contains(kind, "json") && !json.Valid(w.Body.Bytes()) {
			t.Errorf("%s %s: status %d, %s that is none: %.300q", method, target.String(), res.StatusCode, kind, w.Body)
		}
		if res.Header.Get("X-Content-Type-Options") != "nosniff" || !strings.Contains(res.Header.Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s %s: headers %v", method, target.String(), res.Header)
		}
	})
}

type readCloser struct{ *bytes.Reader }

func (readCloser) Close() error { return nil }

// filled puts the names, parted by |, in place of a path's variables; 1 where
// there is none, which is the day and the revision that there are.
func filled(path, names string) string {
	parts := strings.Split(names, "|")
	for {
		before, rest, ok := strings.Cut(path, "{")
		if !ok {
			return path
		}
		_, after, _ := strings.Cut(rest, "}")
		name := "1"
		if len(parts) > 0 && parts[0] != "" {
			name = parts[0]
		}
		parts = parts[min(1, len(parts)):]
		// The answer must end: what was put in is not looked at again.
		path = before + strings.NewReplacer("{", "", "}", "").Replace(name) + after
	}
}

// fuzzedServer is one with a day that has a map.
func fuzzedServer(f *testing.F) http.Handler {
	dir := f.TempDir()
	if memory, err := os.MkdirTemp("/dev/shm", "tracemap-fuzz-"); err == nil { // no disk to wait for
		f.Cleanup(func() { os.RemoveAll(memory) })
		dir = memory
	}
	st, err := store.Open(f.Context(), dir, time.Now)
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { st.Close() })
	opt := web.DefaultOptions()
	opt.Token, opt.MaxUpload, opt.MaxUnpacked, opt.Quota = token, 1<<20, 8<<20, 64<<20
	opt.Log = slog.New(slog.DiscardHandler)
	s, err := web.New(st, opt)
	if err != nil {
		f.Fatal(err)
	}
	handler := s.Handler()
	ask := func(method, path string, body []byte) *httptest.ResponseRecorder {
		req := httptest.NewRequest(method, "http://127.0.0.1"+path, bytes.NewReader(body))
		req.Header.Set("Authorization", "Bearer "+token)
		w := httptest.NewRecorder()
		handler.ServeHTTP(w, req)
		if w.Code >= 300 {
			f.Fatalf("%s %s: %s", method, path, w.Body)
		}
		return w
	}
	var originals []map[string]string
	for _, name := range []string{"day.nmea", "readings.csv"} {
		b, err := os.ReadFile(filepath.Join("..", "testdata", "demo", name))
		if err != nil {
			f.Fatal(err)
		}
		var u uploaded
		if err := json.Unmarshal(ask("POST", "/api/v1/originals?name="+name, b).Body.Bytes(), &u); err != nil {
			f.Fatal(err)
		}
		originals = append(originals, map[string]string{"sha256": u.Original.SHA256})
	}
	order, err := json.Marshal(map[string]any{"title": "Demo", "originals": originals, "settings": map[string]any{"antenna_height_m": 1.8}})
	if err != nil {
		f.Fatal(err)
	}
	ask("POST", "/api/v1/days", order)
	ctx, stop := context.WithCancel(f.Context())
	ended := make(chan struct{})
	go func() { s.Run(ctx); close(ended) }()
	defer func() { stop(); <-ended }() // what the fuzzer orders is not computed
	for {
		var d day
		if err := json.Unmarshal(ask("GET", "/api/v1/days/1", nil).Body.Bytes(), &d); err != nil {
			f.Fatal(err)
		}
		switch d.Latest.State {
		case "done":
			return handler
		case "failed", "refused":
			f.Fatal(d.Latest.Message)
		}
		time.Sleep(20 * time.Millisecond)
	}
}
