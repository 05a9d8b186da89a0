package web_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// townRecord is the demo's record in a town's, of which a line lies a kilometre away.
func townRecord(t *testing.T) string {
	t.Helper()
	text := string(demo(t, "as-built.geojson"))
	const far = `{"type":"Feature","properties":{"id":"FAR9","utility":"water"},"geometry":{"type":"LineString","coordinates":[[-17.7400,47.5100],[-17.7395,47.5101]]}},`
	town := strings.Replace(text, `"features":[`, `"features":[`+far, 1)
	if town == text {
		t.Fatal("the record does not begin as expected")
	}
	path := filepath.Join(t.TempDir(), "as-built.geojson")
	if err := os.WriteFile(path, []byte(town), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// The engineer's way: a record that is none, a record, pairs and their deviations,
// the report, and decisions by what differs.
func TestEngineersWay(t *testing.T) {
	t.Parallel()
	o := demoOffice(t)
	photo := filepath.Join(t.TempDir(), "photo.jpg")
	if err := os.WriteFile(photo, []byte("\xff\xd8\xff\xe0\x00\x10JFIF"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range sizes {
		t.Run(c.name, func(t *testing.T) {
			b := openTab(t, o, c.width, c.height, c.phone)
			b.open("1", "1")
			b.click("[role=tab]", "Compare")
			b.wait("the form", `document.querySelector('#record') !== null`)
			b.do("give a picture", chromedp.SetUploadFiles(chromedp.CSS("#record"), []string{photo}))
			b.click("#panel button", "Compare with revision")
			b.wait("the refusal", `document.querySelector('#panel [role=alert]').innerText.includes('photo.jpg')`)
			b.do("give the record", chromedp.SetUploadFiles(chromedp.CSS("#record"), []string{townRecord(t)}))
			b.set("Tolerance, m", "0.25")
			b.click("#panel button", "Compare with revision")
			b.wait("the pairs", `document.querySelectorAll('#panel .pairs tbody tr').length > 3`)
			b.wait("the deviations", `document.querySelector('#panel .strip canvas') !== null`)
			got := b.panel()
			for _, want := range []string{"as-built.geojson", "differs", "agrees", "displace", "not a clearance to dig", "95 % band", "more than 25 m from the day’s work."} {
				if !strings.Contains(got, want) {
					t.Errorf("the comparison does not say %q: %s", want, got)
				}
			}
			if strings.Contains(got, "FAR9") {
				t.Errorf("a line of the record a kilometre away is told: %s", got)
			}
			b.js(`[...document.querySelectorAll('#panel .pairs tbody tr')].at(-1).click()`)
			b.wait("the chosen pair", `[...document.querySelectorAll('#panel .pairs tbody tr')].at(-1).getAttribute('aria-current') === 'true'`)
			b.js(`document.querySelector('#panel .pairs').scrollIntoView()`)
			time.Sleep(200 * time.Millisecond)
			b.shot(c.name + "-compare")
			b.checkAxeHere("Compare")
			if c.phone {
				return
			}
			b.leave("api/v1/comparisons/1/files/comparison.html")
			b.wait("the report", `document.body.innerText.includes('as-built.geojson')`)
			if got := b.js(`document.documentElement.innerText`); strings.Contains(got, o.dir) {
				t.Error("the report names a folder of the server")
			}
		})
	}
}
