package web_test

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
)

// Choosing a place shows its line and station in the map, the profile and the list
// alike, from the list and from its pin, and pointing elsewhere does not part them.
func TestPlaceIsOneEverywhere(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	for _, c := range screens {
		t.Run(c.name, func(t *testing.T) {
			b := openTab(t, o, c.width, c.height, c.phone)
			b.open("1", "1")
			b.do("take in the places", chromedp.Evaluate[chromedp.Void](`window.places = null; fetch('api/v1/days/1/revisions/1/view').then(r => r.json()).then(v => { window.places = v.revisit.map(r => ({ ...r, name: v.lines.find(l => l.id === r.line)?.parts.find(p => p.number === r.part)?.name })); })`))
			b.wait("the places", `window.places !== null`)
			b.click("[role=tab]", "Revisit")
			b.wait("the list", `document.querySelectorAll('#panel .list button').length === window.places.length`)
			for i := range 5 {
				here := fmt.Sprintf(`(() => { const r = window.places[%d], which = document.querySelector('.bar select'), reads = document.querySelector('.reads').innerText;
					return [document.querySelector('.pin.on')?.innerText === '%d', which.selectedOptions[0].text.endsWith(' ' + r.name), reads.startsWith('Place %d: station ' + r.s.toFixed(1) + ' m'), document.querySelectorAll('#panel .list [aria-current=true]').length === 1 && document.querySelectorAll('#panel .list button')[%d].getAttribute('aria-current') === 'true'].join(' ') + ' ' + which.selectedOptions[0].text + ' | ' + reads; })()`, i, i+1, i+1, i)
				how := "list"
				if i%2 == 0 {
					b.js(fmt.Sprintf(`document.querySelectorAll('#panel .list button')[%d].click()`, i))
				} else {
					how = "pin"
					b.js(fmt.Sprintf(`(() => { document.querySelector('.tools button:last-child').click(); [...document.querySelectorAll('.pin')].find(p => p.innerText === '%d').click(); })()`, i+1))
				}
				if got := b.js(here); len(got) < 19 || got[:19] != "true true true true" {
					t.Errorf("place %d by its %s (map, profile, station, list): %s", i+1, how, got)
				}
			}
			// A mouse that goes over other lines on its way does not change the line.
			before := b.js(`document.querySelector('.bar select').value`)
			b.js(`(() => { const m = document.querySelector('#map'), r = m.getBoundingClientRect(); for (let x = 5; x < r.width; x += 15) for (let y = 5; y < r.height; y += 15) m.querySelector('canvas:last-child').dispatchEvent(new MouseEvent('mousemove', {clientX: r.left + x, clientY: r.top + y, bubbles: true})); })()`)
			b.do("two frames", chromedp.Evaluate[chromedp.Void](`window.later = false; requestAnimationFrame(() => requestAnimationFrame(() => { window.later = true; }))`))
			b.wait("two frames", `window.later`)
			if after := b.js(`document.querySelector('.bar select').value`); after != before {
				t.Error("pointing at another line takes the chosen place's away from the profile")
			}
			b.shot(c.name + "-place")
			b.click("[role=tab]", "Clock")
			b.wait("the picture", `document.querySelector('.evidence canvas') !== null`)
			b.shot(c.name + "-clock-picture")
		})
	}
}

// The clock's picture spans the chosen offset and marks it on the curve, also
// where the search's points lie far apart or all to one side of it.
func TestClockPictureHoldsTheChosenOffset(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	b := openTab(t, o, 1280, 800, false)
	b.do("read the clock's script", chromedp.Evaluate[chromedp.Void](`window.bad = null; import('./clock.js').then(({ evidenceAt, evidenceRange }) => {
		const bad = [], k = { offset: 22.6, half: 1.2, runner_up: null, evidence: [[-40, -300], [22, -3], [22.5, -1], [60, -80]] };
		const [from, to] = evidenceRange(k), v = evidenceAt(k.evidence, k.offset);
		if (!(from < 22 && to > 23.8)) bad.push('the range is ' + from + ' to ' + to);
		if (Math.abs(v - (-1 - 79 * 0.1 / 37.5)) > 1e-9) bad.push('the value at the chosen offset is ' + v);
		if (evidenceAt(k.evidence, 61) !== null) bad.push('there is a value beyond the search');
		const [, high] = evidenceRange({ ...k, runner_up: 100 });
		if (high < 100) bad.push('the second best, near, is not in the picture');
		window.bad = bad.join('; ');
	}, e => { window.bad = String(e); })`))
	b.wait("the answers", `window.bad !== null`)
	if got := b.js(`window.bad`); got != "" {
		t.Error(got)
	}
	b.open("1", "1")
	b.click("[role=tab]", "Clock")
	b.wait("the picture", `!!document.querySelector('.evidence').dataset.chosen`)
	if got := b.js(`(() => { const [x, y] = document.querySelector('.evidence').dataset.chosen.split(' ').map(Number); return x > 0.1 && x < 0.9 && y >= 0 && y <= 1; })()`); got != "true" {
		t.Errorf("the chosen offset is not inside the picture: %s", b.js(`document.querySelector('.evidence').dataset.chosen`))
	}
}
