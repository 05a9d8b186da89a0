package web_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// sizes are those of a desk's screen and a phone's.
var sizes = []struct {
	name          string
	width, height int64
	phone         bool
}{{"desktop", 1360, 850, false}, {"phone", 390, 844, true}}

// open shows a day and waits until a revision of it is drawn.
func (b *tab) open(day, revision string) {
	b.t.Helper()
	b.js(`location.hash = '#/day/` + day + `'`)
	b.drawn(day + "/" + revision)
}

func (b *tab) drawn(what string) {
	b.t.Helper()
	b.wait("revision "+what, `document.documentElement?.dataset.drawn === '`+what+`'`)
}

// set types into the field behind a label, as a person would.
func (b *tab) set(label, value string) {
	b.t.Helper()
	find := `[...document.querySelectorAll('#panel label, #panel [aria-label]')].find(e => (e.getAttribute('aria-label') || e.firstChild.textContent).startsWith('` + label + `'))`
	b.wait("the field "+label, find+` !== undefined`)
	b.js(`(() => { const l = ` + find + `, f = l.matches('input, select, textarea') ? l : l.querySelector('input, select, textarea'); f.value = '` + value + `'; f.dispatchEvent(new Event('input', {bubbles: true})); f.dispatchEvent(new Event('change', {bubbles: true})); })()`)
}

// tap clicks everywhere on the map, a finger's width apart, until a condition holds.
func (b *tab) tapMap(what, condition string) {
	b.t.Helper()
	if b.js(`(() => { const m = document.querySelector('#map'), r = m.getBoundingClientRect(); for (let y = 110; y < r.height - 60; y += 5) for (let x = 70; x < r.width - 10; x += 5) {
		const at = {clientX: r.left + x, clientY: r.top + y, bubbles: true}, e = document.elementFromPoint(at.clientX, at.clientY);
		if (e?.tagName !== 'CANVAS') continue;
		for (const k of ['mousemove', 'mousedown', 'mouseup', 'click']) e.dispatchEvent(new MouseEvent(k, at));
		if (`+condition+`) return true; } return false; })()`) != "true" {
		b.shot("failed")
		b.t.Fatalf("tapping the map: no %s", what)
	}
}

func (b *tab) panel() string { return b.js(`document.querySelector('#panel').innerText`) }

// The technician's way: readings set aside from the profile and the map, a line
// named and cut, worked out as a revision, looked at old under new, taken back.
func TestTechniciansWay(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	for i, c := range sizes {
		t.Run(c.name, func(t *testing.T) {
			b := openTab(t, o, c.width, c.height, c.phone)
			at := 1 + 2*i // the revision that this turn starts from
			rev := func(n int) string { return string(rune('0' + n)) }
			b.open("1", rev(at))
			b.colours()
			b.click("[role=tab]", "Correct")
			b.set("From station", "5")
			b.set("To station", "14")
			b.click("#panel button", "Select this range")
			b.wait("readings chosen", `parseInt(document.querySelector('#panel .count').innerText) >= 2`)
			n := b.js(`parseInt(document.querySelector('#panel .count').innerText)`)
			b.click("#choosing", "Choose")
			b.tapMap("reading chosen", `parseInt(document.querySelector('#panel .count').innerText) > `+n)
			if !c.phone {
				b.dragProfile()
				b.wait("readings chosen by dragging", `parseInt(document.querySelector('#panel .count').innerText) > `+n+` + 2`)
			}
			time.Sleep(150 * time.Millisecond)
			b.shot(c.name + "-correct")
			b.click("#panel button", "Clear the selection")
			b.set("From station", "5")
			b.set("To station", "14")
			b.click("#panel button", "Select this range")
			b.click("#panel button", "Set aside")
			b.js(`(() => { const s = document.querySelector('.bar select'); s.value = [...s.options].find(o => o.text === 'E E1')?.value ?? [...s.options].find(o => o.text.startsWith('E E1')).value; s.dispatchEvent(new Event('change')); })()`)
			b.set("New name", "Feeder "+c.name)
			b.click("#panel button", "Rename")
			b.wait("two changes gathered", `document.querySelectorAll('#panel .gathered li').length === 2`)
			b.otherChanges()
			b.checkAxeHere("Correct")
			b.shot(c.name + "-gathered")
			b.do("load the page again", chromedp.Reload())
			b.drawn("1/" + rev(at))
			b.wait("changes kept over a reload", `document.querySelectorAll('#panel .gathered li').length === 2`)
			b.set("Why", "beside a manhole")
			b.click("#panel button", "Save as a new revision")
			b.drawn("1/" + rev(at+1))
			b.click("[role=tab]", "Revisions")
			b.wait("what changed", `document.querySelector('.revisions').innerText.includes('set aside: readings.csv row')`)
			b.click("#panel button", "Compare")
			b.wait("what moved", `document.querySelector('#panel .difference') !== null`)
			if got := b.panel(); !strings.Contains(got, "readings set aside by hand") || !strings.Contains(got, "Feeder "+c.name) || !strings.Contains(got, "Unchanged: ") {
				t.Errorf("difference: %s", got)
			}
			b.checkAxeHere("Revisions")
			time.Sleep(150 * time.Millisecond)
			b.shot(c.name + "-difference")
			b.js(`document.querySelectorAll('#panel .made input').forEach(i => i.click())`)
			b.set("Why", "it was another manhole")
			b.click("#panel button", "Undo the ticked changes")
			b.drawn("1/" + rev(at+2))
			if got := b.panel(); !strings.Contains(got, "undone: set aside: readings.csv row") {
				b.wait("what was undone", `document.querySelector('.revisions').innerText.includes('undone: set aside: readings.csv row')`)
			}
			if names := o.lineNames(at + 2); strings.Contains(names, "Feeder") || names != o.lineNames(at) {
				t.Errorf("lines after taking back: %s", names)
			}
		})
	}
}

