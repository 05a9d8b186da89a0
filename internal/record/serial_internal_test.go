//go:build unix

package record

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/term"
)

// A cable is a pseudo-terminal whose port end has a name that stays when it is
// plugged in again, as the links in /dev/serial do.
type cable struct {
	receiver, port *os.File
	name           string
}

func plug(t *testing.T, name string) *cable {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil { // a cable changes no line ends
		t.Fatal(err)
	}
	os.Remove(name)
	if err := os.Symlink(slave.Name(), name); err != nil {
		t.Fatal(err)
	}
	c := &cable{master, slave, name}
	t.Cleanup(c.unplug)
	return c
}

func (c *cable) unplug() {
	os.Remove(c.name)
	c.receiver.Close()
	c.port.Close()
}

// A port that is pulled out within a line and plugged in again.
func TestSerial(t *testing.T) {
	name := filepath.Join(t.TempDir(), "port")
	from := utc(t, "2026-05-12T08:00:00Z")
	src, err := NewSource(name, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	first := plug(t, name)
	told := make(chan string, 100)
	expect := func(part string) {
		t.Helper()
		for {
			select {
			case text := <-told:
				if strings.Contains(text, part) {
					return
				}
			case <-time.After(time.Minute):
				t.Fatalf("nobody was told %q", part)
			}
		}
	}
	lines := make(chan int64, 1000)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	rec := New(Options{Source: src, Dir: t.TempDir(), Silence: time.Minute,
		Notify: func(e Event) { told <- e.Text }, Show: func(s Status) { lines <- s.Lines }})
	type result struct {
		Summary
		err error
	}
	ended := make(chan result)
	go func() {
		sum, err := rec.Run(ctx)
		ended <- result{sum, err}
	}()
	io.WriteString(first.receiver, epoch(from, 4))
	expect("reading " + name + ", 115200 baud")
	io.WriteString(first.receiver, "$GNGGA,080001.00,49")
	for <-lines < 3 {
	}
	first.unplug()
	expect("lost " + name + ": ")
	second := plug(t, name)
	io.WriteString(second.receiver, "\x00\xff"+epoch(from.Add(time.Second), 4))
	for <-lines < 6 {
	}
	cancel()
	got := <-ended
	if got.err != nil {
		t.Fatal(got.err)
	}
	want := epoch(from, 4) + "\x00\xff" + epoch(from.Add(time.Second), 4)
	if text, err := os.ReadFile(got.Files[0]); err != nil || string(text) != want {
		t.Errorf("the log holds\n%q, %v\nwant\n%q", text, err, want)
	}
	if got.HalfLines != 1 || got.Opened != 2 {
		t.Errorf("summary %+v", got.Summary)
	}
}

// A port at a given rate gives what comes, and nothing while nothing comes.
func TestSerialGivenBaud(t *testing.T) {
	c := plug(t, filepath.Join(t.TempDir(), "port"))
	s, err := openSerial(context.Background(), c.name, 9600)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if s.About() != "9600 baud" {
		t.Errorf("about %q", s.About())
	}
	buf := make([]byte, 100)
	if n, err := s.Read(buf); n != 0 || err != nil {
		t.Errorf("a silent port gave %d bytes, %v", n, err)
	}
	io.WriteString(c.receiver, "hello\r\n")
	if n, err := s.Read(buf); string(buf[:n]) != "hello\r\n" || err != nil {
		t.Errorf("read %q, %v", buf[:n], err)
	}
}

// Nothing but rubbish at every rate: the port is left at the first. A
// pseudo-terminal takes any rate, so that which one is right cannot be tried here.
func TestSerialRubbish(t *testing.T) {
	c := plug(t, filepath.Join(t.TempDir(), "port"))
	io.WriteString(c.receiver, "\xb5\x62\x01\x07")
	opened, err := openSerial(context.Background(), c.name, 9600)
	if err != nil {
		t.Fatal(err)
	}
	defer opened.Close()
	s := opened.(*serialStream)
	if err := s.findBaud(context.Background(), time.Millisecond); err != nil {
		t.Fatal(err)
	}
	if want := "no sentence at any baud rate, left at 115200 baud"; s.About() != want || s.heard != nil {
		t.Errorf("about %q, want %q", s.About(), want)
	}
}

func TestSerialErrors(t *testing.T) {
	dir := t.TempDir()
	notAPort := filepath.Join(dir, "fifo")
	if err := os.WriteFile(notAPort, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		filepath.Join(dir, "none"): "there is no such port",
		notAPort:                   "it is no serial port",
	} {
		_, err := openSerial(context.Background(), name, 9600)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("openSerial(%s): %v, want %q", filepath.Base(name), err, want)
		}
	}
	c := plug(t, filepath.Join(dir, "port"))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := openSerial(ctx, c.name, 0); !errors.Is(err, context.Canceled) {
		t.Errorf("an interrupted search for the baud rate: %v", err)
	}
}
