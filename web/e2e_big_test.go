package web_test

import (
	"bytes"
	"flag"
	"strconv"
	"testing"

	"tracemap/internal/lab/simulate"
)

var fullDay = flag.Bool("full-day", false, "twelve hours at 10 Hz instead of at 1 Hz, for the figures in docs/serve.md")

// A day of 2,500 readings and twelve hours of epochs: how long the page takes
// from the list of days to the drawn map, how much it is sent for it, and how
// smoothly the map follows a hand. With -full-day the bounds are held; else only
// that all is there, for others use the machine too.
func TestBigDayOpens(t *testing.T) {
	s := simulate.CrewDay(7)
	s.Work.Duration = 12 * 3600
	s.GNSS.Satellites = false // sentences that say nothing about places
	if !*fullDay {
		s.GNSS.Rate, s.Work.Lead = 1, 0
	}
	d := simulate.Invent(s)
	var log, read bytes.Buffer
	if _, err := d.WriteNMEA(&log); err != nil {
		t.Fatal(err)
	}
	if err := d.WriteReadings(&read); err != nil {
		t.Fatal(err)
	}
	o := newOffice(t, t.TempDir(), true, nil)
	var originals []map[string]string
	for name, b := range map[string][]byte{"day.nmea": log.Bytes(), "readings.csv": read.Bytes()} {
		originals = append(originals, map[string]string{"sha256": o.upload(name, b).Original.SHA256})
	}
	if code := o.ask("POST", "/api/v1/days", map[string]any{"title": "Big", "originals": originals, "settings": map[string]any{"antenna_height_m": 2}}, nil); code != 201 {
		t.Fatalf("status %d", code)
	}
	if day := o.settled("/api/v1/days/1"); day.Latest.State != "done" {
		t.Fatalf("%+v", day)
	}
	b := openTab(t, o, 1360, 850, false)
	b.wait("the list", `document.querySelector('.days a') !== null`)
	b.js(`(() => { performance.clearResourceTimings(); window.begun = performance.now(); window.opened = null; document.querySelector('.days a').click();
		const look = () => { if (document.documentElement.dataset.drawn === '1/1' && (window.drawnAt = performance.now())) requestAnimationFrame(() => requestAnimationFrame(() => { window.opened = performance.now() - window.begun; })); else requestAnimationFrame(look); }; look(); })()`)
	b.wait("the drawn day", `window.opened !== null`)
	opened := b.number(`window.opened`)
	t.Logf("parts: %s", b.js(`JSON.stringify(performance.getEntriesByType('resource').map(e => [e.name.slice(-20), Math.round(e.startTime - window.begun), Math.round(e.responseEnd - window.begun)])) + ' drawn ' + Math.round(window.drawnAt - window.begun)`))
	sent := b.number(`performance.getEntriesByType('resource').reduce((n, e) => n + e.transferSize, 0)`)
	if n := b.number(`document.querySelector('select[aria-label="Line"]').options.length`); n < 50 {
		t.Errorf("%v lines are drawn", n)
	}
	b.shot("big")
	// Sixty small steps of the map, as a hand draws it, each in a frame of its own.
	b.js(`(() => { window.frames_ = null; const out = []; let n = 0, last = performance.now(); const box = document.querySelector('#map'), at = k => ({ clientX: 500 - 3 * k, clientY: 300 + k, bubbles: true, button: 0, buttons: 1, pointerId: 1, isPrimary: true, pointerType: 'mouse' });
		const tell = (kind, k, to) => { to.dispatchEvent(new PointerEvent('pointer' + kind, at(k))); to.dispatchEvent(new MouseEvent('mouse' + kind, at(k))); };
		tell('down', 0, box);
		const step = () => { const now = performance.now(); out.push(now - last); last = now; if (++n > 60) { tell('up', n, document); window.frames_ = out.slice(2).sort((a, b) => a - b); return; } tell('move', n, document); requestAnimationFrame(step); };
		requestAnimationFrame(step); })()`)
	b.wait("the steps", `window.frames_ !== null`)
	middle, slow := b.number(`window.frames_[Math.floor(window.frames_.length / 2)]`), b.number(`window.frames_[Math.floor(window.frames_.length * 0.95)]`)
	t.Logf("%d MB of logs; opened in %.0f ms with %.0f kB sent; a step of the map takes %.0f ms, 95 %% within %.0f ms", (log.Len()+read.Len())>>20, opened, sent/1e3, middle, slow)
	if sent > 3e6 {
		t.Errorf("%.0f kB were sent to draw one day", sent/1e3)
	}
	if *fullDay && (opened > 1500 || middle > 34) {
		t.Errorf("opened in %.0f ms, want 1500; a step of the map takes %.0f ms, want 34 (30 a second)", opened, middle)
	}
}

func (b *tab) number(script string) float64 {
	b.t.Helper()
	v, err := strconv.ParseFloat(b.js(script), 64)
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return v
}
