package main

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// A server is a tracemap serve that runs as a process of its own.
type server struct {
	t     *testing.T
	cmd   *exec.Cmd
	url   string
	token string
	said  *bytes.Buffer // on standard error; to be read once it has ended
}

// startServer serves a folder on a free port of this machine.
func startServer(t *testing.T, dir string, flags ...string) *server {
	t.Helper()
	s := &server{t: t, said: &bytes.Buffer{}}
	s.cmd = exec.Command(tracemapProgram(t), append([]string{"serve", "--data", dir, "--listen", "127.0.0.1:0"}, flags...)...)
	s.cmd.Stderr = s.said
	s.cmd.Env = append(os.Environ(), "GOMAXPROCS=2")
	out, err := s.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.kill() })
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if address := strings.TrimSpace(lines.Text()); strings.HasPrefix(address, "http") {
			s.url, s.token, _ = strings.Cut(address, "/start?token=")
			s.url = strings.TrimSuffix(s.url, "/")
			return s
		}
	}
	s.kill()
	t.Fatalf("no address; the server said: %s", s.said)
	return nil
}

// kill ends the process as a power cut would.
func (s *server) kill() {
	if s.cmd.ProcessState == nil {
		s.cmd.Process.Kill() // it may have ended by itself
		s.cmd.Wait()
	}
}

// sized is a stream of a known length.
type sized struct {
	io.Reader
	size int64
}

// ask sends a request; the answer's body goes into out, decoded where out is no
// *[]byte.
func (s *server) ask(method, path string, body io.Reader, out any) (int, error) {
	req, err := http.NewRequest(method, s.url+path, body)
	if err != nil {
		return 0, err
	}
	switch b := body.(type) {
	case *os.File:
		info, err := b.Stat()
		if err != nil {
			return 0, err
		}
		req.ContentLength = info.Size()
	case sized:
		req.ContentLength = b.size
	}
	req.Header.Set("Authorization", "Bearer "+s.token)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return 0, err
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		return 0, err
	}
	if raw, ok := out.(*[]byte); ok {
		*raw = b
	} else if out != nil {
		err = json.Unmarshal(b, out)
	}
	return res.StatusCode, err
}

// upload sends a log and gives its hash.
func (s *server) upload(name string, body io.Reader) (string, error) {
	var u struct {
		Title, Detail string
		Original      struct{ SHA256 string }
	}
	code, err := s.ask("POST", "/api/v1/originals?name="+name, body, &u)
	if err == nil && code != 201 {
		err = fmt.Errorf("%s: status %d: %s. %s", name, code, u.Title, u.Detail)
	}
	return u.Original.SHA256, err
}

// makeDay has a day of two uploaded logs computed.
func (s *server) makeDay(title string, sums ...string) (id int64, err error) {
	var originals []map[string]string
	for _, sum := range sums {
		originals = append(originals, map[string]string{"sha256": sum})
	}
	b, err := json.Marshal(map[string]any{"title": title, "originals": originals, "settings": map[string]any{"antenna_height_m": 2}})
	if err != nil {
		return 0, err
	}
	var d struct {
		ID    int64
		Title string
	}
	code, err := s.ask("POST", "/api/v1/days", bytes.NewReader(b), &d)
	if err == nil && code != 201 {
		err = fmt.Errorf("day %s: status %d %s", title, code, d.Title)
	}
	return d.ID, err
}

// demoDay uploads the invented day and has it computed.
func (s *server) demoDay(dir string) int64 {
	s.t.Helper()
	var sums []string
	for _, name := range []string{"day.nmea", "readings.csv"} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			s.t.Fatal(err)
		}
		sum, err := s.upload(name, f)
		if err != nil {
			s.t.Fatal(err)
		}
		sums = append(sums, sum)
	}
	id, err := s.makeDay("Demo", sums...)
	if err != nil {
		s.t.Fatal(err)
	}
	return id
}

func (s *server) state(id int64) (state, message string) {
	s.t.Helper()
	var d struct {
		Latest struct{ State, Message string }
	}
	if _, err := s.ask("GET", fmt.Sprintf("/api/v1/days/%d", id), nil, &d); err != nil {
		s.t.Fatal(err)
	}
	return d.Latest.State, d.Latest.Message
}

func (s *server) wait(id int64, states ...string) {
	s.t.Helper()
	for range 3000 {
		state, message := s.state(id)
		for _, want := range states {
			if state == want {
				return
			}
		}
		if state == "failed" || state == "refused" {
			s.t.Fatalf("day %d: %s: %s", id, state, message)
		}
		time.Sleep(20 * time.Millisecond)
	}
	s.t.Fatalf("day %d is not %v within a minute", id, states)
}

// files gives all outputs of a day's first revision.
func (s *server) files(id int64) map[string]string {
	s.t.Helper()
	var b []byte
	if code, err := s.ask("GET", fmt.Sprintf("/api/v1/days/%d/revisions/1/export", id), nil, &b); err != nil || code != 200 {
		s.t.Fatalf("export: %d %v", code, err)
	}
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		s.t.Fatal(err)
	}
	out := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			s.t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err = errors.Join(err, r.Close()); err != nil {
			s.t.Fatal(err)
		}
		out[f.Name] = string(text)
	}
	return out
}

