//go:build unix

package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"

	"tracemap/internal/outdir"
	"tracemap/internal/survey"
)

// The program as a process, built once.
var program = struct {
	sync.Once
	path string
	err  error
}{}

func tracemapProgram(t *testing.T) string {
	t.Helper()
	// testscript.Main put the commands of scripts on the path: tracemap is this
	// test binary itself.
	program.Do(func() { program.path, program.err = exec.LookPath("tracemap") })
	if program.err != nil {
		t.Fatal(program.err)
	}
	return program.path
}

// An interrupt while input is awaited ends the run with 130 and leaves nothing.
func TestInterruptWhileReading(t *testing.T) {
	demo := demoDay(t)
	for _, sig := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		dir := t.TempDir()
		cmd := exec.Command(tracemapProgram(t), "convert", "-", demo+"/readings.csv", "-o", "out")
		cmd.Dir = dir
		var stderr strings.Builder
		cmd.Stderr = &stderr
		in, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		// A pipe holds 64 KiB: when all is written, most of it has been read, and the
		// program waits for more.
		if _, err := io.WriteString(in, read(t, demo, "day.nmea")); err != nil {
			t.Fatal(err)
		}
		if err := cmd.Process.Signal(sig); err != nil {
			t.Fatal(err)
		}
		cmd.Wait()
		in.Close()
		if code := cmd.ProcessState.ExitCode(); code != statusInterrupted {
			t.Errorf("%v: status %d, want %d: %s", sig, code, statusInterrupted, stderr.String())
		}
		if got, want := stderr.String(), "tracemap: error: interrupted; nothing was written\n"; got != want {
			t.Errorf("%v: standard error %q, want %q", sig, got, want)
		}
		if entries, _ := os.ReadDir(dir); len(entries) > 0 {
			t.Errorf("%v: left %v", sig, entries)
		}
	}
}

// An interrupt while files are written removes them, and a folder that was
// there is untouched.
func TestInterruptWhileWriting(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	if err := os.Mkdir("out", 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("out/lines.csv", []byte("older"), 0o666); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	c := newConsole(nil, io.Discard, io.Discard)
	err := write(ctx, c, target{path: "out", opt: outdir.Options{Overwrite: true, Ours: survey.Ours}}, func(path string) error {
		defer cancel() // the interrupt, after the last file
		return os.WriteFile(path+"/lines.csv", []byte("newer"), 0o666)
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("write = %v, want context.Canceled", err)
	}
	entries, _ := os.ReadDir(dir)
	if text := read(t, "out", "lines.csv"); len(entries) != 1 || text != "older" {
		t.Errorf("left %v, older result %q", entries, text)
	}
}
