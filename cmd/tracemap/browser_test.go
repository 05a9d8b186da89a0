package main

import (
	"encoding/csv"
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// What a hostile hand may write into names and notes; each would change the
// page's title if it ran.
var scripts = []string{
	`<script>document.title='ran'</script>`,
	`"><img src=x onerror="document.title='ran'">`,
	`'><svg onload=document.title='ran'>`,
	`</title></style></textarea><script>document.title='ran'</script>`,
	`]]><script>document.title='ran'</script>`,
	`<a href="javascript:document.title='ran'" autofocus onfocus="document.title='ran'">x</a>`,
	`&lt;img src=x onerror=document.title='ran'&gt;`,
}

// No script in names, notes or flags runs in the report, in the comparison's page
// or in a KML balloon, which viewers show as HTML.
func TestNoScriptRuns(t *testing.T) {
	titled := title(t, "<html><head><title>still</title></head><body>"+scripts[1]+"</body></html>")
	if titled != "ran" {
		t.Fatalf("the browser's title is %q where the script is not escaped: the test would see nothing", titled)
	}
	demo := demoDay(t)
	log, good := read(t, demo, "day.nmea"), read(t, demo, "readings.csv")
	status, _, errs := convertTexts(t, []byte(log), spoiltNames(t, good), "--format", "kml,csv,geojson",
		"--job", scripts[0], "--operator", scripts[1], "--frame", "WGS84")
	if status != 0 {
		t.Fatal(errs)
	}
	checkStill(t, "report.html", read(t, "out", "report.html"))

	var balloons []string
	for dec := xml.NewDecoder(strings.NewReader(read(t, "out", "map.kml"))); ; {
		token, err := dec.Token()
		if err != nil {
			break
		}
		// What viewers show as HTML: descriptions, the styles' balloons, snippets.
		if start, ok := token.(xml.StartElement); ok && (start.Name.Local == "description" || start.Name.Local == "text" || start.Name.Local == "Snippet") {
			var text string
			if err := dec.DecodeElement(&text, &start); err != nil {
				t.Fatal(err)
			}
			balloons = append(balloons, text)
		}
	}
	if len(balloons) < 20 {
		t.Fatalf("%d balloons", len(balloons))
	}
	checkStill(t, "balloons", "<html><head><title>still</title></head><body>"+strings.Join(balloons, "<hr>")+"</body></html>")

	var out, err strings.Builder
	if status := run([]string{"compare", "out", "out/lines.geojson", "-o", "difference"}, nil, &out, &err); status != 0 {
		t.Fatal(err.String())
	}
	pages, _ := filepath.Glob("difference/*.html")
	for _, page := range pages {
		checkStill(t, page, read(t, page, ""))
	}
	if len(pages) == 0 {
		t.Error("the comparison has no page")
	}
}

// spoiltNames puts the scripts into the names of lines and into notes.
func spoiltNames(t *testing.T, readings string) []byte {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(readings)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]string{}
	for i, row := range rows[1:] {
		if _, ok := names[row[1]]; !ok {
			names[row[1]] = row[1] + scripts[len(names)%len(scripts)]
		}
		row[1] = names[row[1]]
		row[len(row)-1] = scripts[i%len(scripts)]
	}
	var b strings.Builder
	w := csv.NewWriter(&b)
	if err := w.WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	return []byte(b.String())
}

func checkStill(t *testing.T, name, page string) {
	t.Helper()
	if got := title(t, page); got == "ran" || got == "" {
		t.Errorf("%s: the title is %q in the browser", name, got)
	}
}

// title is that of a page once a browser has run it.
func title(t *testing.T, page string) string {
	t.Helper()
	browser := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			browser = path
			break
		}
	}
	if browser == "" {
		shellProgram(t, "chromium") // says so, or fails
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "page.html")
	if err := os.WriteFile(file, []byte(page), 0o666); err != nil {
		t.Fatal(err)
	}
	dom, err := exec.Command(browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--user-data-dir="+filepath.Join(dir, "profile"), "--virtual-time-budget=3000", "--dump-dom", "file://"+file).Output()
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(dom), "<title>")
	text, _, _ := strings.Cut(rest, "</title>")
	return text
}