// same tells which files differ. The summary tells how long computing took.
func same(t *testing.T, what string, got, want map[string]string) {
	t.Helper()
	elapsed := regexp.MustCompile(`"elapsed_s": ?[0-9.e-]+`)
	if len(got) != len(want) || len(want) < 10 {
		t.Errorf("%s: %d files, want %d", what, len(got), len(want))
	}
	for name, text := range want {
		if elapsed.ReplaceAllString(got[name], "") != elapsed.ReplaceAllString(text, "") {
			t.Errorf("%s: %s differs", what, name)
		}
	}
}

// A server killed while it computes goes on after its next start, and the map is
// the one of an undisturbed run.
func TestServeKilledWhileComputing(t *testing.T) {
	t.Parallel()
	demo := demoDay(t)
	s := startServer(t, t.TempDir())
	id := s.demoDay(demo)
	s.wait(id, "done")
	want := s.files(id)
	for _, pause := range []time.Duration{0, 150 * time.Millisecond, 500 * time.Millisecond} {
		dir := t.TempDir()
		s := startServer(t, dir)
		id := s.demoDay(demo)
		s.wait(id, "computing", "done")
		time.Sleep(pause)
		s.kill()
		s = startServer(t, dir)
		s.wait(id, "done")
		same(t, fmt.Sprintf("killed after %v", pause), s.files(id), want)
		s.kill()
		for _, pattern := range []string{"incoming/*", "results/*.part"} {
			if left, _ := filepath.Glob(filepath.Join(dir, pattern)); len(left) > 0 {
				t.Errorf("left behind: %v", left)
			}
		}
	}
}

// One command backs a folder up while it is served, another makes an account;
// what is restored is served alike, byte for byte.
func TestBackupBesideServerIsRestored(t *testing.T) {
	t.Parallel()
	demo, dir, copied := demoDay(t), t.TempDir(), filepath.Join(t.TempDir(), "copy")
	s := startServer(t, dir)
	id := s.demoDay(demo)
	s.wait(id, "done")
	out, err := exec.Command(tracemapProgram(t), "backup", "--data", dir, copied).CombinedOutput()
	if err != nil || !strings.HasPrefix(string(out), "2 logs and 1 revisions are in ") {
		t.Fatalf("backup: %v: %s", err, out)
	}
	restored := startServer(t, copied)
	same(t, "restored", restored.files(id), s.files(id))
	for _, path := range []string{"/api/v1/days", "/api/v1/days/1/revisions/1/view"} {
		var a, b []byte
		if _, err := s.ask("GET", path, nil, &a); err != nil {
			t.Fatal(err)
		}
		if _, err := restored.ask("GET", path, nil, &b); err != nil || !bytes.Equal(a, b) {
			t.Errorf("%s differs: %v", path, err)
		}
	}
	var days struct {
		Days []struct {
			Files []struct{ SHA256, Name string }
		}
	}
	if _, err := restored.ask("GET", "/api/v1/days", nil, &days); err != nil {
		t.Fatal(err)
	}
	for _, f := range days.Days[0].Files {
		want, err := os.ReadFile(filepath.Join(demo, f.Name))
		if err != nil {
			t.Fatal(err)
		}
		var got []byte
		if _, err := restored.ask("GET", "/api/v1/originals/"+f.SHA256, nil, &got); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s is not restored byte for byte: %v", f.Name, err)
		}
	}
	add := exec.Command(tracemapProgram(t), "account", "add", "Ida Berg", "--role", "administrator", "--data", dir)
	add.Stdin = strings.NewReader("seven wet boots 4\n")
	if out, err := add.CombinedOutput(); err != nil {
		t.Fatalf("an account beside the server: %v: %s", err, out)
	}
	s.kill()
	s = startServer(t, dir)
	if s.token != "" {
		t.Error("a folder with accounts prints a start token")
	}
	if code, err := s.ask("GET", "/api/v1/days", nil, nil); code != 401 {
		t.Errorf("without logging in: %d %v", code, err)
	}
	if code, err := s.ask("POST", "/api/v1/login", strings.NewReader(`{"name":"ida berg","password":"seven wet boots 4"}`), nil); code != 200 {
		t.Errorf("logging in: %d %v", code, err)
	}
}

// peak is the most memory that the process has had, bytes (VmHWM of proc(5)).
func (s *server) peak() int64 {
	s.t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", s.cmd.Process.Pid))
	if err != nil {
		s.t.Fatal(err)
	}
	m := regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindSubmatch(b)
	if m == nil {
		s.t.Fatal("no VmHWM")
	}
	n, err := strconv.ParseInt(string(m[1]), 10, 64)
	if err != nil {
		s.t.Fatal(err)
	}
	return n << 10
}
