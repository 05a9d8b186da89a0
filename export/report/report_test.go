package report_test

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/export/report"
	"tracemap/internal/lab/invented"
	"tracemap/present"
	"tracemap/result"
)

var keep = flag.String("keep", "", "folder to leave the reports of the invented maps in, for looking at them")

func render(t *testing.T, m *result.Map) string {
	t.Helper()
	var b bytes.Buffer
	if err := report.Write(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Every map makes a page: the same bytes twice, self-contained, without a number
// that is none, with its verdict and its caution.
func TestEveryMapMakesAPage(t *testing.T) {
	outside := regexp.MustCompile(`(?i)(src|href)="(https?:|//)|@import|url\((https?:|//)|<script`)
	notANumber := regexp.MustCompile(`(^|[^A-Za-z])(NaN|[+-]?Inf)([^A-Za-z]|$)`)
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			page := render(t, c.Map)
			if *keep != "" {
				if err := os.WriteFile(filepath.Join(*keep, strings.ReplaceAll(c.Name, " ", "-")+".html"), []byte(page), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if page != render(t, c.Map) {
				t.Error("not the same bytes twice")
			}
			if at := outside.FindString(page); at != "" {
				t.Errorf("reaches outside: %q", at)
			}
			if at := notANumber.FindStringIndex(page); at != nil {
				t.Errorf("holds %q", page[max(at[0]-60, 0):min(at[1]+30, len(page))])
			}
			if strings.Contains(page, "ZgotmplZ") {
				t.Error("the template refused a value")
			}
			if strings.Count(page, present.Caution) < 2 {
				t.Error("the caution is not at the top and at the end")
			}
			if verdict := result.Judge(c.Map).Level.String(); !strings.Contains(page, verdict) {
				t.Errorf("verdict %q is missing", verdict)
			}
		})
	}
}

// Names with markup reach the page as text only.
func TestMarkupIsEscaped(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	m.Lines[0].ID = `<script>alert(1)</script>`
	m.Meta.Title = `<img src=x onerror=alert(1)>`
	for i := range m.Readings {
		if m.Readings[i].LineID == "W-1" {
			m.Readings[i].LineID = m.Lines[0].ID
		}
	}
	page := strings.ReplaceAll(render(t, m), "\u00A0", " ")
	if strings.Contains(page, "<script") || strings.Contains(page, "<img") {
		t.Error("markup of a name is on the page")
	}
	if !strings.Contains(page, "&lt;script&gt;alert(1)&lt;/script&gt;") {
		t.Error("the name is gone")
	}
}

// A page does not grow with readings that lie upon one another, and says so.
func TestCrowdIsThinned(t *testing.T) {
	dots := func(page string) int { return strings.Count(page, `class="dot"`) }
	m := invented.Day(invented.Atlantic)
	before := dots(render(t, m))
	crowd := func(copies int) {
		m = invented.Day(invented.Atlantic)
		few := m.Readings
		for range copies - 1 {
			m.Readings = append(m.Readings, few...)
		}
	}
	crowd(20)
	if page := render(t, m); dots(page) < 10*before || strings.Contains(page, "readings are drawn") {
		t.Errorf("%d readings: %d dots, %d before", len(m.Readings), dots(page), before)
	}
	crowd(3000)
	large := render(t, m)
	crowd(1000)
	page := render(t, m)
	if !regexp.MustCompile(`\d+ of \d+ readings are drawn`).MatchString(page) {
		t.Error("the page does not say that readings are left out")
	}
	if a, b := dots(page), dots(large); a < 1000 || b > a*21/20 {
		t.Errorf("%d dots, and %d of three times the readings", a, b)
	}
	if !strings.Contains(page, `class="aside"`) {
		t.Error("no reading that was set aside is drawn")
	}
}

// What a person looks for is on the page of an ordinary day.
func TestPageSaysWhatMatters(t *testing.T) {
	page := render(t, invented.Day(invented.Atlantic))
	for _, want := range []string{
		"Usable with care", "Plan and profile", "No depth was read on this part.", "seen 1.31 m", "bend 9", "RTK fixed", "RTK float",
		"37.0 s ahead of UTC", "runner-up", "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08", "neighbour lock", "further off than the widths say: =1&#43;2 Straße Ø東 (",
		"could not be read", "current step", "Antenna", "revisit.gpx",
	} {
		if !strings.Contains(page, want) && !strings.Contains(strings.ToLower(page), strings.ToLower(want)) {
			t.Errorf("%q is missing", want)
		}
	}
}

// With imperial units the page shows feet and inches; the files keep metres.
func TestImperialPage(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	m.Meta.Imperial, m.Summary.Warnings = true, nil
	page := strings.ReplaceAll(render(t, m), "\u00A0", " ")
	for _, want := range []string{"Station along the part, ft", "depth, ft", "seen 4 ft 4 in", "246.8 ft"} { // 75.217 m, 1.31 m
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
	if metric := regexp.MustCompile(`\d m[ .,<]`).FindString(page); metric != "" {
		t.Errorf("metres on an imperial page: %q", metric)
	}
}

func TestFormatWritesTheFile(t *testing.T) {
	dir := t.TempDir()
	m := invented.Day(invented.Atlantic)
	if err := export.Write(context.Background(), dir, m, []export.Format{report.Format()}, export.Options{}); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(dir, "report.html"))
	if err != nil || string(b) != render(t, m) {
		t.Errorf("report.html: %v, %d bytes", err, len(b))
	}
}
