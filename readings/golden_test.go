package readings_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the same zones on every machine

	"tracemap/readings"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const samples = "../testdata/readings"

// zones of the samples that need one; the others have offsets or take UTC.
var zones = map[string]string{"clock-change": "Europe/Vienna"}

// Each sample, named for its shape, gives the readings, the rows set aside and
// the remarks of its .want.csv. Those files were read by eye against the sample.
func TestSamples(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(samples, "*.csv"))
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, file := range files {
		shape := strings.TrimSuffix(filepath.Base(file), ".csv")
		if strings.HasSuffix(shape, ".want") {
			continue
		}
		seen++
		t.Run(shape, func(t *testing.T) {
			if _, err := os.Stat(filepath.Join(samples, shape+".about")); err != nil {
				t.Error(err)
			}
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if !readings.Sniff(text) {
				t.Error("Sniff says it is no readings log")
			}
			log, err := readings.Read(context.Background(), []readings.Source{{Name: shape + ".csv", R: bytes.NewReader(text)}}, sampleOptions(t, shape))
			if err != nil {
				t.Fatal(err)
			}
			if got := len(log.Readings) + len(log.Aside); got != log.Rows {
				t.Errorf("readings %d + set aside %d, want rows %d", len(log.Readings), len(log.Aside), log.Rows)
			}
			if len(log.Aside)+len(log.Cells) == 0 {
				t.Error("the sample has no bad row and no bad cell")
			}
			checkGolden(t, filepath.Join(samples, shape+".want.csv"), wanted(log))
		})
	}
	if seen < 13 {
		t.Errorf("samples = %d, want 13 or more", seen)
	}
}

func sampleOptions(t *testing.T, shape string) (opt readings.Options) {
	t.Helper()
	if name := zones[shape]; name != "" {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		opt.Zone = zone
	}
	name := filepath.Join(samples, shape+".toml")
	if f, err := os.Open(name); err == nil {
		defer f.Close()
		if opt.Columns, err = readings.LoadMapping(f, shape+".toml"); err != nil {
			t.Fatal(err)
		}
	}
	return opt
}

func checkGolden(t *testing.T, name string, got []byte) {
	t.Helper()
	if *update {
		if err := os.WriteFile(name, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatalf("%v (go test -update writes it)", err)
	}
	want = bytes.ReplaceAll(want, []byte("\r\n"), []byte("\n"))
	gotLines, wantLines := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
	for i := range max(len(gotLines), len(wantLines)) {
		g, w := "(end)", "(end)"
		if i < len(gotLines) {
			g = gotLines[i]
		}
		if i < len(wantLines) {
			w = wantLines[i]
		}
		if g != w {
			t.Errorf("%s line %d:\ngot  %s\nwant %s", name, i+1, g, w)
			return
		}
	}
}

// wanted writes a log as a table: readings, rows set aside, remarks.
func wanted(log *readings.Log) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	write := func(cells ...string) { _ = w.Write(cells) }
	write("row", "utc", "line", "utility", "method", "response", "feature", "hz", "depth", "ma", "pct", "db", "deg", "null_offset",
		"bottom", "top", "spacing", "coil_depth", "coil_ma", "diameter", "measured", "lat", "lon", "hdop", "fix", "note", "flags")
	for _, r := range log.Readings {
		utc := ""
		if !r.Time.IsZero() {
			utc = r.Time.Format(time.RFC3339Nano)
		}
		write(strconv.Itoa(r.Row), utc, r.Line, string(r.Utility), string(r.Method), string(r.Response), r.Feature, num(r.Frequency),
			num(r.Depth), num(r.Current), num(r.Signal), num(r.Gain), num(r.Compass), num(r.NullOffset), num(r.BottomCoil), num(r.TopCoil),
			num(r.CoilSpacing), num(r.CoilDepth), num(r.CoilCurrent), num(r.Diameter), num(r.MeasuredDepth), num(r.Lat), num(r.Lon),
			num(r.HDOP), r.Fix, r.Note, r.Flags.String())
	}
	for _, a := range log.Aside {
		write(strconv.Itoa(a.Row), "set aside", a.Column, a.Found, a.Reason)
	}
	for _, c := range log.Cells {
		write(strconv.Itoa(c.Row), "cell", c.Column, c.Found, c.Reason)
	}
	for _, text := range log.Warnings {
		write("", "remark", text)
	}
	w.Flush()
	return b.Bytes()
}

// num writes ten significant figures, so that the last bit of a sum does not
// show.
func num(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 10, 64)
}
