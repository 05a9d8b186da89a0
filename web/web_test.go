package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"tracemap/internal/store"
	"tracemap/web"
)

const token = "a-token-for-tests-only-0123456789"

var start = time.Date(2031, 5, 6, 7, 0, 0, 0, time.UTC)

// An office is a server under test and one who asks it.
type office struct {
	t    *testing.T
	dir  string
	srv  *httptest.Server
	stop func() // ends the server and closes its folder
}

// demoOffice serves a new folder that holds the demo's day, worked out.
func demoOffice(t *testing.T) *office {
	t.Helper()
	o := newOffice(t, t.TempDir(), true, nil)
	o.demoDay()
	o.settled("/api/v1/days/1")
	return o
}

// newOffice serves a data folder, with a worker where computing is wanted.
func newOffice(t *testing.T, dir string, working bool, change func(*web.Options)) *office {
	t.Helper()
	st, err := store.Open(t.Context(), dir, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	opt := web.DefaultOptions()
	opt.Token = token
	if change != nil {
		change(&opt)
	}
	s, err := web.New(st, opt)
	if err != nil {
		t.Fatal(err)
	}
	o := &office{t: t, dir: dir, srv: httptest.NewServer(s.Handler())}
	ctx, end := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() {
		if working {
			s.Run(ctx)
		}
		close(ended)
	}()
	o.stop = sync.OnceFunc(func() { end(); o.srv.Close(); <-ended; s.Close(); st.Close() })
	t.Cleanup(o.stop)
	return o
}

// ask sends a request as the page's user and decodes the answer into out.
func (o *office) ask(method, path string, body any, out any) int {
	o.t.Helper()
	var r io.Reader
	switch b := body.(type) {
	case nil:
	case []byte:
		r = bytes.NewReader(b)
	default:
		text, err := json.Marshal(b)
		if err != nil {
			o.t.Fatal(err)
		}
		r = bytes.NewReader(text)
	}
	req, err := http.NewRequest(method, o.srv.URL+path, r)
	if err != nil {
		o.t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+token)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		o.t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		o.t.Fatal(err)
	}
	if raw, ok := out.(*[]byte); ok {
		*raw = b
	} else if out != nil {
		if err := json.Unmarshal(b, out); err != nil {
			o.t.Fatalf("%s %s: %v in %.300s", method, path, err, b)
		}
	}
	return res.StatusCode
}

