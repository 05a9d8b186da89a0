package web_test

import "testing"

// A whole week is ticked with one choice and comes as one GeoPackage; a coordinate
// system that is none is refused in words on the page.
func TestWeekOnThePage(t *testing.T) {
	t.Parallel()
	o := newOffice(t, t.TempDir(), true, nil)
	o.demoDay()
	more := append(demo(t, "readings.csv"), "2026-05-12T09:40:00Z,W9,water,direct,peak,8192,1.0,20,50,60,0,0,100,,,\n"...)
	if code := o.ask("POST", "/api/v1/days", object{"title": "Quay", "originals": []object{
		{"sha256": o.upload("day.nmea", demo(t, "day.nmea")).Original.SHA256}, {"sha256": o.upload("more.csv", more).Original.SHA256},
	}}, nil); code != 201 {
		t.Fatalf("second day: status %d", code)
	}
	o.settled("/api/v1/days/1")
	o.settled("/api/v1/days/2")
	b := openTab(t, o, 390, 844, true)
	b.wait("the days", `document.querySelectorAll('.days input[type=checkbox]').length === 2`)
	b.js(`(() => { const s = document.querySelector('.together select'); s.value = '2026-05-11'; s.dispatchEvent(new Event('change')); })()`)
	b.wait("both days ticked", `document.querySelector('.together button').innerText.startsWith('2 days')`)
	b.checkAxeHere("home with days")
	b.shot("phone-week")
	b.js(`(window.saved = '', HTMLAnchorElement.prototype.click = function() { window.saved = this.download + ' ' + this.href.slice(0, 5); }, 0)`)
	b.click(".together button", "2 days")
	b.wait("the file", `window.saved.startsWith('tracemap-2-days.gpkg blob:')`)
	b.js(`(() => { const i = document.querySelector('.together input'); i.value = 'EPSG:1'; i.dispatchEvent(new Event('input')); document.querySelector('.together button').click(); })()`)
	b.wait("the refusal", `document.querySelector('#say').innerText.includes('EPSG:1')`)
}
