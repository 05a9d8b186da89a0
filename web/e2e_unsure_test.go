package web_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// Two GNSS receivers ran while the readings were taken: which of them the crew carried is
// for a person to say, and until then nothing is computed.
func TestUnsureDaysWaitForAPerson(t *testing.T) {
	t.Parallel()
	o := newOffice(t, t.TempDir(), false, nil)
	log := demo(t, "day.nmea")
	_, rest, _ := bytes.Cut(log, []byte("\n"))
	other := filepath.Join(t.TempDir(), "other.nmea")
	if err := os.WriteFile(other, bytes.ReplaceAll(rest, []byte("\r\n"), []byte("\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	b := openTab(t, o, 1360, 850, false)
	b.do("choose files", chromedp.SetUploadFiles(chromedp.CSS("#choose"), append(demoPaths(t, "day.nmea", "readings.csv"), other)))
	b.wait("two proposals, one of them unsure", `document.querySelectorAll('.card').length === 2 && document.querySelector('.card .check input') !== null`)
	const button = `[...document.querySelectorAll('.card')].find(c => c.querySelector('.check input')).querySelector('button.main')`
	if b.js(button+`.disabled`) != "true" || b.js(`[...document.querySelectorAll('button.main')].filter(x => !x.disabled).length`) != "0" {
		t.Error("a day that nobody has confirmed can be processed")
	}
	b.js(`document.querySelector('.card .check input').click()`)
	b.wait("the day to be ready", button+`.disabled === false`)
	b.shot("unsure")
}