// colours switches what colours the lines; the key says what each colour means, and
// is there on a phone, too.
func (b *tab) colours() {
	b.t.Helper()
	for by, want := range map[string]string{"fix": "RTK fixed", "width": "0.25 m", "depth": "1.00 m", "flags": "remarks"} {
		b.js(`(() => { const s = document.querySelector('.tools select'); s.value = '` + by + `'; s.dispatchEvent(new Event('change')); })()`)
		b.wait("the key of "+by, `document.querySelector('.key').innerText.includes('`+want+`') && document.querySelector('.key').checkVisibility()`)
		if by == "fix" {
			b.shot("key-" + b.js(`innerWidth`))
		}
	}
	b.js(`(() => { const s = document.querySelector('.tools select'); s.value = 'utility'; s.dispatchEvent(new Event('change')); })()`)
}

// otherChanges gathers a join, a cut and utilities, looks at their words, and drops
// them again.
func (b *tab) otherChanges() {
	b.t.Helper()
	b.js(`document.querySelector('.plots').dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', shiftKey: true}))`)
	b.wait("the mark's station on the button", `document.querySelector('#cut').innerText.includes('5.0 m')`)
	b.click("#panel #cut", "Cut at the mark")
	b.set("Line to join", "W3")
	b.click("#panel button", "Join into E1")
	b.js(`[...document.querySelectorAll('#panel .ask select')].at(-1).value = 'lighting'`)
	b.js(`[...document.querySelectorAll('#panel .ask button')].at(-1).click()`)
	b.wait("five changes", `document.querySelectorAll('#panel .gathered li').length === 5`)
	got := b.js(`document.querySelector('#panel .gathered').innerText`)
	for _, want := range []string{"line E1-2: readings.csv row", "line E1: readings.csv row", "utility lighting: readings.csv row"} {
		if !strings.Contains(got, want) {
			b.t.Errorf("gathered %s; want %q", got, want)
		}
	}
	for range 3 {
		b.js(`[...document.querySelectorAll('#panel .gathered button')].at(-1).click()`)
	}
}

// dragProfile drags over the left half of the depth's picture.
func (b *tab) dragProfile() {
	b.t.Helper()
	b.js(`(() => { const o = document.querySelector('.plots .u-over'), r = o.getBoundingClientRect();
		const fire = (k, f, on) => on.dispatchEvent(new MouseEvent(k, {clientX: r.left + f * r.width, clientY: r.top + 20, bubbles: true, button: 0, buttons: 1, movementX: 5}));
		o.dispatchEvent(new PointerEvent('pointerdown', {bubbles: true}));
		fire('mousemove', 0.1, o); fire('mousedown', 0.1, o); fire('mousemove', 0.3, o); fire('mousemove', 0.6, o); fire('mouseup', 0.6, document); })()`)
}

func (o *office) lineNames(revision int) string {
	o.t.Helper()
	var names []string
	seen := map[string]bool{}
	for _, r := range o.readings(revision) {
		if !seen[r.Line] {
			seen[r.Line] = true
			names = append(names, r.Line)
		}
	}
	return strings.Join(slices.Sorted(slices.Values(names)), " ")
}

