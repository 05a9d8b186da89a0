package web_test

import (
	"context"
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tracemap/internal/store"
	"tracemap/web"
)

// The server goes away while a day is worked out and a page looks on, and comes
// back: the page says so, waits, and shows the map, without anybody reloading it.
// (Killing the process itself: TestServeKilledWhileComputing.)
func TestPageOutlivesTheServer(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	serve := func(l net.Listener, working bool) (end func()) {
		t.Helper()
		st, err := store.Open(t.Context(), dir, time.Now)
		if err != nil {
			t.Fatal(err)
		}
		opt := web.DefaultOptions()
		opt.Token = token
		s, err := web.New(st, opt)
		if err != nil {
			t.Fatal(err)
		}
		srv := &http.Server{Handler: s.Handler()}
		ended := make(chan struct{}, 2)
		ctx, stop := context.WithCancel(t.Context())
		go func() { srv.Serve(l); ended <- struct{}{} }()
		go func() {
			if working {
				s.Run(ctx)
			}
			ended <- struct{}{}
		}()
		return func() {
			stop()
			srv.Close()
			<-ended
			<-ended
			s.Close()
			st.Close()
		}
	}
	end := serve(l, false)
	b := browser(t, 1200, 800, false)
	b.do("open", chromedp.Navigate("http://"+address+"/start?token="+token))
	b.wait("the home page", `document.querySelector('#choose') !== null`)
	b.do("choose files", chromedp.SetUploadFiles(chromedp.CSS("#choose"), demoPaths(t, "day.nmea", "readings.csv")))
	b.wait("the proposed day", `document.querySelectorAll('.card').length === 1`)
	b.click("button", "Process this day")
	b.wait("the day in the list", `document.querySelector('.days a') !== null`)
	b.js(`document.querySelector('.days a').click()`)
	b.wait("its turn", `document.querySelector('.notice')?.innerText.includes('Queued')`)
	end()
	b.wait("the absence told", `document.querySelector('#say').innerText.includes('cannot be reached')`)
	if l, err = net.Listen("tcp", address); err != nil {
		t.Fatal(err)
	}
	end = serve(l, true)
	defer end()
	b.drawn("1/1")
}

// A full disk is told on the page, with a way to send the file again.
func TestFullDiskOnThePage(t *testing.T) {
	t.Parallel()
	o := newOffice(t, t.TempDir(), false, func(opt *web.Options) { opt.Reserve = 1 << 60 })
	b := openTab(t, o, 390, 844, true)
	b.do("choose files", chromedp.SetUploadFiles(chromedp.CSS("#choose"), demoPaths(t, "readings.csv")))
	b.wait("the refusal", `document.querySelector('.files .bad')?.innerText.includes('disk is full')`)
	if got := b.js(`[...document.querySelectorAll('.files button')].some(e => e.innerText === 'Send again')`); got != "true" {
		t.Error("nothing is offered to send the file again")
	}
	b.shot("disk-full")
}
