package otherdays_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"tracemap/internal/lab/otherdays"
)

func invent(t *testing.T, kind string, seed uint64) *otherdays.Day {
	t.Helper()
	day, err := otherdays.Make(kind, seed)
	if err != nil {
		t.Fatal(err)
	}
	return day
}

func TestTheSameSeedMakesTheSameBytes(t *testing.T) {
	for i, kind := range otherdays.Kinds() {
		if i%6 != 0 { // the same steps make all of them
			continue
		}
		a, b, c := invent(t, kind, 1), invent(t, kind, 1), invent(t, kind, 2)
		if !bytes.Equal(a.NMEA, b.NMEA) || !bytes.Equal(a.Readings, b.Readings) {
			t.Errorf("%s: seed 1 made two days", kind)
		}
		if bytes.Equal(a.NMEA, c.NMEA) || bytes.Equal(a.Readings, c.Readings) {
			t.Errorf("%s: seeds 1 and 2 made one day", kind)
		}
	}
	if _, err := otherdays.Make("no such kind", 1); err == nil {
		t.Error("a kind that is not there made a day")
	}
}

// Every sentence carries the XOR of what stands between $ and *, and every
// reading the time, line, depth and current of a log that makes sense.
func TestLogsAreSound(t *testing.T) {
	for _, kind := range otherdays.Kinds() {
		day := invent(t, kind, 3)
		for line := range strings.Lines(string(day.NMEA)) {
			body, sum, ok := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(line, "$"), "\r\n"), "*")
			var x byte
			for i := range len(body) {
				x ^= body[i]
			}
			if want, err := strconv.ParseUint(sum, 16, 8); !ok || err != nil || byte(want) != x {
				t.Fatalf("%s: checksum of %q is %02X", kind, line, x)
			}
		}
		rows, err := csv.NewReader(bytes.NewReader(day.Readings)).ReadAll()
		if err != nil {
			t.Fatalf("%s: %v", kind, err)
		}
		column := map[string]int{}
		for i, name := range rows[0] {
			column[name] = i
		}
		known := map[string][]otherdays.Point{}
		for _, l := range day.Truth.Lines {
			known[l.Name] = l.Points
		}
		if len(rows) < 40 {
			t.Errorf("%s: %d readings, want a day's", kind, len(rows)-1)
		}
		for _, row := range rows[1:] {
			if known[row[column["line"]]] == nil {
				t.Fatalf("%s: reading of unknown line %q", kind, row[column["line"]])
			}
			cell := row[column["depth_m"]]
			if z, err := strconv.ParseFloat(cell, 64); cell != "" && (err != nil || z < 0.1 || z > 12) {
				t.Errorf("%s: depth %q", kind, cell)
			}
		}
		if day.Truth.End.Sub(day.Truth.Start).Minutes() > 180 {
			t.Errorf("%s: takes %v", kind, day.Truth.End.Sub(day.Truth.Start))
		}
		for _, l := range day.Truth.Lines {
			for _, p := range l.Points {
				if p.Depth < 0.4 || p.Depth > 7 || math.IsNaN(p.Lat+p.Lon+p.Ground) {
					t.Fatalf("%s: point %+v of %s", kind, p, l.Name)
				}
			}
		}
	}
}
