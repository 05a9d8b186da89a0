//go:build unix

package main

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
)

// A rover is an invented receiver that speaks over TCP, ten epochs a second.
type rover struct {
	ln      net.Listener
	mu      sync.Mutex
	quality int
	pieces  []spoken
}

type spoken struct {
	text string
	at   time.Time
}

func startRover(t *testing.T) *rover {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &rover{ln: ln, quality: 4}
	var done sync.WaitGroup
	done.Go(func() {
		for {
			conn, err := ln.Accept()
			if err != nil {
				return
			}
			for r.speak(conn) == nil {
				time.Sleep(100 * time.Millisecond)
			}
			conn.Close()
		}
	})
	t.Cleanup(func() {
		ln.Close()
		done.Wait()
	})
	return r
}

// speak says the next epoch, in two pieces that part within a line.
func (r *rover) speak(conn net.Conn) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	n := len(r.pieces) / 2
	at := time.Date(2026, 5, 12, 7, 59, 58, 0, time.UTC).Add(time.Duration(n) * 100 * time.Millisecond)
	text := sentence(fmt.Sprintf("GNGGA,%s,4916.4500,N,01123.7600,E,%d,18,0.6,545.4,M,46.9,M,1.2,0000", at.Format("150405.00"), r.quality)) +
		sentence(fmt.Sprintf("GNRMC,%s,A,4916.4500,N,01123.7600,E,0.5,54.7,120526,,,A", at.Format("150405.00")))
	for _, piece := range []string{text[:100], text[100:]} {
		if _, err := io.WriteString(conn, piece); err != nil {
			return err
		}
		r.pieces = append(r.pieces, spoken{piece, time.Now()})
	}
	return nil
}

func sentence(body string) string {
	var x byte
	for _, c := range []byte(body) {
		x ^= c
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, x)
}

// said is what it said until a time.
func (r *rover) said(until time.Time) string {
	r.mu.Lock()
	defer r.mu.Unlock()
	var b strings.Builder
	for _, p := range r.pieces {
		if p.at.After(until) {
			break
		}
		b.WriteString(p.text)
	}
	return b.String()
}

func (r *rover) setQuality(q int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.quality = q
}

func (r *rover) source() string { return "tcp://" + r.ln.Addr().String() }

// recorded joins the logs of a folder in the order of their names.
func recorded(t *testing.T, dir string) string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(dir, "*.nmea"))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if len(text) > 0 && text[len(text)-1] != '\n' {
			t.Errorf("%s ends within a line: %q", filepath.Base(name), text[max(0, len(text)-40):])
		}
		b.Write(text)
	}
	return b.String()
}

// waitFor waits until something holds.
func waitFor(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !holds(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited in vain for %s", what)
		}
	}
}

