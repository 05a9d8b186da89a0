package survey_test

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"tracemap/internal/survey"
	"tracemap/remarks"
)

// streetOf is a log of readings with positions of their own along a straight
// street, 1 m apart and 20 s, written by place.
func streetOf(header string, row func(i int, lat, lon float64) string) string {
	var b strings.Builder
	b.WriteString("time,line,utility,method,response,depth_m," + header + "\n")
	for i := range 21 {
		fmt.Fprintf(&b, "2026-05-12T08:%02d:%02dZ,W1,water,direct,peak,1.20,%s\n", i/3, i%3*20, row(i, 47.1, 8.2+float64(i)*1.32e-5))
	}
	return b.String()
}

// Readings that know themselves where they were taken need no receiver's log; the
// kind of fix decides the width.
func TestReadingsAreSufficient(t *testing.T) {
	width := map[string]float64{}
	for fix, least := range map[string]float64{"4": 0.02, "5": 0.3, "2": 0.8, "1": 2.4} {
		text := streetOf("lat,lon,fix,hdop", func(_ int, lat, lon float64) string { return fmt.Sprintf("%.9f,%.9f,%s,0.8", lat, lon, fix) })
		day, err := runDay(t, map[string]string{"readings.csv": text})
		if err != nil {
			t.Fatalf("fix %s: %v", fix, err)
		}
		if len(day.Located.Lines) != 1 || len(day.Located.Lines[0].Parts) != 1 {
			t.Fatalf("fix %s: %d lines, want one of one part", fix, len(day.Located.Lines))
		}
		part := &day.Located.Lines[0].Parts[0]
		for _, v := range part.Vertices {
			width[fix] = max(width[fix], v.Sigma)
		}
		// The slow error of a fix is shared by all readings of a street: the noise
		// table's σ with half of its worth kept.
		if 1.96*width[fix] < least {
			t.Errorf("fix %s: half-width %.3f m, want %.2f or more", fix, 1.96*width[fix], least)
		}
		s := day.Summary()
		if s.Readings.Placed != 21 || s.GNSS.Epochs != 21 || !s.Clock.Determined || len(s.GNSS.Sentences) != 0 {
			t.Errorf("fix %s: placed %d of 21, epochs %d, clock determined %v", fix, s.Readings.Placed, s.GNSS.Epochs, s.Clock.Determined)
		}
	}
	if !(width["4"] < width["5"] && width["5"] < width["2"] && width["2"] < width["1"]) {
		t.Errorf("widths by fix %v, want fixed < float < differential < autonomous", width)
	}
	// Twice the DOP is twice the σ of the position (autonomous, where it is nearly all).
	text := streetOf("lat,lon,fix,hdop", func(_ int, lat, lon float64) string { return fmt.Sprintf("%.9f,%.9f,1,1.6", lat, lon) })
	day, err := runDay(t, map[string]string{"readings.csv": text})
	if err != nil {
		t.Fatal(err)
	}
	wide := 0.0
	for _, v := range day.Located.Lines[0].Parts[0].Vertices {
		wide = max(wide, v.Sigma)
	}
	if r := wide / width["1"]; math.Abs(r-1.6) > 0.1 {
		t.Errorf("with HDOP 1.6 instead of 1 the width is %.2f times as large, want 1.6", r)
	}
}

// Without positions and without a receiver's log there is no map.
func TestNoPositionsAtAll(t *testing.T) {
	_, err := runDay(t, map[string]string{"readings.csv": "time,line,depth_m\n2026-05-12T08:00:00Z,W1,1.2\n"})
	if !errors.Is(err, survey.ErrNoMap) || !strings.Contains(err.Error(), "no receiver's log, and no positions in the readings") {
		t.Errorf("error = %v", err)
	}
}

