package record

import (
	"errors"
	"io"
	"net"
	"strings"
	"testing"
	"testing/synctest"

	"tracemap/internal/parallel"
)

// A defect in any goroutine of a recording ends it with an error that names where it
// was, never the process; what was received by then is kept.
func TestFaultsOfARecording(t *testing.T) {
	for _, c := range []struct {
		part string
		kept bool // the receiver was heard before
	}{{"receiving", false}, {"bringing a log to the disk", true}, {"closing a log", true}} {
		t.Run(c.part, func(t *testing.T) {
			defer parallel.Break(c.part)()
			synctest.Test(t, func(t *testing.T) {
				steps := seconds(utc(t, "2026-05-12T08:00:00Z"), 5, 4)
				d := newMemory()
				_, _, err := recordPlay(t, t.Context(), &receiver{connections: [][]step{steps}, end: errEnd}, d, nil)
				var f *parallel.Fault
				if !errors.As(err, &f) || f.Part != c.part {
					t.Errorf("error %v", err)
				}
				if want := said(steps); c.kept && !strings.HasPrefix(d.logs(false), want) {
					t.Errorf("logs hold\n%s\nwant\n%s", d.logs(false), want)
				}
			})
		})
	}
}

// A defect while a pipe is read is the error of its reader.
func TestFaultOfAPipe(t *testing.T) {
	defer parallel.Break("reading a pipe")()
	p := newPipe(strings.NewReader("$GNGGA"))
	defer p.Close()
	_, err := io.ReadAll(p)
	var f *parallel.Fault
	if !errors.As(err, &f) {
		t.Errorf("error %v", err)
	}
}

// A defect in what serves other programs is told; it does not end the recording.
func TestFaultOfATee(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer parallel.Break("accepting a program")()
	x := newTee(ln)
	if text := <-x.news; !strings.HasPrefix(text, "accepting a program failed by a defect") {
		t.Errorf("told %q", text)
	}
	x.close()
}
