package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A rotten input never panics, never leaves part of a result, and ends with one
// clear line or with a map in which every row is accounted for.
func TestRottenInputs(t *testing.T) {
	demo := demoDay(t)
	log, good := read(t, demo, "day.nmea"), read(t, demo, "readings.csv")
	header, body, _ := strings.Cut(good, "\n")
	junk := make([]byte, 1<<20)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range junk {
		junk[i] = byte(rng.Uint32())
	}
	cells := func(depth string) string {
		return header + "\n" + strings.Replace(body, "1.", depth, 1)
	}
	for _, c := range []struct {
		name     string
		nmea     string
		readings string
		status   int
		says     string // on standard error
		aside    int    // rows that cannot be read
	}{
		{"whole", log, good, 0, "", 0},
		{"empty readings", log, "", 3, "r is an empty file", 0},
		{"empty receiver's log", "", good, 3, "n is an empty file", 0},
		{"both empty", "", "", 3, "no receiver's log", 0},
		{"junk for readings", log, string(junk), 3, "no readings log", 0},
		{"junk for a receiver's log", string(junk), good, 3, "no receiver's log", 0},
		{"junk around sentences", string(junk) + log + string(junk), good, 0, "", 0},
		{"zero bytes", log, string(make([]byte, 1<<16)), 3, "binary data", 0},
		{"NaN for a depth", log, withRow(good, 3, "depth_m", "NaN"), 0, "line 3, column depth_m: \"NaN\"", 0},
		{"infinite depth", log, withRow(good, 3, "depth_m", "1e999"), 0, "line 3, column depth_m: \"1e999\"", 0},
		{"words for a current", log, withRow(good, 4, "current_ma", "strong"), 0, "line 4, column current_ma: \"strong\"", 0},
		{"impossible time", log, withRow(good, 5, "time", "2026-02-30T08:00:00Z"), 0, "r line 5, column time: \"2026-02-30T08:00:00Z\"", 1},
		{"too few cells", log, header + "\n2026-05-12T08:00:00Z,W1\n" + body, 0, "r line 2: ", 1},
		{"a line of 5 MB", log, header + "\n" + strings.Repeat("x", 5<<20) + "\n" + body, 0, "r line 2: ", 1},
		{"a sentence of 5 MB", "$GNGGA," + strings.Repeat("9", 5<<20) + "\n" + log, good, 0, "", 0},
		{"a cell with a line break that never ends", log, good + "\"2026-05-12T08:00:00Z,W1\n", 0, "", -1},
		{"readings of 1970", log, withRow(good, 3, "time", "1970-01-01T00:00:00Z"), 0, "outside the receiver's log", 0},
		{"readings of the year 9999", log, withRow(good, 3, "time", "9999-12-31T23:59:59Z"), 0, "outside the receiver's log", 0},
		{"commands for a terminal in a cell", log, withRow(good, 3, "depth_m", "\x1b]0;owned\a\x1b[2J"), 0, "r line 3", 1},
		{"half a line at the end", log[:len(log)-20], good[:len(good)-30], 0, "", -1},
		{"cells spoilt in the first row", log, cells("1..2"), 0, "", -1},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			t.Chdir(dir)
			for name, text := range map[string]string{"n": c.nmea, "r": c.readings} {
				if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			var out, err bytes.Buffer
			got := run([]string{"convert", "n", "r", "-o", "out", "--format", "csv", "--json"}, strings.NewReader(""), &out, &err)
			if got != c.status {
				t.Fatalf("status %d, want %d: %s", got, c.status, err.String())
			}
			if !strings.Contains(err.String(), c.says) {
				t.Errorf("standard error lacks %q:\n%s", c.says, err.String())
			}
			if strings.ContainsAny(err.String(), "\x1b\a") {
				t.Errorf("control characters on standard error: %q", err.String())
			}
			entries, _ := os.ReadDir(dir)
			if c.status != 0 {
				if n := strings.Count(err.String(), "tracemap: error: "); n != 1 || out.Len() > 0 || len(entries) != 2 {
					t.Errorf("%d error lines, output %q, folder %v; want one line and nothing written:\n%s", n, out.String(), entries, err.String())
				}
				return
			}
			checkAccount(t, out.Bytes(), c.aside)
		})
	}
}

// checkAccount demands that every row went somewhere; aside < 0 leaves open how
// many could not be read.
func checkAccount(t *testing.T, summary []byte, aside int) {
	t.Helper()
	var s struct {
		Readings struct{ Total, Placed, Unplaced, Malformed int }
	}
	if err := json.Unmarshal(summary, &s); err != nil {
		t.Fatal(err)
	}
	r := s.Readings
	if r.Total == 0 || r.Total != r.Placed+r.Unplaced || aside >= 0 && r.Malformed != aside {
		t.Errorf("readings %+v: want total = placed + unplaced and %d malformed", r, aside)
	}
	rows := strings.Count(read(t, "out", "readings.csv"), "\n") - 1
	if rows != r.Total {
		t.Errorf("readings.csv has %d rows, want %d", rows, r.Total)
	}
}

func read(t *testing.T, dir, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// withRow gives a log with one cell replaced; line counts from 1 at the header.
func withRow(log string, line int, column, cell string) string {
	lines := strings.Split(log, "\n")
	at := -1
	for i, name := range strings.Split(strings.TrimSpace(lines[0]), ",") {
		if name == column {
			at = i
		}
	}
	if at < 0 {
		panic(fmt.Sprintf("no column %s", column))
	}
	cells := strings.Split(lines[line-1], ",")
	cells[at] = cell
	lines[line-1] = strings.Join(cells, ",")
	return strings.Join(lines, "\n")
}
