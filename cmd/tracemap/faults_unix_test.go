//go:build unix

package main

import (
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// shell runs convert of the invented day by a line of sh, in a folder with an
// older result in out: $0 is the program, $1 the invented day.
func shell(t *testing.T, demo, dir, line string) (status int, stderr string) {
	t.Helper()
	cmd := exec.Command("sh", "-c", line, tracemapProgram(t), demo)
	cmd.Dir = dir
	var errs strings.Builder
	cmd.Stderr = &errs
	cmd.Run() // its status is looked at
	return cmd.ProcessState.ExitCode(), errs.String()
}

const convertDemo = `"$0" convert "$1/day.nmea" "$1/readings.csv" -o out --overwrite --format csv `

// With less memory than it needs the program ends by itself or by the runtime,
// and the folder is the older result or the new one, never half of it.
func TestShortOfMemory(t *testing.T) {
	t.Parallel()
	demo, dir := demoDay(t), t.TempDir()
	out := filepath.Join(dir, "out")
	if status, said := shell(t, demo, dir, convertDemo+"--job old"); status != 0 {
		t.Fatal(said)
	}
	older := outcome(t, out)
	if status, said := shell(t, demo, dir, convertDemo+"--job new"); status != 0 {
		t.Fatal(said)
	}
	newer := outcome(t, out)

	// Little for the collector is no reason to fail, or to answer otherwise.
	if status, said := shell(t, demo, dir, "GOMEMLIMIT=4MiB "+convertDemo+"--job new"); status != 0 || !maps.Equal(outcome(t, out), newer) {
		t.Errorf("GOMEMLIMIT=4MiB: status %d, %s", status, said)
	}
	if runtime.GOOS != "linux" {
		return // elsewhere ulimit -v does nothing, or stops the shell itself
	}
	failed := 0
	for _, limit := range []string{"50000", "100000", "150000", "1200000", "1250000", "1300000", "1400000"} { // KiB of addresses
		if status, said := shell(t, demo, dir, convertDemo+"--job old"); status != 0 {
			t.Fatal(said)
		}
		status, said := shell(t, demo, dir, "ulimit -v "+limit+" && exec "+convertDemo+"--job new")
		switch got := outcome(t, out); {
		case maps.Equal(got, newer): // also where memory ran out after it was in place
		case status != 0 && maps.Equal(got, older):
			failed++
		default:
			t.Errorf("ulimit -v %s: status %d and a folder of %d files; it said %.300s", limit, status, len(got), said)
		}
	}
	if failed == 0 {
		t.Error("no limit was too little: the test tests nothing")
	}
}

// A reader that goes away, and an output that is full, are told; the folder is
// whole all the same.
func TestStandardOutputGone(t *testing.T) {
	t.Parallel()
	demo, dir := demoDay(t), t.TempDir()
	if status, said := shell(t, demo, dir, convertDemo); status != 0 {
		t.Fatal(said)
	}
	want := outcome(t, filepath.Join(dir, "out"))
	for _, c := range []struct{ name, line, says string }{
		{"broken pipe", `{ ` + convertDemo + `--json; echo $? >status; } | true; exit $(cat status)`, ""},
		{"full", convertDemo + `--json >/dev/full`, "tracemap: error: writing to standard output: no space left on device\n"},
	} {
		if _, err := os.Stat("/dev/full"); err != nil && c.name == "full" {
			continue // Linux alone has it
		}
		os.RemoveAll(filepath.Join(dir, "out"))
		status, said := shell(t, demo, dir, c.line)
		// A broken pipe ends the process by its signal, as it does cat's.
		if c.name == "broken pipe" {
			if status != 128+13 && status != 0 && status != statusFailed {
				t.Errorf("%s: status %d: %s", c.name, status, said)
			}
		} else if status != statusFailed || !strings.Contains(said, c.says) {
			t.Errorf("%s: status %d, want %d and %q: %s", c.name, status, statusFailed, c.says, said)
		}
		if !maps.Equal(outcome(t, filepath.Join(dir, "out")), want) {
			t.Errorf("%s: the folder is not whole", c.name)
		}
	}
	if status, said := shell(t, demo, dir, `"$0" --help >/dev/full`); status != statusFailed && runtime.GOOS == "linux" {
		t.Errorf("help into a full device: status %d: %s", status, said)
	}
}

// A folder that may not be written to is one clear line, before any work; root
// may write everywhere but into the kernel's own file systems.
func TestFolderMayNotBeWritten(t *testing.T) {
	demo, dir := demoDay(t), t.TempDir()
	parent := filepath.Join(dir, "locked")
	if err := os.Mkdir(parent, 0o555); err != nil {
		t.Fatal(err)
	}
	if os.Getuid() == 0 {
		if runtime.GOOS != "linux" {
			t.Skip("root may write everywhere")
		}
		parent = "/proc"
	}
	for _, verb := range []string{`convert "$1/day.nmea" "$1/readings.csv" -o `, "demo "} {
		status, said := shell(t, demo, dir, `"$0" `+verb+parent+"/out")
		if lines := strings.Count(said, "\n"); status != statusFailed || lines != 1 || !strings.Contains(said, parent) {
			t.Errorf("%s: status %d, want %d and one line that names the folder: %s", verb, status, statusFailed, said)
		}
	}
}
