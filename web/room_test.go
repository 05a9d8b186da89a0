package web_test

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tracemap/internal/store"
	"tracemap/web"
)

// slowly sends a file whose last byte waits until it is let go, and gives the
// answer's status.
func (o *office) slowly(name string, b []byte) (letGo func() int) {
	o.t.Helper()
	from, to := io.Pipe()
	req, err := http.NewRequest("POST", o.srv.URL+"/api/v1/originals?name="+name, from)
	if err != nil {
		o.t.Fatal(err)
	}
	req.ContentLength = int64(len(b))
	req.Header.Set("Authorization", "Bearer "+token)
	status := make(chan int, 1)
	go func() {
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			o.t.Error(err)
			status <- 0
			return
		}
		res.Body.Close()
		status <- res.StatusCode
	}()
	if _, err := to.Write(b[:len(b)-1]); err != nil {
		o.t.Fatal(err)
	}
	for range 2000 { // until the server has begun to take it
		if in, _ := filepath.Glob(filepath.Join(o.dir, "incoming", "*")); len(in) > 0 {
			break
		}
		time.Sleep(5 * time.Millisecond)
	}
	return func() int {
		if _, err := to.Write(b[len(b)-1:]); err != nil {
			o.t.Error(err)
		}
		to.Close()
		return <-status
	}
}

// Files on their way count as if they were there: many at once do not pass a
// bound that each alone would keep.
func TestQuotasCountWhatIsComing(t *testing.T) {
	for what, change := range map[string]func(*web.Options){
		"the quota of 3 kB":         func(o *web.Options) { o.Quota = 3000 },
		"your own quota of 3 kB":    func(o *web.Options) { o.QuotaOwn = 3000 },
		"too many files are coming": func(o *web.Options) { o.MaxAtOnce = 1 },
		"there are too many files":  func(o *web.Options) { o.MaxOriginals = 1 },
	} {
		o := newOffice(t, t.TempDir(), false, change)
		first := o.slowly("first", bytes.Repeat([]byte("a"), 2000))
		var p struct{ Title, Detail string }
		code := o.ask("POST", "/api/v1/originals?name=second", bytes.Repeat([]byte("b"), 1001), &p)
		if got := first(); got != 201 {
			t.Errorf("%s: the first one: %d", what, got)
		}
		if code != 507 && code != 503 || !strings.Contains(p.Title, what) || p.Detail == "" {
			t.Errorf("%s: status %d %+v", what, code, p)
		}
	}
}

func TestUploadSaysItsLength(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, nil)
	req, err := http.NewRequest("POST", o.srv.URL+"/api/v1/originals?name=a", io.NopCloser(strings.NewReader("log")))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+token)
	req.ContentLength = -1
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusLengthRequired {
		t.Errorf("status %d, want 411", res.StatusCode)
	}
}

// docs/office.md shows the table of roles as the program has it.
func TestRolesAreDocumented(t *testing.T) {
	b, err := os.ReadFile("../docs/office.md")
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string][]string{}
	for line := range strings.Lines(string(b)) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		if len(cells) == 5 {
			right, _, _ := strings.Cut(strings.TrimSpace(cells[0]), ":")
			for _, c := range cells[1:] {
				rows[right] = append(rows[right], strings.TrimSpace(c))
			}
		}
	}
	for right, list := range rows {
		if right == "right" || strings.HasPrefix(right, "---") {
			continue
		}
		for i, role := range []string{"locator", "technician", "engineer", "administrator"} {
			want := fmt.Sprint(list[i])
			if want == "–" {
				want = ""
			}
			if got := web.Reach(role, right); got != want {
				t.Errorf("%s, %s: documented as %q, is %q", role, right, want, got)
			}
		}
	}
	if len(rows) < 7 {
		t.Errorf("only %d rows found", len(rows))
	}
}

// An upload that stands still is ended, and nothing of it stays.
func TestSlowUploadEnds(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, func(opt *web.Options) { opt.LongestPause = 100 * time.Millisecond })
	c, err := net.Dial("tcp", o.srv.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprintf(c, "POST /api/v1/originals?name=day.nmea HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer %s\r\nContent-Length: 1000\r\n\r\nhalf", token)
	if err := c.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	res, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil || res.StatusCode != 400 {
		t.Errorf("answer %v, %v; want 400", res, err)
	}
	if left, _ := filepath.Glob(filepath.Join(o.dir, "incoming", "*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// What is computed counts as what is sent: a result or a comparison that would pass
// a quota is refused and leaves no file, and with the quota used up nothing new is
// begun.
func TestResultsCount(t *testing.T) {
	for what, change := range map[string]func(*web.Options, int64){
		"the quota of":      func(o *web.Options, n int64) { o.Quota = n },
		"your own quota of": func(o *web.Options, n int64) { o.QuotaOwn = n },
	} {
		logs := int64(len(demo(t, "day.nmea")) + len(demo(t, "readings.csv")))
		dir := t.TempDir()
		o := newOffice(t, dir, true, func(opt *web.Options) { change(opt, logs+10_000) })
		o.demoDay()
		if d := o.settled("/api/v1/days/1"); d.Latest.State != "refused" || !strings.Contains(d.Latest.Message, what) {
			t.Errorf("a result larger than the room: %+v", d)
		}
		if left, _ := filepath.Glob(filepath.Join(dir, "results", "*")); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}

		dir = t.TempDir()
		o = newOffice(t, dir, true, nil)
		o.demoDay()
		o.settled("/api/v1/days/1")
		result, err := store.FolderBytes(filepath.Join(dir, "results", "1-1"))
		if err != nil || result < 100_000 {
			t.Fatalf("the demo's result takes %d bytes, %v", result, err)
		}
		o.stop()
		record := demo(t, "as-built.geojson")
		o = newOffice(t, dir, true, func(opt *web.Options) { change(opt, logs+result+int64(len(record))+10_000) })
		if code, b := o.compared("as-built.geojson", record, object{"every_m": 0.05}); code != 507 || !strings.Contains(string(b), what) {
			t.Errorf("a comparison larger than the room: %d %s", code, b)
		}
		if left, _ := filepath.Glob(filepath.Join(dir, "results", "comparison*")); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
		o.stop()
		o = newOffice(t, dir, true, func(opt *web.Options) { change(opt, logs+result) })
		var p struct{ Title string }
		if code := o.ask("POST", "/api/v1/days/1/revisions", object{"base": 1, "why": "again"}, &p); code != 507 || !strings.Contains(p.Title, what) {
			t.Errorf("a revision with the quota used up: %d %+v", code, p)
		}
	}
}
