//go:build unix

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// When the disk is full there is a clear line, status 1, and nothing is left;
// an older result is untouched.
func TestFullDisk(t *testing.T) {
	demo := demoDay(t)
	for _, way := range []struct {
		name string
		make func(t *testing.T, dir string) (shell string) // what to put before the command
	}{
		// 64 blocks of 512 bytes, less than the log's own size.
		{"limited file size", func(*testing.T, string) string { return "ulimit -f 64 && " }},
		{"full file system", mountSmall},
	} {
		t.Run(way.name, func(t *testing.T) {
			dir := t.TempDir()
			before := way.make(t, dir)
			old := filepath.Join(dir, "out")
			if err := os.Mkdir(old, 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(old, "lines.csv"), []byte("older result"), 0o666); err != nil {
				t.Fatal(err)
			}
			for _, format := range []string{"csv", "geojson", "kml", "gpkg", "dxf", "shp"} {
				cmd := exec.Command("sh", "-c", before+`exec "$0" convert "$1/day.nmea" "$1/readings.csv" -o out --overwrite --format `+format,
					tracemapProgram(t), demo)
				cmd.Dir = dir
				var stderr strings.Builder
				cmd.Stderr = &stderr
				err := cmd.Run()
				if code := cmd.ProcessState.ExitCode(); code != statusFailed {
					t.Fatalf("%s: status %d (%v), want %d: %s", format, code, err, statusFailed, stderr.String())
				}
				if n := strings.Count(stderr.String(), "tracemap: error: "); n != 1 || !strings.Contains(stderr.String(), "out was not written: ") {
					t.Errorf("%s: %d error lines, want one that names the folder:\n%s", format, n, stderr.String())
				}
				entries, _ := os.ReadDir(dir)
				if text, err := os.ReadFile(filepath.Join(old, "lines.csv")); len(entries) != 1 || err != nil || string(text) != "older result" {
					t.Errorf("%s: left %v; older result %q, %v", format, entries, text, err)
				}
			}
		})
	}
}
