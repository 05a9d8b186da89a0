package web_test

import (
	"io"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"
)

// An upload that breaks off half-way: the page says so, nothing of it is kept, and
// sending it again brings it in.
func TestCutUploadOnThePage(t *testing.T) {
	t.Parallel()
	o := newOffice(t, t.TempDir(), false, nil)
	var cut atomic.Bool
	handler := o.srv.Config.Handler
	o.srv.Config.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if cut.Load() && r.Method == "POST" && strings.HasSuffix(r.URL.Path, "/api/v1/originals") {
			io.CopyN(io.Discard, r.Body, 1000)
			c, _, err := w.(http.Hijacker).Hijack()
			if err == nil {
				c.Close()
			}
			return
		}
		handler.ServeHTTP(w, r)
	})
	b := openTab(t, o, 390, 844, true)
	cut.Store(true)
	b.do("choose files", chromedp.SetUploadFiles(chromedp.CSS("#choose"), demoPaths(t, "readings.csv")))
	b.wait("the break", `document.querySelector('.files .bad')?.innerText.toLowerCase().includes('upload interrupted')`)
	var list struct{ Originals []any }
	if o.ask("GET", "/api/v1/originals", nil, &list); len(list.Originals) != 0 {
		t.Error("something of the broken upload was kept")
	}
	b.shot("phone-cut")
	cut.Store(false)
	b.click(".files button", "Send again")
	b.wait("the file", `document.querySelector('.files .state')?.innerText.startsWith('saved')`)
	if got := b.js(`document.querySelector('.proposals').innerText`); !strings.Contains(got, "receiver’s log of this day is missing") {
		b.wait("what is missing", `document.querySelector('.proposals').innerText.includes('receiver’s log of this day is missing')`)
	}
}

// Sync marks can be entered on the page, and a wrong one is refused in words.
func TestSyncMarksOnThePage(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	b := openTab(t, o, 1360, 850, false)
	b.open("1", "1")
	b.click("[role=tab]", "Clock")
	b.set("Clock", "marks")
	b.set("Sync marks", "08:00=07:58")
	b.set("Why", "noted at the start")
	b.click("#panel button", "Save as a new revision")
	b.wait("the refusal", `document.querySelector('#say').innerText.includes('no RFC 3339 time')`)
	b.set("Sync marks", "2026-05-12T08:02:05Z=2026-05-12T08:00:30Z")
	b.click("#panel button", "Save as a new revision")
	b.drawn("1/2")
	b.wait("the marks' offset", `document.querySelector('#panel').innerText.includes('From sync marks')`)
}
