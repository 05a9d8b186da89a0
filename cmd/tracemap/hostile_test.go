package main

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tracemap/export"
)

// full makes the long tests as long as docs/robustness.md tells; without it they
// do a few rounds of the same.
var full = flag.Bool("full", false, "kill 200 times, feed 10 GB")

// rounds gives how often to do something: few times, or as often as -full asks.
func rounds(few, many int) int {
	if *full {
		return many
	}
	return few
}

// elapsedText is the one thing in a result that hangs on the machine.
var elapsedText = regexp.MustCompile(`"elapsed_s": ?[0-9.e-]+`)

// outcome is a folder's files by name, without what tells how long a run took.
func outcome(t *testing.T, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	for _, e := range entries {
		files[e.Name()] = elapsedText.ReplaceAllString(read(t, dir, e.Name()), "")
	}
	return files
}

// The same input gives the same bytes in every format and on any number of cores.
func TestSameBytesOnAnyNumberOfCores(t *testing.T) {
	demo := demoDay(t)
	before := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(before)
	var want map[string]string
	for _, cores := range []int{1, 2, 8, 8} {
		runtime.GOMAXPROCS(cores)
		dir := filepath.Join(t.TempDir(), "out")
		var out, errs bytes.Buffer
		args := []string{"convert", filepath.Join(demo, "day.nmea"), filepath.Join(demo, "readings.csv"), "-o", dir, "--format", strings.Join(export.Names(), ",")}
		if status := run(args, nil, &out, &errs); status != 0 {
			t.Fatal(errs.String())
		}
		got := outcome(t, dir)
		if want == nil {
			want = got
			continue
		}
		for name := range want {
			if got[name] != want[name] {
				t.Errorf("%s differs on %d cores", name, cores)
			}
		}
		if len(got) != len(want) || len(got) < 2*len(export.Names()) {
			t.Errorf("%d files on %d cores, %d on one", len(got), cores, len(want))
		}
	}
}

// convertTexts converts two logs in a folder of their own.
func convertTexts(t *testing.T, nmea, readings []byte, flags ...string) (status int, out, errs string) {
	t.Helper()
	t.Chdir(t.TempDir())
	for name, text := range map[string][]byte{"n": nmea, "r": readings} {
		if err := os.WriteFile(name, text, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	var o, e bytes.Buffer
	status = run(append([]string{"convert", "n", "r", "-o", "out", "--format", "csv", "--json"}, flags...), nil, &o, &e)
	return status, o.String(), e.String()
}

// A file that unpacks to far more than any log does is refused in one line, and
// not held in memory.
func TestGzipBomb(t *testing.T) {
	demo := demoDay(t)
	good := []byte(read(t, demo, "readings.csv"))
	bomb := func(begin string, fill byte) []byte {
		var b bytes.Buffer
		z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(z, begin)
		block := bytes.Repeat([]byte{fill}, 1<<20)
		for range rounds(80, 10<<10) { // MiB
			z.Write(block)
		}
		z.Close()
		return b.Bytes()
	}
	log := read(t, demo, "day.nmea")
	for name, c := range map[string]struct{ nmea, readings []byte }{
		"blanks behind a receiver's log": {bomb(log[:100_000], ' '), good},
		"line ends":                      {bomb(log[:100_000], '\n'), good},
		"one sentence without an end":    {bomb(log[:100_000]+"$GNGGA,", '1'), good},
		"one cell without an end":        {[]byte(log), bomb(string(good[:2000]), 'x')},
	} {
		t.Run(name, func(t *testing.T) {
			status, _, errs := convertTexts(t, c.nmea, c.readings)
			if status != statusFailed || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, "unpacks to more than 200 times its size") {
				t.Errorf("status %d, want %d and one line: %s", status, statusFailed, errs)
			}
			if entries, _ := os.ReadDir("."); len(entries) != 2 {
				t.Errorf("left %v", entries)
			}
		})
	}
}

// Readings of one name are one line, however many and however they lie, and all are
// accounted for; a million that the receiver's log knows nothing of are refused in
// one line.
func TestOneNameForAll(t *testing.T) {
	demo := demoDay(t)
	log := []byte(read(t, demo, "day.nmea"))
	header, body, _ := strings.Cut(read(t, demo, "readings.csv"), "\n")
	rows := strings.Split(strings.TrimSpace(body), "\n")
	text := func(many int, row func(i int) string, at func(i int) string) []byte {
		var b strings.Builder
		b.WriteString(header + "\n")
		for i := range many {
			cells := strings.Split(row(i), ",")
			cells[1] = "W1"
			if at != nil {
				cells[0] = at(i)
			}
			b.WriteString(strings.Join(cells, ",") + "\n")
		}
		return []byte(b.String())
	}
	begin := time.Date(2026, 5, 12, 8, 2, 5, 0, time.UTC)
	after := func(d time.Duration) string { return begin.Add(d).Format("2006-01-02T15:04:05.000Z") }
	many := rounds(5000, 1_000_000)
	through := func(i int) string { return rows[i*len(rows)/many] }
	for name, c := range map[string]struct{ row, at func(i int) string }{
		"the day's readings, each written again and again": {through, nil},
		"a hundred to each instant, all day": {through, func(i int) string {
			return after(time.Duration(i/100*100) * 700 * time.Second / time.Duration(many))
		}},
		"all at one instant":      {through, func(int) string { return after(0) }},
		"one row again and again": {func(int) string { return rows[0] }, nil},
		"densely along thirty metres": {through, func(i int) string {
			return after(time.Duration(i) * 75 * time.Second / time.Duration(many))
		}},
	} {
		t.Run(name, func(t *testing.T) {
			status, out, errs := convertTexts(t, log, text(many, c.row, c.at))
			if status != 0 {
				t.Fatal(errs)
			}
			checkAccount(t, []byte(out), 0)
		})
	}
	later := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	many = rounds(50_000, 1_000_000)
	status, _, errs := convertTexts(t, log, text(many, through, func(i int) string {
		return later.Add(time.Duration(i) * time.Second).Format(time.RFC3339)
	}))
	if status != statusNoMap || strings.Count(errs, "tracemap: error: no overlap in time") != 1 {
		t.Errorf("status %d, want %d: %s", status, statusNoMap, errs)
	}
}

// walk is a receiver's log of a walk east with ten readings on the way.
func walk(lat, lon float64) (nmea, readings []byte) {
	var n, r strings.Builder
	r.WriteString("time,line_id,utility,mode,response,frequency_hz,depth_m,current_ma\n")
	begin := time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC)
	axis := func(v float64, digits int, signs string) string {
		sign := signs[:1]
		if v < 0 {
			v, sign = -v, signs[1:]
		}
		whole := math.Floor(v)
		return fmt.Sprintf("%0*d%010.7f,%s", digits, int(whole), (v-whole)*60, sign)
	}
	for i := range 600 {
		at := begin.Add(time.Duration(i) * 100 * time.Millisecond)
		east := lon + float64(i)*0.08/111320/max(1e-6, math.Cos(lat*math.Pi/180))
		east = math.Mod(east+540, 360) - 180
		place := axis(lat, 2, "NS") + "," + axis(east, 3, "EW")
		for _, s := range []string{
			fmt.Sprintf("GNGGA,%s,%s,4,18,0.6,545.4,M,46.9,M,1.2,0000", at.Format("150405.00"), place),
			fmt.Sprintf("GNRMC,%s,A,%s,1.6,90.0,120526,,,R", at.Format("150405.00"), place),
		} {
			var x byte
			for j := range len(s) {
				x ^= s[j]
			}
			fmt.Fprintf(&n, "$%s*%02X\r\n", s, x)
		}
		if i%60 == 30 {
			fmt.Fprintf(&r, "%s,W1,water,direct,peak,8192,1.31,44.9\n", at.Format(time.RFC3339Nano))
		}
	}
	return []byte(n.String()), []byte(r.String())
}

