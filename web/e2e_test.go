package web_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// A tab is a real browser's tab that looks at a server under test.
type tab struct {
	t   *testing.T
	ctx context.Context
}

// openTab starts a browser of a phone's or a desktop's size at the start address.
func openTab(t *testing.T, o *office, width, height int64, phone bool) *tab {
	t.Helper()
	b := browser(t, width, height, phone)
	b.do("open", chromedp.Navigate(o.srv.URL+"/start?token="+token))
	b.wait("the home page", `document.querySelector('#choose') !== null`)
	return b
}

// browser starts a browser of a phone's or a desktop's size.
func browser(t *testing.T, width, height int64, phone bool, more ...chromedp.ExecAllocatorOption) *tab {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil && path == "" {
			path = p
		}
	}
	if path == "" {
		if os.Getenv("CI") == "true" {
			t.Fatal("no browser: install chromium")
		}
		t.Skip("no browser here: install chromium to test the page")
	}
	options := append(more, chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.Headless, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("no-first-run", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("disable-3d-apis", true), chromedp.UserDataDir(t.TempDir())) // no WebGL: the page draws on canvas
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(cancel)
	ctx, cancelTab := chromedp.NewContext(ctx)
	t.Cleanup(cancelTab)
	ctx, cancelTime := context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(cancelTime)
	b := &tab{t, ctx}
	var size []chromedp.EmulateViewportOption
	if phone {
		size = append(size, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait, chromedp.EmulateScale(2))
	}
	b.do("open", chromedp.EmulateViewport(width, height, size...))
	return b
}

func (b *tab) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatalf("%s: %v", what, err)
	}
}

// js runs a script in the page and gives its answer as text.
func (b *tab) js(script string) string {
	b.t.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`String(`+script+`)`))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return s
}

// leave goes to another address of the server, from the page's own, and returns
// when that is loaded.
func (b *tab) leave(path string) {
	b.t.Helper()
	b.do("open "+path, chromedp.Navigate(b.js(fmt.Sprintf(`new URL(%q, document.baseURI).href`, path))))
}