// The process is killed: what came a second before is there, over the end of an
// hour, in whole lines; and convert reads it.
func TestRecordKilled(t *testing.T) {
	r := startRover(t)
	dir := t.TempDir()
	cmd := exec.Command(tracemapProgram(t), "record", r.source(), "-o", "logs")
	cmd.Dir = dir
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	logs := filepath.Join(dir, "logs")
	waitFor(t, "a second hour", func() bool {
		_, err := os.Stat(filepath.Join(logs, "2026-05-12T08Z.nmea"))
		return err == nil
	})
	time.Sleep(1300 * time.Millisecond)
	killed := time.Now()
	if err := cmd.Process.Signal(syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	got := recorded(t, logs)
	before := r.said(killed.Add(-time.Second))
	if before = before[:strings.LastIndexByte(before, '\n')+1]; !strings.HasPrefix(got, before) {
		t.Errorf("%d bytes are left; %d had come a second before the end", len(got), len(before))
	}
	if !strings.HasPrefix(r.said(time.Now()), got) {
		t.Error("the logs hold what never came")
	}
	out, err := exec.Command(tracemapProgram(t), "inspect", filepath.Join(logs, "2026-05-12T07Z.nmea"), filepath.Join(logs, "2026-05-12T08Z.nmea")).CombinedOutput()
	if err != nil && cmd.ProcessState == nil || !bytes.Contains(out, []byte("2026-05-12")) {
		t.Errorf("inspect of what is left: %v\n%s", err, out)
	}
}

// An interrupt is the usual end: status 0, everything kept.
func TestRecordInterrupted(t *testing.T) {
	for _, sig := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		r := startRover(t)
		dir := t.TempDir()
		cmd := exec.Command(tracemapProgram(t), "record", r.source(), "-o", ".")
		cmd.Dir = dir
		var stdout, stderr strings.Builder
		cmd.Stdout, cmd.Stderr = &stdout, &stderr
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		waitFor(t, "lines", func() bool { return recorded(t, dir) != "" })
		cmd.Process.Signal(sig)
		if err := cmd.Wait(); err != nil {
			t.Errorf("%v: %v: %s", sig, err, stderr.String())
		}
		if !strings.HasPrefix(r.said(time.Now()), recorded(t, dir)) || !strings.Contains(stdout.String(), "Convert with:\n  tracemap convert 2026-05-12T07Z.nmea") {
			t.Errorf("%v: standard output %q", sig, stdout.String())
		}
	}
}

// A limit on the size of files is a full disk: the log keeps whole lines, the
// loss is told, status 1.
func TestRecordFullDisk(t *testing.T) {
	r := startRover(t)
	dir := t.TempDir()
	cmd := exec.Command("sh", "-c", `ulimit -f 2 && exec "$0" record "$1" -o . --for 3s`, tracemapProgram(t), r.source())
	cmd.Dir = dir
	var stderr strings.Builder
	cmd.Stderr = &stderr
	err := cmd.Run()
	if code := cmd.ProcessState.ExitCode(); code != statusFailed {
		t.Fatalf("status %d (%v): %s", code, err, stderr.String())
	}
	for _, want := range []string{"the disk takes nothing more (", " bytes did not fit on the disk and are lost: "} {
		if strings.Count(stderr.String(), want) != 1 {
			t.Errorf("standard error lacks %q:\n%s", want, stderr.String())
		}
	}
	recorded(t, dir) // whole lines
}

// screen is what a terminal showed.
type screen struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *screen) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(b)
}

func (s *screen) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

var colours = regexp.MustCompile("\x1b\\[[0-9;]*m")

// onPty is a program on a terminal, with what it showed.
type onPty struct {
	t        *testing.T
	cmd      *exec.Cmd
	terminal *os.File
	screen   screen
	shown    chan bool
}

func onTerminal(t *testing.T, columns uint16, dir, env string, args ...string) *onPty {
	t.Helper()
	p := &onPty{t: t, cmd: exec.Command(tracemapProgram(t), args...), shown: make(chan bool)}
	p.cmd.Dir, p.cmd.Env = dir, append(os.Environ(), "TERM=xterm", env)
	terminal, err := pty.StartWithSize(p.cmd, &pty.Winsize{Rows: 24, Cols: columns})
	if err != nil {
		t.Fatal(err)
	}
	p.terminal = terminal
	t.Cleanup(func() { terminal.Close() })
	go func() {
		io.Copy(&p.screen, terminal)
		close(p.shown)
	}()
	return p
}

// see waits for a text.
func (p *onPty) see(want string) {
	p.t.Helper()
	defer func() {
		if p.t.Failed() {
			p.t.Logf("the screen showed %q", p.screen.String())
		}
	}()
	waitFor(p.t, want, func() bool { return strings.Contains(colours.ReplaceAllString(p.screen.String(), ""), want) })
}

func (p *onPty) press(keys string) {
	p.t.Helper()
	if _, err := io.WriteString(p.terminal, keys); err != nil {
		p.t.Fatal(err)
	}
}

