package survey_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tracemap/internal/survey"
	"tracemap/readings"
)

const (
	gga  = "$GNGGA,063000.00,4729.9946675,N,01744.9880640,W,4,29,0.90,16.223,M,58.300,M,1.2,0000*46\r\n"
	rmc  = "$GNRMC,063000.00,A,4729.9946675,N,01744.9880640,W,0.094,,120526,,,R,V*1C\r\n"
	rows = "time,line,depth_m\n2026-05-12T06:30:00Z,W1,1.2\n"
)

func packed(t testing.TB, text string) string {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	io.WriteString(z, text)
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func source(name, data string) survey.Source {
	return survey.Source{Name: name, Size: int64(len(data)), Open: func() (io.ReadCloser, error) {
		return io.NopCloser(strings.NewReader(data)), nil
	}}
}

func open(t *testing.T, sources ...survey.Source) *survey.Inputs {
	t.Helper()
	in, err := survey.Open(t.Context(), sources)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// The kind comes from the content: every name here lies.
func TestKindIsToldFromContent(t *testing.T) {
	utf16 := "\xff\xfe"
	for _, b := range []byte(rows) {
		utf16 += string([]byte{b, 0})
	}
	for _, c := range []struct{ name, data, want string }{
		{"a.csv", gga + rmc, "nmea"},
		{"b.nmea", rows, "readings"},
		{"c.txt", packed(t, gga+rmc), "nmea"},
		{"d.nmea", packed(t, rows), "readings"},
		{"e.csv", "\ufeff" + rows, "readings"},
		{"f.csv", strings.ReplaceAll(rows, ",", ";"), "readings"},
		{"g.csv", utf16, "readings"},
		{"h.nmea", strings.Repeat("\x00\xb5\x62", 500) + gga + rmc, "nmea"},
	} {
		in := open(t, source(c.name, c.data))
		day, err := survey.Inspect(t.Context(), in, survey.DefaultOptions())
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		inputs := day.Summary().Inputs
		sum := sha256.Sum256([]byte(c.data))
		if len(inputs) != 1 || inputs[0].Kind != c.want || inputs[0].SHA256 != hex.EncodeToString(sum[:]) {
			t.Errorf("%s: inputs = %+v, want kind %s and SHA-256 %x of the stored bytes", c.name, inputs, c.want, sum)
		}
	}
}

// A recording's marks stand on UTC: they are read by themselves, and not with
// readings whose clock is the locator's.
func TestMarksAreNoReadingsOfTheLocator(t *testing.T) {
	marks := strings.Join(readings.MarkColumns, ",") + "\n2026-05-12T06:30:00.000Z,note,gate,,,,,\n"
	in := open(t, source("marks.csv", marks), source("day.nmea", gga+rmc))
	if got := in.Kinds()[0].Kind; got != survey.Readings || len(in.Warnings) != 0 {
		t.Errorf("alone: %s, warnings %q", got, in.Warnings)
	}
	in = open(t, source("marks.csv", marks), source("day.nmea", gga+rmc), source("readings.csv", rows))
	if got := in.Kinds()[0].Kind; got != survey.Unknown || len(in.Warnings) != 1 || !strings.Contains(in.Warnings[0], "--sync") || in.FirstReadings() != "readings.csv" {
		t.Errorf("beside readings: %s, warnings %q, first readings log %q", got, in.Warnings, in.FirstReadings())
	}
}

func TestForeignContentIsNamed(t *testing.T) {
	for _, c := range []struct{ data, want string }{
		{"", "an empty file"},
		{"\n \n", "a blank file"},
		{"PK\x03\x04rest", "ZIP archive or a spreadsheet"},
		{"%PDF-1.7", "a PDF document"},
		{`{"type":"FeatureCollection"}`, "JSON"},
		{"<kml/>", "KML"},
		{strings.Repeat("\x00\x01\x02\xff", 100), "binary data"},
		{"hello world\n", "text without"},
		{"\x1f\x8bjunk", "damaged gzip"},
	} {
		_, err := survey.Run(t.Context(), open(t, source("x", c.data)), survey.DefaultOptions())
		if !errors.Is(err, survey.ErrNoMap) || !strings.Contains(err.Error(), "x is "+c.want) && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.20q: error %v, want ErrNoMap and %q", c.data, err, c.want)
		}
		in := open(t, source("x", c.data), source("y", gga+rmc))
		if len(in.Warnings) != 1 || !strings.Contains(in.Warnings[0], c.want) {
			t.Errorf("%.20q beside a log: warnings %q, want one with %q", c.data, in.Warnings, c.want)
		}
	}
}

// What a broken-off gzip file gives up is used, and said.
func TestBrokenGzipIsUsedAsFarAsItGoes(t *testing.T) {
	long := strings.Builder{}
	long.WriteString("time,line,depth_m\n")
	for i := range 5000 {
		fmt.Fprintf(&long, "2026-05-12T06:%02d:%02d.%03dZ,W%d,1.%d\n", i/60%60, i%60, i*7919%1000, i*31%17, i*i%97)
	}
	whole := packed(t, long.String())
	cut := whole[:len(whole)*2/3]
	day, err := survey.Inspect(t.Context(), open(t, source("cut.gz", cut)), survey.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	s := day.Summary()
	sum := sha256.Sum256([]byte(cut))
	if got := s.Inputs[0]; got.SHA256 != hex.EncodeToString(sum[:]) || got.Rows < 2500 || got.Rows > 4500 {
		t.Errorf("inputs = %+v, want the hash of the cut file and about two thirds of 5000 rows", got)
	}
	if !contains(s.Warnings, "breaks off") {
		t.Errorf("warnings %q, want one that the file breaks off", s.Warnings)
	}

	bad := []byte(whole)
	bad[len(bad)-6] ^= 0xff // in the checksum
	day, err = survey.Inspect(t.Context(), open(t, source("bad.gz", string(bad))), survey.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if s := day.Summary(); s.Inputs[0].Rows != 5000 || !contains(s.Warnings, "gzip checksum is wrong") {
		t.Errorf("wrong checksum: %+v, %q", s.Inputs, s.Warnings)
	}
}

func contains(list []string, part string) bool {
	for _, s := range list {
		if strings.Contains(s, part) {
			return true
		}
	}
	return false
}

func TestPaths(t *testing.T) {
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a.nmea"), filepath.Join(dir, "b.nmea")
	for _, p := range []string{a, b} {
		if err := os.WriteFile(p, []byte(gga), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	sources, warnings, err := survey.Paths([]string{a, "-", b, filepath.Join(dir, ".", "a.nmea")}, strings.NewReader(rows))
	if err != nil || len(sources) != 3 || len(warnings) != 1 || !strings.Contains(warnings[0], "same file") {
		t.Errorf("Paths = %d sources, %q, %v; want 3, one warning", len(sources), warnings, err)
	}
	for _, c := range []struct {
		paths []string
		want  string
	}{
		{[]string{"-", "-"}, "twice"},
		{[]string{dir}, "is a folder"},
		{[]string{filepath.Join(dir, "none")}, "none"},
	} {
		if _, _, err := survey.Paths(c.paths, nil); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("Paths(%q) = %v, want an error with %q", c.paths, err, c.want)
		}
	}
}

// Readings counted twice would make a line look surer than it is.
func TestSameBytesAreReadOnce(t *testing.T) {
	in := open(t, source("a.csv", rows), source("copy.csv", rows), source("b.csv", rows+"2026-05-12T06:31:00Z,W1,1.3\n"))
	day, err := survey.Inspect(t.Context(), in, survey.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	s := day.Summary()
	if s.Readings.Total != 2 || len(s.Inputs) != 2 || !contains(s.Warnings, "copy.csv holds the same bytes as a.csv") || !contains(s.Warnings, "count once: 1") {
		t.Errorf("total %d, inputs %+v, warnings %q; want 2 readings of two logs, of which one stands in both, and warnings", s.Readings.Total, s.Inputs, s.Warnings)
	}
}

// Reading from a pipe that never speaks ends with the context.
func TestWaitingReadEndsWithContext(t *testing.T) {
	r, w := io.Pipe()
	defer w.Close()
	ctx, cancel := context.WithCancel(t.Context())
	sources, _, err := survey.Paths([]string{"-"}, r)
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		io.WriteString(w, gga) // and then silence
		cancel()
	}()
	if _, err := survey.Open(ctx, sources); !errors.Is(err, context.Canceled) {
		t.Errorf("Open = %v, want context.Canceled", err)
	}
}

func TestDeviceErrorIsNotAboutContent(t *testing.T) {
	broken := errors.New("device is gone")
	for _, text := range []string{rows, gga + rmc} {
		n := 0
		src := survey.Source{Name: "x", Open: func() (io.ReadCloser, error) {
			n++
			if n == 1 {
				return io.NopCloser(strings.NewReader(text)), nil
			}
			return io.NopCloser(io.MultiReader(strings.NewReader(text), failing{broken})), nil
		}}
		_, err := survey.Inspect(t.Context(), open(t, src), survey.DefaultOptions())
		if !errors.Is(err, broken) || errors.Is(err, survey.ErrNoMap) {
			t.Errorf("%.10q: error %v, want %v and not ErrNoMap", text, err, broken)
		}
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }
