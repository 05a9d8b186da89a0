package web_test

import (
	"encoding/csv"
	"strings"
	"testing"
)

// Markup in the day's title, in files' names, in names of lines and in notes is
// shown as text everywhere: no element is made of it, so that not even the content
// security policy is needed.
func TestNoMarkupOfNamesOnThePage(t *testing.T) {
	const markup = `"><img class=foreign src=x onerror="document.title='ran'"><svg class=foreign onload="document.title='ran'"></svg>`
	rows, err := csv.NewReader(strings.NewReader(string(demo(t, "readings.csv")))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		row[1] += markup
		row[len(row)-1] = markup
	}
	var b strings.Builder
	if err := csv.NewWriter(&b).WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	o := newOffice(t, t.TempDir(), true, nil)
	var originals []map[string]string
	for name, text := range map[string][]byte{"%3Cimg%20class=foreign%20src=x%3E.nmea": demo(t, "day.nmea"), "%3Cimg%20class=foreign%20src=x%3E.csv": []byte(b.String())} {
		originals = append(originals, map[string]string{"sha256": o.upload(name, text).Original.SHA256})
	}
	if code := o.ask("POST", "/api/v1/days", map[string]any{"title": "Day " + markup, "originals": originals, "settings": map[string]any{"antenna_height_m": 1.8}}, nil); code != 201 {
		t.Fatalf("new day: status %d", code)
	}
	o.settled("/api/v1/days/1")
	tab := openTab(t, o, 1360, 850, false)
	still := func(where string) {
		t.Helper()
		if made, title := tab.js(`document.querySelectorAll('.foreign').length`), tab.js(`document.title`); made != "0" || title == "ran" {
			t.Errorf("%s: %s elements made of names, title %q", where, made, title)
		}
		if tab.js(`document.body.innerText.includes('class=foreign')`) != "true" {
			t.Logf("%s shows no name", where)
		}
	}
	tab.wait("the list of days", `document.body.innerText.includes('class=foreign')`)
	still("home")
	tab.js(`location.hash = '#/day/1'`)
	tab.wait("the drawn day", `document.documentElement.dataset.drawn === '1/1'`)
	still("day")
	for _, name := range []string{"Summary", "Revisit", "Clock", "Readings", "Files", "Settings", "Revisions"} {
		tab.click("[role=tab]", name)
		tab.wait("the panel "+name, `document.querySelector('#panel').innerText.length > 20`)
		still(name)
	}
}
