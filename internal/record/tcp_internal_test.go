package record

import (
	"context"
	"errors"
	"io"
	"net"
	"os"
	"strings"
	"sync"
	"testing"
	"time"
)

func TestNewSource(t *testing.T) {
	for text, want := range map[string]string{
		"tcp://127.0.0.1:9001":  "tcp://127.0.0.1:9001",
		"TCP://127.0.0.1:9001/": "tcp://127.0.0.1:9001",
		"tcp://[::1]:9001":      "tcp://[::1]:9001",
		"tcp://rover:9001":      "tcp://rover:9001",
		"-":                     "standard input",
		"COM5":                  "COM5",
		"/dev/rfcomm0":          "/dev/rfcomm0",
	} {
		src, err := NewSource(text, 0, strings.NewReader(""))
		if err != nil || src.Name != want {
			t.Errorf("NewSource(%q) is %q, %v, want %q", text, src.Name, err, want)
		}
	}
	dir := t.TempDir()
	for _, text := range []string{"", "tcp://", "tcp://host", "tcp://:9001", "tcp://host:9001/path", "tcp://user@host:9001", "tcp:host:9001", "http://host:1", "udp://host:1", dir} {
		if src, err := NewSource(text, 0, nil); !errors.Is(err, ErrSource) {
			t.Errorf("NewSource(%q) is %q, %v, want %v", text, src.Name, err, ErrSource)
		}
	}
}

// Over real connections that break within a line: every whole line once, in
// order, no half one.
func TestTCP(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	from := utc(t, "2026-05-12T08:00:00Z")
	says := []string{
		epoch(from, 4) + "$GNGGA,080001.00,49",
		"16.4500,N,rest of a line\r\n" + epoch(from.Add(5*time.Second), 4),
		strings.Repeat("\xd3\x00\x13rubbish", 20) + "\n" + epoch(from.Add(9*time.Second), 5),
	}
	ctx, cancel := context.WithCancel(context.Background())
	var server sync.WaitGroup
	server.Go(func() {
		for _, text := range says {
			conn, err := ln.Accept()
			if err != nil {
				t.Error(err)
				return
			}
			io.WriteString(conn, text)
			conn.Close()
		}
		conn, err := ln.Accept() // once more: then all before has been taken
		if err == nil {
			conn.Close()
		}
		cancel()
	})
	src, err := NewSource("tcp://"+ln.Addr().String(), 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	sum, err := New(Options{Source: src, Dir: t.TempDir(), Silence: time.Minute, Notify: func(e Event) { told = append(told, e.Text) }}).Run(ctx)
	server.Wait()
	ln.Close()
	if err != nil {
		t.Fatal(err)
	}
	want := epoch(from, 4) + says[1] + says[2]
	text, err := os.ReadFile(sum.Files[0])
	if err != nil || string(text) != want {
		t.Errorf("the log holds\n%q, %v\nwant\n%q", text, err, want)
	}
	if sum.Opened < 3 || sum.HalfLines != 1 || len(sum.Files) != 1 {
		t.Errorf("summary %+v", sum)
	}
	if all := strings.Join(told, "\n"); !strings.Contains(all, "lost tcp://"+ln.Addr().String()+": EOF; trying again") {
		t.Errorf("told were\n%s", all)
	}
}

// An address where nobody listens is an error at the start.
func TestTCPRefused(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := ln.Addr().String()
	ln.Close()
	src, err := NewSource("tcp://"+addr, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := New(Options{Source: src, Dir: t.TempDir()}).Run(context.Background()); !errors.Is(err, ErrNotOpened) {
		t.Errorf("err = %v, want %v", err, ErrNotOpened)
	}
}
