package web_test

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// screens are a desk's and a phone's, upright and on its side.
var screens = []struct {
	name          string
	width, height int64
	phone         bool
}{{"desktop", 1280, 800, false}, {"upright", 390, 844, true}, {"aside", 844, 390, true}}

// The width is seen: a switch draws widths ten times as wide and the legend says
// so, the widest place of each line carries its figure, at Revisit the lines are
// coloured by width, and the profile begins with the line laid straight in its band.
func TestWidthIsSeen(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	for _, c := range screens {
		t.Run(c.name, func(t *testing.T) {
			b := openTab(t, o, c.width, c.height, c.phone)
			b.open("1", "1")
			b.do("take in the view", chromedp.Evaluate[chromedp.Void](`window.bad = null; (async () => {
				const view = await (await fetch('api/v1/days/1/revisions/1/view')).json(), w = await import('./widths.js'), { metresFrom } = await import('./geo.js'), bad = [];
				const shown = [...document.querySelectorAll('.tag.bound')].map(e => e.textContent);
				for (const line of view.lines) {
					const half = Math.max(...line.parts.flatMap(p => p.vertices.map(v => v.half)));
					const words = '±' + half.toFixed(half < 1 ? 2 : 1) + ' m', at = shown.indexOf(words);
					if (at < 0) bad.push(line.id + ' has no figure ' + words); else shown.splice(at, 1);
					// Each trapezium of the band ten times as wide reaches ten half-widths to either side of its vertices.
					for (const part of line.parts) for (const ring of w.band(part, view.origin, w.times).filter(r => r.length === 4)) {
						const [a, b, c, d] = ring, mid = (p, q) => [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
						for (const [p, q] of [[a, d], [b, c]]) {
							const m = mid(p, q), v = part.vertices.reduce((best, v) => Math.hypot(...metresFrom(m, v.at)) < Math.hypot(...metresFrom(m, best.at)) ? v : best), wide = Math.hypot(...metresFrom(p, q));
							if (Math.hypot(...metresFrom(m, v.at)) > 0.002 || Math.abs(wide - 20 * v.half) > 0.002) bad.push(part.name + ' is ' + wide + ' wide where its half-width is ' + v.half);
						}
					}
				}
				window.bad = bad.slice(0, 5).join('; ');
			})().catch(e => { window.bad = String(e); })`))
			b.wait("the figures", `window.bad !== null`)
			if got := b.js(`window.bad`); got != "" {
				t.Error(got)
			}
			// A band ten times as wide covers more of the map than lines, readings and corridors do
			// (1.2 to 1.6 times as much at these sizes).
			const painted = `(() => { let n = 0; for (const c of document.querySelectorAll('.leaflet-overlay-pane canvas')) { const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; for (let i = 3; i < d.length; i += 4) if (d[i] > 60) n++; } return n; })()`
			before := b.number(painted)
			b.js(`document.querySelector('#wide').click()`)
			b.wait("the legend of widths", `document.querySelector('.key').checkVisibility() && document.querySelector('.key').innerText.includes('Widths are drawn 10 times as wide.')`)
			b.do("a frame", chromedp.Evaluate[chromedp.Void](`window.painted = false; requestAnimationFrame(() => requestAnimationFrame(() => { window.painted = true; }))`))
			b.wait("the painted frame", `window.painted`)
			if after := b.number(painted); after < 1.1*before {
				t.Errorf("%v pixels are painted with widths ten times as wide, %v without", after, before)
			}
			b.shot(c.name + "-wide")
			b.click("[role=tab]", "Revisit")
			b.wait("the lines coloured by width", `document.querySelector('.tools select').value === 'width' && document.querySelector('.key').innerText.includes('0.25 m')`)
			b.shot(c.name + "-wide-revisit")
			b.click("[role=tab]", "Summary")
			b.wait("the lines coloured by utility", `document.querySelector('.tools select').value === 'utility'`)
			if n := b.number(`document.querySelectorAll('.plots .uplot').length`); n != 3 {
				t.Errorf("the profile has %v pictures; want across, depth and current", n)
			}
			b.js(`document.documentElement.dataset.look = 'dark'`)
			b.shot(c.name + "-wide-dark")
		})
	}
}