// Positions of the readings' own are held against the track: mixed up, they are
// not used, and the warning says what looks wrong.
func TestOwnPositionsAgainstTrack(t *testing.T) {
	for _, c := range []struct {
		name  string
		place func(lat, lon float64) (float64, float64)
		says  string
	}{
		{"right", func(lat, lon float64) (float64, float64) { return lat, lon }, ""},
		{"swapped", func(lat, lon float64) (float64, float64) { return lon, lat }, "latitude and longitude look swapped"},
		{"west for east", func(lat, lon float64) (float64, float64) { return lat, -lon }, "the longitude looks to have the wrong sign"},
		{"south for north", func(lat, lon float64) (float64, float64) { return -lat, lon }, "the latitude looks to have the wrong sign"},
		{"100 m off", func(lat, lon float64) (float64, float64) { return lat + 0.0009, lon }, "m from the receiver's track"},
	} {
		text := streetOf("lat,lon,fix,hdop", func(_ int, lat, lon float64) string {
			lat, lon = c.place(lat, lon)
			return fmt.Sprintf("%.9f,%.9f,4,0.8", lat, lon)
		})
		// One reading before the receiver's log: there the own position would be used.
		text += strings.Replace(strings.Split(text, "\n")[1], "08:00:00", "07:55:00", 1) + "\n"
		day, err := runDay(t, map[string]string{"readings.csv": text, "rover.nmea": streetNMEA(21)})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		all := strings.Join(day.Warnings(), "\n")
		last := &day.Located.Readings[21]
		if c.says == "" {
			if strings.Contains(all, "not used") || !last.OK {
				t.Errorf("%s: placed %v, warnings %s", c.name, last.OK, all)
			}
			continue
		}
		if !strings.Contains(all, c.says) || last.OK || !last.Flags.Has(remarks.OwnPositionFar) {
			t.Errorf("%s: placed %v, flags %v, want none; warnings lack %q:\n%s", c.name, last.OK, last.Flags, c.says, all)
		}
		for _, line := range day.Located.Lines {
			for _, p := range line.Parts {
				if p.Length() > 25 {
					t.Errorf("%s: a line of %.0f m on a street of 20 m", c.name, p.Length())
				}
			}
		}
	}
}

// streetNMEA is a receiver's log of the same street at 1 Hz, RTK fixed, standing at
// each reading.
func streetNMEA(n int) string {
	var b strings.Builder
	for s := range n * 20 {
		k := float64(s / 20)
		if r := s % 20; r > 12 {
			k += float64(r-12) / 8
		}
		lon := (0.2 + k*1.32e-5) * 60
		body := fmt.Sprintf("GPGGA,08%02d%02d.00,4706.0000000,N,008%010.7f,E,4,14,0.8,400.0,M,47.0,M,1.0,0001", s/60, s%60, lon)
		b.WriteString(sentence(body))
		b.WriteString(sentence(fmt.Sprintf("GPRMC,08%02d%02d.00,A,4706.0000000,N,008%010.7f,E,0.0,90.0,120526,,,R", s/60, s%60, lon)))
	}
	return b.String()
}

func sentence(body string) string {
	sum := byte(0)
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

// runDay runs a day of the files given as texts.
func runDay(t *testing.T, files map[string]string) (*survey.Day, error) {
	t.Helper()
	var sources []survey.Source
	for _, name := range slices.Sorted(maps.Keys(files)) {
		sources = append(sources, source(name, files[name]))
	}
	return survey.Run(t.Context(), open(t, sources...), survey.DefaultOptions())
}

// What a readings log leaves open about its dates is settled by the receiver's day:
// the date of times of day, and whether days or months come first.
func TestReceiverSettlesDates(t *testing.T) {
	for name, layout := range map[string]string{"times of day": "15:04:05", "days first": "02/01/2006 15:04:05", "months first": "01/02/2006 15:04:05"} {
		var b strings.Builder
		b.WriteString("time,line,utility,method,response,depth_m\n")
		start := time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC)
		for i := range 21 {
			fmt.Fprintf(&b, "%s,W1,water,direct,peak,1.20\n", start.Add(time.Duration(20*i+6)*time.Second).Format(layout))
		}
		day, err := runDay(t, map[string]string{"readings.csv": b.String(), "rover.nmea": streetNMEA(21)})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := day.Readings.Readings[0].Time; !got.Equal(start.Add(6*time.Second)) || day.Summary().Readings.Placed != 21 {
			t.Errorf("%s: the first reading at %v, placed %d of 21", name, got, day.Summary().Readings.Placed)
		}
	}
}