// Where longitudes run together, jump, or are nothing, there is a map with places
// on earth and honest widths, or one line that says why not.
func TestStrangePlaces(t *testing.T) {
	for name, at := range map[string][2]float64{
		"north pole": {89.99999, 10}, "pole itself": {90, 0}, "south pole": {-89.9999, 179.9},
		"across the antimeridian": {52, 179.9997}, "antimeridian in the south": {-17, 179.9998},
		"equator and prime meridian": {0, -0.0002}, "0, 0": {0, 0},
	} {
		t.Run(name, func(t *testing.T) {
			nmea, readings := walk(at[0], at[1])
			status, _, errs := convertTexts(t, nmea, readings, "--clock-offset", "none", "--format", strings.Join(export.Names(), ","))
			if status != 0 {
				if n := strings.Count(errs, "tracemap: error: "); status != statusNoMap && status != statusFailed || n != 1 || strings.Contains(errs, "defect") {
					t.Errorf("status %d: %s", status, errs)
				}
				if entries, _ := os.ReadDir("."); len(entries) != 2 {
					t.Errorf("left %v", entries)
				}
				if math.Abs(at[0]) < 80 {
					t.Errorf("there is nothing wrong with this place: %s", errs)
				}
				return
			}
			checkVertices(t, at[0])
		})
	}
}

// checkVertices demands that every vertex of the map is near where it was made.
func checkVertices(t *testing.T, lat float64) {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(read(t, "out", "vertices.csv"))).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	cell := func(row []string, name string) float64 {
		i := slices.Index(rows[0], name)
		if i < 0 {
			t.Fatalf("no column %s in %q", name, rows[0])
		}
		v, err := strconv.ParseFloat(row[i], 64)
		if err != nil {
			t.Errorf("%s is %q", name, row[i])
		}
		return v
	}
	for _, row := range rows[1:] {
		la, lo, w := cell(row, "lat"), cell(row, "lon"), cell(row, "half_width_m")
		if !(math.Abs(la-lat) < 0.001) || !(math.Abs(lo) <= 180) || !(w > 0.005 && w < 50) {
			t.Errorf("vertex at %v, %v, ± %v m", la, lo, w)
		}
	}
	var all any
	if err := json.Unmarshal([]byte(read(t, "out", "lines.geojson")), &all); err != nil {
		t.Error(err)
	}
	if text := strings.Join(slices.Collect(maps.Values(outcome(t, "out"))), ""); strings.Contains(text, "NaN") || strings.Contains(text, "+Inf") {
		t.Error("NaN or Inf stands in a file")
	}
}
