package readings_test

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"tracemap/readings"
)

// Whatever the bytes: no panic, rows add up, measurements are finite or NaN,
// texts are UTF-8 without control characters, and reading twice gives the same.
func FuzzRead(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(samples, "*.csv"))
	if err != nil || len(files) == 0 {
		f.Fatalf("samples = %d, error %v", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		readings.Sniff(text)
		zone := time.FixedZone("", -12345)
		log, err := readings.Read(context.Background(), []readings.Source{{Name: "f.csv", R: bytes.NewReader(text)}}, readings.Options{Zone: zone})
		if err != nil {
			if !strings.HasPrefix(err.Error(), "reading f.csv: ") || strings.ContainsRune(err.Error(), '\n') {
				t.Errorf("error = %q, want one line that starts with the file", err)
			}
			return
		}
		if got := len(log.Readings) + len(log.Aside); got != log.Rows {
			t.Errorf("readings %d + set aside %d, want rows %d", len(log.Readings), len(log.Aside), log.Rows)
		}
		for i := range log.Readings {
			checkSound(t, &log.Readings[i])
		}
		for _, a := range log.Aside {
			if a.Row < 2 || a.Reason == "" || !utf8.ValidString(a.Found) {
				t.Errorf("set aside %+v, want a line, a reason and text", a)
			}
		}
	})
}

func checkSound(t *testing.T, r *readings.Reading) {
	for name, v := range map[string]float64{"frequency": r.Frequency, "depth": r.Depth, "current": r.Current, "signal": r.Signal,
		"gain": r.Gain, "compass": r.Compass, "null offset": r.NullOffset, "bottom": r.BottomCoil, "top": r.TopCoil, "spacing": r.CoilSpacing,
		"coil depth": r.CoilDepth, "coil current": r.CoilCurrent, "diameter": r.Diameter, "measured depth": r.MeasuredDepth,
		"lat": r.Lat, "lon": r.Lon, "hdop": r.HDOP} {
		if math.IsInf(v, 0) {
			t.Errorf("line %d: %s is infinite", r.Row, name)
		}
	}
	if math.Abs(r.Lat) > 90 || math.IsNaN(r.Lat) != math.IsNaN(r.Lon) {
		t.Errorf("line %d: position %v, %v", r.Row, r.Lat, r.Lon)
	}
	for _, s := range []string{r.Line, string(r.Utility), r.Feature, r.Fix, r.Note} {
		if !utf8.ValidString(s) || strings.ContainsAny(s, "\x00\x01\x1b\x7f") {
			t.Errorf("line %d: text %q", r.Row, s)
		}
	}
}

// A mapping of whatever bytes is refused with one line, or read.
func FuzzLoadMapping(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(samples, "*.toml"))
	if err != nil || len(files) == 0 {
		f.Fatalf("mappings = %d, error %v", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
	f.Fuzz(func(t *testing.T, text string) {
		m, err := readings.LoadMapping(strings.NewReader(text), "m.toml")
		if err != nil {
			if !strings.HasPrefix(err.Error(), "reading m.toml") || strings.ContainsRune(err.Error(), '\n') {
				t.Errorf("error = %q, want one line that starts with the file", err)
			}
			return
		}
		_, _ = readings.Read(context.Background(), []readings.Source{
			{Name: "f.csv", R: strings.NewReader("time,a,depth_m\n2026-03-05T08:00:00Z,x,1.2\n")}}, readings.Options{Columns: m})
	})
}
