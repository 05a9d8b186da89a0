package survey_test

import (
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"tracemap/fuse/clock"
	"tracemap/geodesy"
	"tracemap/internal/survey"
	"tracemap/remarks"
	"tracemap/result"
)

// demo gives the two logs of the invented day.
func demo(t testing.TB) (log, readings string) {
	t.Helper()
	for name, to := range map[string]*string{"day.nmea": &log, "readings.csv": &readings} {
		b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "demo", name))
		if err != nil {
			t.Fatal(err)
		}
		*to = string(b)
	}
	return log, readings
}

func run(t *testing.T, log, readings string, change func(*survey.Options)) *result.Map {
	t.Helper()
	opt := survey.DefaultOptions()
	if change != nil {
		change(&opt)
	}
	day, err := survey.Run(t.Context(), open(t, source("day.nmea", log), source("readings.csv", readings)), opt)
	if err != nil {
		t.Fatal(err)
	}
	return day.Map()
}

func TestEveryRowIsAccountedFor(t *testing.T) {
	log, readings := demo(t)
	readings += "yesterday,W1,water\n" // cannot be read
	m := run(t, log, readings, nil)
	c := m.Summary.Readings
	rows := strings.Count(readings, "\n") - 1
	if c.Total != rows || c.Total != c.Placed+c.Unplaced || c.Malformed != 1 || c.ByFlag["bad_row"] != 1 {
		t.Errorf("counts %+v, want %d rows in all, one of them malformed", c, rows)
	}
	if len(m.Readings)+len(m.Aside) != rows {
		t.Errorf("%d readings and %d set aside, want %d rows", len(m.Readings), len(m.Aside), rows)
	}
	if c.Placed == 0 || len(m.Lines) == 0 || len(m.Summary.Lines) == 0 {
		t.Errorf("placed %d, lines %d: the day is empty", c.Placed, len(m.Lines))
	}
	if !contains(m.Summary.Warnings, "readings.csv line "+strconv.Itoa(rows+1)) {
		t.Errorf("warnings %q do not name the row", m.Summary.Warnings)
	}
	fixes := 0
	for _, n := range m.Summary.GNSS.Fix {
		fixes += n
	}
	if fixes < m.Summary.GNSS.Epochs {
		t.Errorf("fixes %v, want at least %d epochs", m.Summary.GNSS.Fix, m.Summary.GNSS.Epochs)
	}
	for i, f := range m.Fixes {
		if f.To.Before(f.From) || i > 0 && f.From.Before(m.Fixes[i-1].To) {
			t.Errorf("fix span %d: %v", i, f)
		}
	}
}

// vertices lists every vertex of a map.
func vertices(m *result.Map) []geodesy.Geo {
	var out []geodesy.Geo
	for _, l := range m.Lines {
		for _, p := range l.Parts {
			for _, v := range p.Vertices {
				out = append(out, v.Ground)
			}
		}
	}
	return out
}

// placedAt lists where the placed readings of a map are.
func placedAt(m *result.Map) []geodesy.Geo {
	var out []geodesy.Geo
	for _, p := range m.Readings {
		if p.OK {
			out = append(out, p.Geo)
		}
	}
	return out
}

// apart is the largest distance in plan between two lists of places, m;
// infinite when they are not of one length.
func apart(a, b []geodesy.Geo) float64 {
	if len(a) != len(b) || len(a) == 0 {
		return math.Inf(1)
	}
	worst := 0.0
	for i := range a {
		worst = max(worst, geodesy.NewLocal(a[i]).Forward(b[i]).Len())
	}
	return worst
}

// A clock that is read in another zone is the same clock.
func TestZoneGivesTheSameMap(t *testing.T) {
	log, readings := demo(t)
	want := run(t, log, readings, nil)
	var b strings.Builder
	header, body, _ := strings.Cut(readings, "\n")
	b.WriteString(header + "\n")
	zone, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(body) {
		stamp, rest, _ := strings.Cut(line, ",")
		at, err := time.Parse(time.RFC3339Nano, stamp)
		if err != nil {
			t.Fatalf("the demo's times are no longer RFC 3339: %v", err)
		}
		b.WriteString(at.In(zone).Format("2006-01-02 15:04:05.000") + "," + rest)
	}
	got := run(t, log, b.String(), func(o *survey.Options) { o.Zone = zone })
	if d := apart(vertices(want), vertices(got)); d > 1e-9 { // m: the times are the same to the millisecond
		t.Errorf("vertices are up to %v m apart", d)
	}
	assumed := run(t, log, strings.ReplaceAll(readings, "Z,", ","), nil)
	if !contains(assumed.Summary.Warnings, "UTC") {
		t.Errorf("no zone given: warnings %q", assumed.Summary.Warnings)
	}
}

// Sync marks and a given offset tie the clock without an estimate.
func TestClockOfTheUser(t *testing.T) {
	log, readings := demo(t)
	at := time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC)
	off := 94600 * time.Millisecond
	for _, c := range []struct {
		name   string
		change func(*survey.Options)
		method string
	}{
		{"given", func(o *survey.Options) { o.Clock.Mode, o.Clock.Offset = clock.Given, off }, "given"},
		{"marks", func(o *survey.Options) {
			o.Clock.Marks = []clock.Mark{{Locator: at.Add(off), UTC: at}, {Locator: at.Add(off + time.Hour), UTC: at.Add(time.Hour)}}
		}, "marks"},
	} {
		k := run(t, log, readings, c.change).Summary.Clock
		if k.Method != c.method || math.Abs(k.Offset-94.6) > 1e-6 || !k.Determined {
			t.Errorf("%s: clock %+v, want method %s and 94.6 s", c.name, k, c.method)
		}
	}
}