// Two people correct one day in two browsers: the second is told who was first and
// with what, looks at it, and makes the own change on top; nothing is lost.
func TestTwoPeopleOnThePage(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	b := openTab(t, o, 1360, 850, false)
	b.open("1", "1")
	b.click("[role=tab]", "Settings")
	b.set("Antenna above ground", "1.65")
	b.set("Located by", "K. Moe")
	b.set("Why", "measured again")
	// The other one meanwhile.
	o.revise(object{"base": 1, "why": "beside a manhole", "settings": object{"antenna_height_m": 1.7, "max_gap_m": 20}, "corrections": []object{aside(10, 12)}})
	b.click("#panel button", "Save as a new revision")
	b.wait("the conflict", `!document.querySelector('.conflict').hidden`)
	got := b.js(`document.querySelector('.conflict').innerText`)
	for _, want := range []string{"Someone else changed this day first", "local user", "beside a manhole", "set aside: readings.csv rows 10–12", "1.8 → 1.7", "measured again", "Both of you changed: Antenna above ground"} {
		if !strings.Contains(got, want) {
			t.Errorf("the conflict does not say %q: %s", want, got)
		}
	}
	b.checkAxeHere("conflict")
	b.shot("desktop-conflict")
	b.click(".conflict button", "Look at theirs first")
	b.drawn("1/2")
	b.wait("the change is kept", `document.querySelector('.conflict').innerText.includes('measured again')`)
	b.click(".conflict button", "Apply mine as well")
	b.drawn("1/3")
	s := o.revisions()
	var v struct {
		Latest struct {
			Settings struct {
				AntennaHeight float64 `json:"antenna_height_m"`
				MaxGap        float64 `json:"max_gap_m"`
				Operator      string
				Corrections   []struct{ ID string }
			}
		}
	}
	o.ask("GET", "/api/v1/days/1", nil, &v)
	if x := v.Latest.Settings; x.AntennaHeight != 1.65 || x.MaxGap != 20 || x.Operator != "K. Moe" || len(x.Corrections) != 1 || len(s) != 3 {
		t.Errorf("on top of theirs: %+v", x)
	}
	if b.js(`document.querySelector('.conflict').hidden`) != "true" {
		t.Error("the conflict stays although it is settled")
	}
}

// The hand-over: a check that contradicts the settings is refused in words, then
// the day is locked, its sheet prints, and only a new revision opens it again.
func TestHandOverOnThePage(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	for i, c := range sizes {
		t.Run(c.name, func(t *testing.T) {
			b := openTab(t, o, c.width, c.height, c.phone)
			at := string(rune('1' + i))
			b.open("1", at)
			b.click("[role=tab]", "Hand over")
			b.wait("the checks", `document.querySelectorAll('#panel fieldset').length === 6`)
			b.checkAxeHere("Hand over")
			b.js(`document.querySelectorAll('#panel input[value=yes]').forEach(e => e.click())`)
			b.set("Handed over by", "Kim Moe")
			b.click("#panel button", "Hand over revision")
			b.wait("the contradiction", `document.querySelector('#panel [role=alert]').innerText.includes('frame')`)
			b.shot(c.name + "-handover-refused")
			b.js(`document.querySelector('#panel input[name=check-frame][value=no]').click()`)
			b.set("The reference frame", "asked the service, no answer yet")
			b.click("#panel button", "Hand over revision")
			b.wait("the lock", `document.querySelector('#crumb .locked') !== null`)
			b.wait("who handed over", `document.querySelector('#panel').innerText.includes('Handed over by Kim Moe')`)
			b.checkAxeHere("handed over")
			b.shot(c.name + "-handed-over")
			if i > 0 {
				return
			}
			b.click("[role=tab]", "Settings")
			b.set("Job", "7-114")
			b.set("Why", "job number came in")
			b.click("#panel button", "Save as a new revision")
			time.Sleep(300 * time.Millisecond) // the browser asks for the tick
			if got := len(o.revisions()); got != 1 {
				t.Errorf("%d revisions; a day handed over is opened only on purpose", got)
			}
			b.js(`document.querySelector('#panel input[type=checkbox][required]').click()`)
			b.click("#panel button", "Save as a new revision")
			b.drawn("1/2")
			b.leave("api/v1/days/1/revisions/1/sheet")
			b.wait("the sheet", `document.querySelector('.sign') !== null`)
			b.shot("sheet")
		})
	}
}
