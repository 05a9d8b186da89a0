package web

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"tracemap/internal/store"
)

// The time that a body may take is not the time that its work may take: a request
// whose handler is slow is not given up.
func TestSlowWorkIsNotGivenUp(t *testing.T) {
	st, err := store.Open(t.Context(), t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	opt := DefaultOptions()
	opt.LongestPause = 100 * time.Millisecond
	s, err := New(st, opt)
	if err != nil {
		t.Fatal(err)
	}
	slow := func(_ *Server, r *http.Request, w http.ResponseWriter) error {
		if _, err := io.Copy(io.Discard, r.Body); err != nil {
			return err
		}
		select {
		case <-r.Context().Done():
			return r.Context().Err()
		case <-time.After(500 * time.Millisecond):
			w.WriteHeader(http.StatusNoContent)
			return nil
		}
	}
	for _, body := range []int64{-1, tinyBody, 0} {
		srv := httptest.NewServer(s.guarded(route{"POST", "/", toEnter, body, slow}))
		text := "some bytes"
		if body == 0 {
			text = ""
		}
		res, err := http.Post(srv.URL, "text/plain", strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != http.StatusNoContent {
			t.Errorf("body of at most %d bytes: status %d; the request was given up", body, res.StatusCode)
		}
		srv.Close()
	}
}