func (b *tab) wait(what, condition string) {
	b.t.Helper()
	for range 1200 { // a minute: other tests may keep the machine busy
		if b.js(condition) == "true" {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.shot("failed")
	b.t.Fatalf("waited in vain for %s; the page says: %.2000s", what, b.js(`document.body.innerText`))
}

// shot keeps a picture where TRACEMAP_SHOTS says, to be looked at.
func (b *tab) shot(name string) {
	dir := os.Getenv("TRACEMAP_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644)
	}
	if err != nil {
		b.t.Errorf("picture %s: %v", name, err)
	}
}

// click presses what has the given words on it.
func (b *tab) click(tag, words string) {
	b.t.Helper()
	find := fmt.Sprintf(`[...document.querySelectorAll(%q)].find(e => e.innerText.trim().startsWith(%q))`, tag, words)
	b.wait(words, find+` !== undefined`)
	b.js(find + `.click()`)
}

func demoPaths(t *testing.T, names ...string) []string {
	t.Helper()
	var out []string
	for _, name := range names {
		p, err := filepath.Abs(filepath.Join("..", "testdata", "demo", name))
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
	return out
}

// The locator's way at the end of a day, at a desk and on a phone: files in, a
// wrong one among them, the day worked out, what to revisit, the clock, files out.
func TestLocatorsWay(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name          string
		width, height int64
		phone         bool
	}{{"desktop", 1360, 850, false}, {"phone", 390, 844, true}} {
		t.Run(c.name, func(t *testing.T) {
			o := newOffice(t, t.TempDir(), true, nil)
			b := openTab(t, o, c.width, c.height, c.phone)
			b.do("choose files", chromedp.SetUploadFiles(chromedp.CSS("#choose"), demoPaths(t, "day.nmea", "readings.csv", "as-built.geojson")))
			b.wait("the proposed day", `document.querySelectorAll('.card').length === 1`)
			if got := b.js(`document.querySelector('.files .bad').innerText`); !strings.Contains(got, "not a log: JSON") {
				t.Errorf("the wrong file is told as %q", got)
			}
			b.shot(c.name + "-home")
			b.click("button", "Process this day")
			b.wait("the day in the list", `document.querySelector('.days .verdict') !== null`)
			b.click(".days a", "2026-05-12 readings")
			b.wait("the drawn day", `document.documentElement.dataset.drawn === '1/1'`)
			b.checkDay(c.name)
			b.checkAxe()
		})
	}
}

// checkDay walks through the panels of a drawn day.
func (b *tab) checkDay(name string) {
	t := b.t
	t.Helper()
	if got := b.js(`document.querySelector('#panel').innerText`); !strings.Contains(got, "Usable with care") || !strings.Contains(got, "lines were located") {
		t.Errorf("summary: %.300s", got)
	}
	if got := b.js(`document.querySelector('#caution').innerText`); !strings.Contains(got, "not a clearance to dig") {
		t.Errorf("caution: %q", got)
	}
	time.Sleep(300 * time.Millisecond)
	b.shot(name + "-day")
	before := b.js(`document.querySelector('.reads').innerText`)
	b.js(`document.querySelector('.plots').dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', shiftKey: true}))`)
	if after := b.js(`document.querySelector('.reads').innerText`); after == before || !strings.Contains(after, "station 5.0 m") {
		t.Errorf("after the arrow key: %q, before: %q", after, before)
	}
	b.click("[role=tab]", "Revisit")
	b.wait("places", `document.querySelectorAll('#panel .list button').length > 2`)
	b.js(`document.querySelector('#panel .list button').click()`)
	b.wait("the place on the map", `document.querySelector('.pin.on')?.innerText === '1'`)
	time.Sleep(200 * time.Millisecond)
	b.shot(name + "-revisit")
	b.click("[role=tab]", "Clock")
	b.wait("the evidence", `document.querySelector('.evidence canvas') !== null`)
	if got := b.js(`document.querySelector('#panel').innerText`); !strings.Contains(got, "ahead of UTC") {
		t.Errorf("clock: %.300s", got)
	}
	b.shot(name + "-clock")
	b.click("[role=tab]", "Readings")
	b.wait("rows", `document.querySelectorAll('#panel tbody tr').length >= 200`)
	b.js(`document.querySelectorAll('#panel tbody tr')[40].click()`)
	b.wait("the chosen row", `document.querySelector('#panel tr[aria-current=true]') !== null`)
	if got := b.js(`document.querySelector('.reads').innerText`); !strings.Contains(got, "station") {
		t.Errorf("a chosen row marks the profile: %q", got)
	}
	b.shot(name + "-readings")
	b.click("[role=tab]", "Files")
	b.wait("files", `document.querySelectorAll('#panel .links a').length > 10`)
	b.shot(name + "-files")
	b.click("[role=tab]", "Settings")
	b.wait("the settings", `document.querySelectorAll('#panel input').length > 8`)
	b.shot(name + "-settings")
	b.click("[role=tab]", "Revisions")
	b.wait("revisions", `document.querySelectorAll('#panel .revisions > li').length === 1`)
	if errs := b.js(`performance.getEntriesByType('resource').filter(e => !e.name.startsWith(location.origin)).length`); errs != "0" {
		t.Errorf("%s requests went elsewhere", errs)
	}
}

// Setting the clock by hand makes a new revision; another person's change from
// the old one is refused in words.
func TestClockByHand(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	b := openTab(t, o, 1360, 850, false)
	b.js(`location.hash = '#/day/1'`)
	b.wait("the drawn day", `document.documentElement.dataset.drawn === '1/1'`)
	set := func() {
		b.click("[role=tab]", "Clock")
		b.js(`(() => { const f = document.querySelector('#panel form'); f.querySelector('select').value = 'given'; const i = f.querySelectorAll('input'); i[0].value = '94.6'; i[1].value = 'seen on the display'; f.requestSubmit(); })()`)
	}
	set()
	b.wait("the second revision", `document.documentElement.dataset.drawn === '1/2'`)
	b.click("[role=tab]", "Clock")
	b.wait("the given offset", `document.querySelector('#panel').innerText.includes('You gave this offset')`)
	if code := o.ask("POST", "/api/v1/days/1/revisions", map[string]any{"base": 2, "settings": map[string]any{}, "why": "another person"}, nil); code != 201 {
		t.Fatalf("status %d", code)
	}
	set()
	b.wait("the refusal", `document.querySelector('.conflict').innerText.includes('another person')`)
}

// checkAxe runs axe-core over the page as it stands: nothing serious.
func (b *tab) checkAxe() {
	b.t.Helper()
	for _, name := range []string{"Summary", "Revisit", "Clock", "Readings", "Files", "Settings"} {
		b.click("[role=tab]", name)
		b.checkAxeHere(name)
	}
}

// checkAxeHere runs axe-core over what is shown: no serious finding.
func (b *tab) checkAxeHere(name string) {
	b.t.Helper()
	if b.js(`typeof axe`) == "undefined" {
		script, err := os.ReadFile(filepath.Join("testdata", "vendor", "axe.min.js"))
		if err != nil {
			b.t.Fatal(err)
		}
		b.do("load axe-core", chromedp.Evaluate[chromedp.Void](string(script)+";0"))
	}
	time.Sleep(150 * time.Millisecond)
	b.js(`(window.axeAnswer = null, axe.run(document, {resultTypes: ['violations']}).then(r => { window.axeAnswer = r.violations.filter(v => v.impact === 'serious' || v.impact === 'critical').map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 120) + ' ' + (n.any[0]?.message || '')).join(' | ')).join('\n') }), 0)`)
	b.wait("axe-core", `window.axeAnswer !== null`)
	if got := b.js(`window.axeAnswer`); got != "" {
		b.t.Errorf("%s: serious findings of axe-core:\n%s", name, got)
	}
}
