package main

import (
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// fill gives the same byte a number of times.
type fill struct {
	c    byte
	left int64
}

func (f *fill) Read(p []byte) (int, error) {
	if f.left == 0 {
		return 0, io.EOF
	}
	n := int(min(int64(len(p)), f.left))
	for i := range p[:n] {
		p[i] = f.c
	}
	f.left -= int64(n)
	return n, nil
}

// A line without an end, in the middle of a log, takes no memory, is set aside,
// and what stands before and behind it makes the map.
func TestEndlessLine(t *testing.T) {
	t.Parallel()
	demo := demoDay(t)
	log, rows := read(t, demo, "day.nmea"), read(t, demo, "readings.csv")
	header, body, _ := strings.Cut(rows, "\n")
	size := int64(rounds(200, 10_000)) * 1_000_000
	const most = memoryFactor * 120 << 10 // KiB resident; without the line it is some 30 MiB
	for _, c := range []struct {
		name, other string
		stream      io.Reader
	}{
		{"a sentence", "readings.csv", io.MultiReader(strings.NewReader(log[:len(log)/2]+"\n$GNGGA,"), &fill{'9', size}, strings.NewReader("\n"+log[len(log)/2:]))},
		{"a row", "day.nmea", io.MultiReader(strings.NewReader(header+"\n"), &fill{'x', size}, strings.NewReader("\n"+body))},
		{"a quoted cell", "day.nmea", io.MultiReader(strings.NewReader(header+"\n\""), &fill{'x', size}, strings.NewReader("\n"+body))},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			cmd := exec.Command(tracemapProgram(t), "convert", "-", filepath.Join(demo, c.other), "-o", "out", "--format", "csv")
			cmd.Dir, cmd.Stdin = dir, c.stream
			said, err := cmd.CombinedOutput()
			if err != nil {
				t.Fatalf("%v: %.500s", err, said)
			}
			if n := strings.Count(read(t, filepath.Join(dir, "out"), "vertices.csv"), "\n"); n < 50 {
				t.Errorf("%d rows of vertices", n)
			}
			used := cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss
			if used > most {
				t.Errorf("%d KiB in memory, want at most %d", used, most)
			}
			t.Logf("%d MB in one line: %d KiB, %v", size/1e6, used, cmd.ProcessState.UserTime())
		})
	}
}
