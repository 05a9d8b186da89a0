package web_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// Changes that are gathered and not saved stand above every tab, survive a reload, and
// keep the day from being handed over until they are applied or discarded; a discard
// can be undone.
func TestPendingChangesHoldTheHandOver(t *testing.T) {
	t.Parallel()
	for _, c := range sizes {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			o := demoOffice(t)
			b := openTab(t, o, c.width, c.height, c.phone)
			b.open("1", "1")
			b.click("[role=tab]", "Correct")
			b.set("From station", "5")
			b.set("To station", "14")
			b.click("#panel button", "Select this range")
			b.click("#panel button", "Set aside")
			b.click("[role=tab]", "Settings")
			b.set("Antenna above ground", "1.65")
			const bar = `document.querySelector('.pending')`
			b.wait("both told", bar+`.innerText.includes('2 changes have not been saved')`)
			b.do("load the page again", chromedp.Reload())
			b.drawn("1/1")
			b.wait("both told after a reload", bar+`.innerText.includes('2 changes have not been saved')`)
			if got := b.js(bar + `.textContent`); !strings.Contains(got, "set aside: readings.csv row") || !strings.Contains(got, "1.8 → 1.65") {
				t.Errorf("the pending changes are told as %q", got)
			}
			for _, name := range []string{"Summary", "Revisit", "Clock", "Readings", "Correct", "Settings", "Revisions", "Compare", "Files", "Hand over"} {
				b.click("[role=tab]", name)
				b.wait("the tab "+name, `document.querySelector('[role=tab][aria-selected=true]').innerText.startsWith('`+name+`')`)
				if b.js(bar+`.checkVisibility() && `+bar+`.getBoundingClientRect().bottom <= document.querySelector('#panel').getBoundingClientRect().top + 1`) != "true" {
					t.Errorf("no pending changes above the tab %s", name)
				}
			}
			b.wait("the checks", `document.querySelectorAll('#panel fieldset').length === 6`)
			const button = `document.querySelector('#panel form > button.main')`
			if b.js(button+`.disabled`) != "true" || !strings.Contains(b.panel(), "then it can be handed over") {
				t.Errorf("the hand-over is not held: %.300s", b.panel())
			}
			b.checkAxeHere("Hand over")
			b.shot(c.name + "-pending")
			b.click(".pending button", "Discard")
			b.wait("the hand-over free", button+`.disabled === false && `+bar+`.hidden`)
			b.click("#say button", "Undo")
			b.wait("the hand-over held again", button+`.disabled && !`+bar+`.hidden`)
			b.click(".pending button", "Apply")
			b.wait("the reason asked for", `document.querySelector('.pending form input') !== null`)
			b.shot(c.name + "-pending-apply")
			b.js(`(() => { document.querySelector('.pending form input').value = 'measured again'; document.querySelector('.pending form').requestSubmit(); })()`)
			b.drawn("1/2")
			var day struct {
				Latest struct {
					Settings struct {
						AntennaHeight float64 `json:"antenna_height_m"`
						Corrections   []struct{ Kind, Why string }
					}
				}
			}
			o.ask("GET", "/api/v1/days/1", nil, &day)
			if s := day.Latest.Settings; s.AntennaHeight != 1.65 || len(s.Corrections) != 1 || s.Corrections[0].Why != "measured again" {
				t.Errorf("applied: %+v", s)
			}
			if b.js(bar+`.hidden`) != "true" {
				t.Error("what was applied is still pending")
			}
		})
	}
}