// wait waits for the end, which must be a good one.
func (p *onPty) wait() {
	p.t.Helper()
	if err := p.cmd.Wait(); err != nil {
		p.t.Errorf("%v: %s", err, p.screen.String())
	}
	<-p.shown
}

// In a narrow window the end of what is typed is seen, and a mark that is being typed
// as the recording is broken off is kept.
func TestRecordInNarrowWindow(t *testing.T) {
	r := startRover(t)
	dir := t.TempDir()
	p := onTerminal(t, 40, dir, "NO_COLOR=1", "record", r.source())
	p.see("the receiver: RTK fixed")
	p.press(" 08:0")
	p.see("the locator shows: 08:0_")
	p.press("\x1bnthe valve stands on the north side of the street, lid blue")
	p.see("street, lid blue_")
	p.press("\x03")
	p.wait()
	names, _ := filepath.Glob(filepath.Join(dir, "*-marks.csv"))
	if len(names) != 1 || !strings.Contains(read(t, names[0], ""), `,note,"the valve stands on the north side of the street, lid blue",`) {
		t.Errorf("marks in %q", names)
	}
}

// On a terminal there are the state, in colour where it is wanted, the bell, and
// keys for marks.
func TestRecordOnTerminal(t *testing.T) {
	for _, noColour := range []string{"", "1"} {
		t.Run("NO_COLOR="+noColour, func(t *testing.T) {
			r := startRover(t)
			dir := t.TempDir()
			p := onTerminal(t, 120, dir, "NO_COLOR="+noColour, "record", r.source())
			see, press, s := p.see, p.press, &p.screen
			see("keys: space makes a sync mark, n a note, q ends")
			see("the receiver: RTK fixed")
			see("18 sat")
			see("10.0 Hz")
			press(" ")
			see("the locator shows: _")
			press("8 o'clock\r")
			see("is no time such as 08:01:34")
			press("080")
			press("\x1b[D\x1b[C") // arrows do nothing
			press("x\x7f134\r")
			see("note: --sync 2026-05-12T08:01:34.000Z=2026-05-12T")
			press("n")
			press("valve, \"blue\" lid, größer\r")
			see("note: note at ")
			press("nnever mind\x1b")
			r.setQuality(5)
			see("RTK float, after RTK fixed")
			waitFor(t, "the bell", func() bool { return strings.Contains(s.String(), "\a") })
			press("q")
			p.wait()
			if coloured := strings.Contains(s.String(), "\x1b[3"); coloured != (noColour == "") {
				t.Errorf("colour: %v, with NO_COLOR=%q", coloured, noColour)
			}
			checkMarks(t, dir, s.String())
		})
	}
}

// checkMarks holds the file of marks against what was pressed.
func checkMarks(t *testing.T, dir, shown string) {
	t.Helper()
	names, _ := filepath.Glob(filepath.Join(dir, "*-marks.csv"))
	if len(names) != 1 {
		t.Fatalf("files of marks: %q", names)
	}
	rows := strings.Split(read(t, names[0], ""), "\n")
	if len(rows) != 4 || rows[3] != "" {
		t.Fatalf("rows %q", rows)
	}
	sync := regexp.MustCompile(`^(2026-05-12T[0-9:.]+Z),sync,,2026-05-12T08:01:34.000Z,(2026-05-12T08:01:34.000Z=(2026-05-12T[0-9:.]+Z)),2026-05-12T[0-9:.]+Z,0\.[0-9]{3},20[0-9T:.-]+Z$`).FindStringSubmatch(rows[1])
	if sync == nil || sync[1] != sync[3] {
		t.Fatalf("sync mark %q", rows[1])
	}
	if !strings.Contains(rows[2], `,note,"valve, ""blue"" lid, größer",,,`) {
		t.Errorf("note %q", rows[2])
	}
	if !strings.Contains(shown, " readings.csv --sync "+sync[2]) {
		t.Errorf("the end of the recording does not say how to convert with --sync %s:\n%s", sync[2], shown[max(0, len(shown)-600):])
	}
}