// A map in another frame is the same map, moved as the frames are apart.
func TestFrameMovesTheMap(t *testing.T) {
	log, readings := demo(t)
	plain := run(t, log, readings, func(o *survey.Options) { o.Frame = "WGS84" })
	moved := run(t, log, readings, func(o *survey.Options) { o.Frame = "NAD83(2011)" })
	if plain.Meta.Frame != "WGS84" || moved.Meta.Frame != "WGS84" {
		t.Errorf("frames %q and %q, want the map's own", plain.Meta.Frame, moved.Meta.Frame)
	}
	var want []geodesy.Geo
	for _, g := range placedAt(plain) {
		w, err := geodesy.Transform(g, geodesy.FrameNAD83, geodesy.FrameWGS84, 2026.36)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, w)
	}
	// 1 mm: the epoch is rounded to a hundredth of a year, and the clock's
	// estimate sees a day turned by some 1e-8.
	if d := apart(want, placedAt(moved)); d > 1e-3 {
		t.Errorf("readings are up to %v m from where the transformation puts them", d)
	}
	if d := apart(placedAt(plain), placedAt(moved)); d < 0.5 {
		t.Errorf("readings moved by %v m only", d)
	}
	if !contains(moved.Summary.Warnings, "from NAD83(2011) to WGS84 at epoch 2026.36") {
		t.Errorf("warnings %q do not tell of the move", moved.Summary.Warnings)
	}
	// Nobody said a frame: that is said, and flagged.
	silent := run(t, log, readings, nil)
	if !contains(silent.Summary.Warnings, "reference frame was not given") || !silent.Lines[0].Flags.Has(remarks.FrameAssumed) {
		t.Errorf("no frame: warnings %q, flags %v", silent.Summary.Warnings, silent.Lines[0].Flags)
	}
	if plain.Lines[0].Flags.Has(remarks.FrameAssumed) {
		t.Error("a frame that was given is flagged as assumed")
	}
}

func TestRefusals(t *testing.T) {
	log, readings := demo(t)
	header, _, _ := strings.Cut(readings, "\n")
	noFix := "$GNGGA,063000.00,,,,,0,00,99.9,,M,,M,,*44\r\n$GNRMC,063000.00,V,,,,,,,120526,,,N*64\r\n"
	for _, c := range []struct {
		name, log, readings string
		want                error
	}{
		{"no receiver's log", readings, readings + " ", survey.ErrNoSentence},
		{"no readings log", log, gga, survey.ErrNoReadings},
		{"a header alone", log, header + "\n", survey.ErrNoReadings},
		{"no time column", log, "line,depth_m\nW1,1.2\n", survey.ErrNoReadings},
		{"no fix", noFix, readings, survey.ErrNoFix},
		{"another year", log, strings.ReplaceAll(readings, "2026-05-12", "2024-05-12"), survey.ErrNoOverlap},
		{"no reading has a time", log, "time,line,depth_m\n,W1,1.2\n,W1,1.3\n", survey.ErrNoOverlap},
	} {
		_, err := survey.Run(t.Context(), open(t, source("n", c.log), source("r", c.readings)), survey.DefaultOptions())
		if !errors.Is(err, c.want) || !errors.Is(err, survey.ErrNoMap) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want one line that is %v", c.name, err, c.want)
		}
	}
}

// Progress goes up to all of each stage, and a cancelled run ends with the
// context's error, at whichever stage.
func TestProgressAndCancel(t *testing.T) {
	log, readings := demo(t)
	var mu sync.Mutex
	var stages []string
	last := map[string]int64{}
	run(t, log, readings, func(o *survey.Options) {
		o.Progress = func(stage string, done, all int64) {
			mu.Lock()
			defer mu.Unlock()
			if _, ok := last[stage]; !ok {
				stages = append(stages, stage)
			}
			if done < last[stage] || all > 0 && done > all {
				t.Errorf("%s: %d of %d after %d", stage, done, all, last[stage])
			}
			last[stage] = done
		}
	})
	if len(stages) < 5 || last["reading the receiver's log"] != int64(len(log)) {
		t.Errorf("stages %q, bytes %v, want five and %d bytes", stages, last, len(log))
	}
	for _, at := range stages {
		ctx, cancel := context.WithCancel(t.Context())
		opt := survey.DefaultOptions()
		opt.Progress = func(stage string, _, _ int64) {
			if stage == at {
				cancel()
			}
		}
		_, err := survey.Run(ctx, open(t, source("n", log), source("r", readings)), opt)
		if at != stages[len(stages)-1] && !errors.Is(err, context.Canceled) {
			t.Errorf("cancelled while %s: %v", at, err)
		}
		cancel()
	}
}

// A log from a pipe, of which nobody knows the size, is read like any other.
func TestPipes(t *testing.T) {
	log, readings := demo(t)
	want := run(t, log, readings, nil)
	pipe := func(name, text string) survey.Source {
		return survey.Source{Name: name, Once: true, Open: func() (io.ReadCloser, error) {
			return io.NopCloser(io.MultiReader(strings.NewReader(text[:1000]), strings.NewReader(text[1000:]))), nil
		}}
	}
	in := open(t, pipe("day.nmea", log), pipe("readings.csv", readings))
	day, err := survey.Run(t.Context(), in, survey.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if d := apart(vertices(want), vertices(day.Map())); d != 0 {
		t.Errorf("vertices are %v m apart", d)
	}
}
