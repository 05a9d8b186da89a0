package web_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

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
			b.do("give the record", chromedp.SetUploadFiles(chromedp.CSS("#record"), demoPaths(t, "as-built.geojson")))
			b.set("Tolerance, m", "0.25")
			b.click("#panel button", "Compare with revision")
			b.wait("the pairs", `document.querySelectorAll('#panel .pairs tbody tr').length > 3`)
			b.wait("the deviations", `document.querySelector('#panel .strip canvas') !== null`)
			got := b.panel()
			for _, want := range []string{"as-built.geojson", "differs", "agrees", "displace", "not a clearance to dig", "95 % band"} {
				if !strings.Contains(got, want) {
					t.Errorf("the comparison does not say %q: %s", want, got)
				}
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
			b.do("the report", chromedp.Navigate(o.srv.URL+"/api/v1/comparisons/1/files/comparison.html"))
			b.wait("the report", `document.body.innerText.includes('as-built.geojson')`)
			if got := b.js(`document.documentElement.innerText`); strings.Contains(got, o.dir) {
				t.Error("the report names a folder of the server")
			}
		})
	}
}
