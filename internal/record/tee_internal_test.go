package record

import (
	"bufio"
	"context"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestListen(t *testing.T) {
	for _, addr := range []string{"0", ":0", "127.0.0.1:0", "localhost:0"} {
		ln, err := Listen(addr)
		if err != nil {
			t.Errorf("Listen(%q): %v", addr, err)
			continue
		}
		if ip := ln.Addr().(*net.TCPAddr).IP; !ip.IsLoopback() {
			t.Errorf("Listen(%q) is open to others: %s", addr, ln.Addr())
		}
		ln.Close()
	}
	for _, addr := range []string{"0.0.0.0:0", "192.0.2.1:0", "[::]:0", "example.invalid:0", "a:b:c", "127.0.0.1:port", ""} {
		if ln, err := Listen(addr); err == nil {
			t.Errorf("Listen(%q) opened %s", addr, ln.Addr())
			ln.Close()
		}
	}
}

// A running recording of a pipe, for tests with real connections.
type session struct {
	in   *io.PipeWriter
	dir  string
	tee  string
	stop func() Summary
	told chan string
	seen chan int64 // how many lines have been taken, every second
}

func startSession(t *testing.T) *session {
	t.Helper()
	ln, err := Listen("0")
	if err != nil {
		t.Fatal(err)
	}
	r, w := io.Pipe()
	src, err := NewSource("-", 0, r)
	if err != nil {
		t.Fatal(err)
	}
	s := &session{in: w, dir: t.TempDir(), tee: ln.Addr().String(), told: make(chan string, 100), seen: make(chan int64, 1000)}
	var sum Summary
	ended := make(chan error, 1)
	rec := New(Options{Source: src, Dir: s.dir, Tee: ln, Notify: func(e Event) { s.told <- e.Text }, Show: func(st Status) { s.seen <- st.Lines }})
	go func() {
		var err error
		sum, err = rec.Run(context.Background())
		ended <- err
	}()
	s.stop = func() Summary {
		w.Close()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		return sum
	}
	return s
}

// expect waits until something was told.
func (s *session) expect(t *testing.T, part string) {
	t.Helper()
	for {
		select {
		case text := <-s.told:
			if strings.Contains(text, part) {
				return
			}
		case <-time.After(time.Minute):
			t.Fatalf("nobody was told %q", part)
		}
	}
}

// join connects and waits until the connection is served.
func (s *session) join(t *testing.T) net.Conn {
	t.Helper()
	conn, err := net.Dial("tcp", s.tee)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	s.expect(t, "another program reads along")
	return conn
}

func TestTee(t *testing.T) {
	s := startSession(t)
	from := utc(t, "2026-05-12T08:00:00Z")
	first, second, third := epoch(from, 4), epoch(from.Add(time.Second), 4), epoch(from.Add(2*time.Second), 4)
	io.WriteString(s.in, first)
	for <-s.seen < 3 {
	}
	early := s.join(t)
	io.WriteString(s.in, second[:50])
	io.WriteString(s.in, second[50:])
	r := bufio.NewReader(early)
	got := make([]byte, len(second))
	if _, err := io.ReadFull(r, got); err != nil || string(got) != second {
		t.Fatalf("the first reader got %q, %v, want %q", got, err, second)
	}
	late := s.join(t)
	io.WriteString(s.in, third+"$GNGGA,half a li")
	sum := s.stop()
	for name, conn := range map[string]io.Reader{"first": r, "second": late} {
		if rest, err := io.ReadAll(conn); err != nil || string(rest) != third {
			t.Errorf("the %s reader got %q to the end, %v, want %q", name, rest, err, third)
		}
	}
	if text, err := os.ReadFile(sum.Files[0]); err != nil || string(text) != first+second+third {
		t.Errorf("the log holds %q, %v", text, err)
	}
	if sum.HalfLines != 1 {
		t.Errorf("%d half lines, want 1", sum.HalfLines)
	}
}

// A program that leaves, and one that connects and never reads, do not keep the
// log waiting.
func TestTeeReaderThatDoesNotRead(t *testing.T) {
	s := startSession(t)
	leaves := s.join(t)
	leaves.Close()
	s.expect(t, "left")
	s.join(t) // never reads
	line := strings.Repeat("x", 30000) + "\n"
	var want int64
	slow := make(chan bool)
	go func() {
		s.expect(t, "does not keep up and was let go")
		close(slow)
	}()
	for done := false; !done; {
		select {
		case <-slow:
			done = true
		default:
			io.WriteString(s.in, line)
			want += int64(len(line))
		}
	}
	if sum := s.stop(); sum.Bytes != want {
		t.Errorf("the log holds %d bytes, want %d", sum.Bytes, want)
	}
	if files, _ := filepath.Glob(filepath.Join(s.dir, "*")); len(files) != 1 {
		t.Errorf("files %q", files)
	}
}