func demo(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "demo", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

type uploaded struct {
	Known    bool
	Original struct{ SHA256, Name, Kind, What, From, To string }
}

func (o *office) upload(name string, b []byte) uploaded {
	o.t.Helper()
	var u uploaded
	if code := o.ask("POST", "/api/v1/originals?name="+name, b, &u); code != 200 && code != 201 {
		o.t.Fatalf("upload %s: status %d", name, code)
	}
	return u
}

type day struct {
	ID     int64
	Latest struct {
		Number         int
		State, Message string
		Outcome        struct{ Level string }
	}
}

// demoDay uploads the invented day and asks for its map.
func (o *office) demoDay() day {
	o.t.Helper()
	var originals []map[string]string
	for _, name := range []string{"day.nmea", "readings.csv"} {
		originals = append(originals, map[string]string{"sha256": o.upload(name, demo(o.t, name)).Original.SHA256})
	}
	var d day
	if code := o.ask("POST", "/api/v1/days", map[string]any{"title": "Demo", "originals": originals, "settings": map[string]any{"antenna_height_m": 1.8}}, &d); code != 201 {
		o.t.Fatalf("new day: status %d", code)
	}
	return d
}

// settled waits until a day's newest revision is no longer under work.
func (o *office) settled(path string) day {
	o.t.Helper()
	for range 600 {
		var d day
		o.ask("GET", path, nil, &d)
		if d.Latest.State != "waiting" && d.Latest.State != "computing" {
			return d
		}
		time.Sleep(100 * time.Millisecond)
	}
	o.t.Fatal("the day is not computed within a minute")
	return day{}
}

func TestDayFromUploadToFiles(t *testing.T) {
	o := newOffice(t, t.TempDir(), true, nil)
	o.demoDay()
	if d := o.settled("/api/v1/days/1"); d.Latest.State != "done" || d.Latest.Outcome.Level != "care" {
		t.Fatalf("day = %+v, want it done, usable with care (its frame was assumed)", d)
	}
	if u := o.upload("again.txt", demo(t, "day.nmea")); !u.Known || u.Original.Name != "day.nmea" {
		t.Errorf("the same bytes: %+v, want them recognised", u)
	}
	var back []byte
	sum := o.upload("x", demo(t, "readings.csv")).Original.SHA256
	if code := o.ask("GET", "/api/v1/originals/"+sum, nil, &back); code != 200 || !bytes.Equal(back, demo(t, "readings.csv")) {
		t.Errorf("original: status %d, %d bytes", code, len(back))
	}
	var v struct {
		Lines []struct {
			Parts []struct{ Vertices, Corridor []any }
		}
		Readings []any
		Revisit  []any
	}
	o.ask("GET", "/api/v1/days/1/revisions/1/view", nil, &v)
	if len(v.Lines) < 5 || len(v.Readings) != 245 || len(v.Revisit) == 0 || len(v.Lines[0].Parts[0].Corridor) == 0 {
		t.Errorf("view: %d lines, %d readings, %d places", len(v.Lines), len(v.Readings), len(v.Revisit))
	}
	var list struct{ Files []struct{ Name string } }
	o.ask("GET", "/api/v1/days/1/revisions/1/files", nil, &list)
	have := map[string]bool{}
	for _, f := range list.Files {
		have[f.Name] = true
		if code := o.ask("GET", "/api/v1/days/1/revisions/1/files/"+f.Name, nil, &back); code != 200 || len(back) == 0 {
			t.Errorf("%s: status %d, %d bytes", f.Name, code, len(back))
		}
	}
	for _, name := range []string{"lines.geojson", "map.kml", "map.gpkg", "map.dxf", "report.html", "revisit.gpx", "revisit.kml", "summary.json", "vertices.csv"} {
		if !have[name] {
			t.Errorf("no %s among the files", name)
		}
	}
	for _, name := range []string{"view.json", "..%2f..%2ftoken", "nothing.csv"} {
		if code := o.ask("GET", "/api/v1/days/1/revisions/1/files/"+name, nil, nil); code != 404 {
			t.Errorf("%s: status %d, want 404", name, code)
		}
	}
}

func TestExportInAnotherSystem(t *testing.T) {
	o := demoOffice(t)
	var b []byte
	if code := o.ask("GET", "/api/v1/days/1/revisions/1/export?format=csv&crs=EPSG:32628&units=imperial", nil, &b); code != 200 {
		t.Fatalf("status %d: %s", code, b)
	}
	text := unzip(t, b)
	if !strings.Contains(text["report.html"], " ft") || text["vertices.csv"] == "" || text["map.kml"] != "" {
		t.Errorf("the archive holds %d files; want CSV and a report in feet", len(text))
	}
	// The demo lies at 47.5° N 17.75° W: in UTM zone 28 (EPSG:32628) its northing is near 5,262 km.
	if !strings.Contains(text["lines.csv"], " 526") {
		t.Errorf("lines.csv is not in the asked system: %.300s", text["lines.csv"])
	}
	if code := o.ask("GET", "/api/v1/days/1/revisions/1/export?crs=EPSG:1", nil, nil); code != 422 {
		t.Errorf("unknown system: status %d, want 422", code)
	}
}

func TestWrongFilesAreRefusedInWords(t *testing.T) {
	o := newOffice(t, t.TempDir(), true, nil)
	u := o.upload("photo.nmea", []byte("\x89PNG\r\n\x1a\n\x00\x00"))
	if u.Original.Kind != "unknown" || u.Original.What != "binary data" {
		t.Errorf("a picture: %+v", u)
	}
	sum := o.upload("day.nmea", demo(t, "day.nmea")).Original.SHA256
	if code := o.ask("POST", "/api/v1/days", map[string]any{"title": "Half", "originals": []any{map[string]string{"sha256": sum}}}, nil); code != 201 {
		t.Fatalf("status %d", code)
	}
	if d := o.settled("/api/v1/days/1"); d.Latest.State != "refused" || !strings.Contains(d.Latest.Message, "no readings log") {
		t.Errorf("a day without readings: %+v", d)
	}
	var p struct{ Title, Detail string }
	if code := o.ask("POST", "/api/v1/days", map[string]any{"title": "Half", "originals": []any{map[string]string{"sha256": sum}}}, &p); code != 409 {
		t.Errorf("the same files again: status %d, want 409", code)
	}
	if code := o.ask("POST", "/api/v1/days", map[string]any{"title": "x", "originals": []any{}, "settings": map[string]any{"clock_offset": "37"}}, &p); code != 422 || !strings.Contains(p.Title, "unit") || strings.Contains(p.Title, "--") {
		t.Errorf("offset without unit: %d %+v", code, p)
	}
}

// Two people look at revision 1 and change the day: the second is told.
func TestTwoPeopleCorrectOneDay(t *testing.T) {
	o := demoOffice(t)
	change := map[string]any{"base": 1, "settings": map[string]any{"clock_offset": "94s"}, "why": "seen on the display"}
	if code := o.ask("POST", "/api/v1/days/1/revisions", change, nil); code != 201 {
		t.Fatalf("status %d", code)
	}
	if code := o.ask("POST", "/api/v1/days/1/revisions", change, nil); code != 409 {
		t.Errorf("second change from revision 1: status %d, want 409", code)
	}
	o.settled("/api/v1/days/1")
	var v struct{ Clock struct{ Offset float64 } }
	o.ask("GET", "/api/v1/days/1/revisions/2/view", nil, &v)
	if v.Clock.Offset != 94 {
		t.Errorf("offset %v, want the given 94", v.Clock.Offset)
	}
	o.ask("GET", "/api/v1/days/1/revisions/1/view", nil, &v)
	if v.Clock.Offset < 94.2 || v.Clock.Offset > 95 {
		t.Errorf("revision 1 now says %v s", v.Clock.Offset)
	}
	delete(change, "why")
	if code := o.ask("POST", "/api/v1/days/1/revisions", change, nil); code != 422 {
		t.Errorf("no reason: status %d, want 422", code)
	}
}

func TestStopAndStartAgain(t *testing.T) {
	dir := t.TempDir()
	o := newOffice(t, dir, false, nil) // nobody computes
	o.demoDay()
	var w struct{ Work []struct{ State string } }
	o.ask("GET", "/api/v1/work", nil, &w)
	if len(w.Work) != 1 || w.Work[0].State != "waiting" {
		t.Errorf("work = %+v", w)
	}
	if code := o.ask("DELETE", "/api/v1/days/1/revisions/1/work", nil, nil); code != 204 {
		t.Errorf("stop: status %d", code)
	}
	if d := o.settled("/api/v1/days/1"); d.Latest.State != "stopped" {
		t.Errorf("day = %+v", d)
	}
	if code := o.ask("DELETE", "/api/v1/days/1/revisions/1/work", nil, nil); code != 409 {
		t.Errorf("stopping again: status %d, want 409", code)
	}
}

func TestProposals(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, nil)
	line := func(hour, minute int) string {
		return rmc(time.Date(2031, 5, 6, hour, minute, 0, 0, time.UTC)) + rmc(time.Date(2031, 5, 6, hour, minute+50, 0, 0, time.UTC))
	}
	var ask []map[string]string
	for name, text := range map[string]string{
		"north-0.txt": line(7, 0), "north-1.txt": line(7, 51) + "\n", "south-0.txt": line(7, 5),
		"north.csv": "time,line\n2031-05-06T07:10:00Z,W1\n2031-05-06T07:40:00Z,W1\n",
		"south.csv": "time,line\n2031-05-06T07:12:00Z,G1\n2031-05-06T07:38:00Z,G1\n",
		"junk.pdf":  "%PDF-1.7",
	} {
		ask = append(ask, map[string]string{"sha256": o.upload(name, []byte(text)).Original.SHA256})
	}
	var p struct {
		Days []struct {
			Lacks     string
			Originals []struct{ Name string }
		}
		Unknown []struct{ Name string }
	}
	o.ask("POST", "/api/v1/proposals", map[string]any{"originals": ask}, &p)
	got := ""
	for _, d := range p.Days {
		for _, f := range d.Originals {
			got += f.Name + " "
		}
		got += d.Lacks + "| "
	}
	want := "north-0.txt north-1.txt north.csv | south-0.txt south.csv | "
	if got != want || len(p.Unknown) != 1 {
		t.Errorf("proposals: %s; want %s", got, want)
	}
}
