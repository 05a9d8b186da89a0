package record

import (
	"context"
	"strings"
	"syscall"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tracemap/internal/survey"
	"tracemap/readings"
)

func TestParseClock(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		text string
		zone *time.Location
		at   string
		want string // "" for an error
	}{
		{"08:01:34", time.UTC, "2026-05-12T08:00:00Z", "2026-05-12T08:01:34Z"},
		{"080134", time.UTC, "2026-05-12T08:00:00Z", "2026-05-12T08:01:34Z"},
		{" 8:01:34.5 ", time.UTC, "2026-05-12T08:00:00Z", "2026-05-12T08:01:34.5Z"},
		{"08:02", time.UTC, "2026-05-12T08:00:00Z", "2026-05-12T08:02:00Z"},
		{"10:01:34", berlin, "2026-05-12T08:00:00Z", "2026-05-12T08:01:34Z"},
		{"00:00:10", time.UTC, "2026-05-12T23:59:50Z", "2026-05-13T00:00:10Z"},
		{"23:59:50", time.UTC, "2026-05-12T00:00:10Z", "2026-05-11T23:59:50Z"},
		{"2026-05-12 10:01:34.25", berlin, "2026-05-12T08:00:00Z", "2026-05-12T08:01:34.25Z"},
		{"2026-05-12T10:01:34+02:00", time.UTC, "2026-05-12T08:00:00Z", "2026-05-12T08:01:34Z"},
		{"", time.UTC, "2026-05-12T08:00:00Z", ""},
		{"half past", time.UTC, "2026-05-12T08:00:00Z", ""},
		{"25:00:00", time.UTC, "2026-05-12T08:00:00Z", ""},
		{"5/12 08:01", time.UTC, "2026-05-12T08:00:00Z", ""},
	} {
		got, err := ParseClock(tt.text, utc(t, tt.at), tt.zone)
		if tt.want == "" {
			if err == nil || !strings.Contains(err.Error(), "is no time such as") {
				t.Errorf("ParseClock(%q) = %v, %v, want an error", tt.text, got, err)
			}
			continue
		}
		if err != nil || !got.Equal(utc(t, tt.want)) {
			t.Errorf("ParseClock(%q near %s) = %v, %v, want %s", tt.text, tt.at, got, err, tt.want)
		}
	}
}

// A time of day is never further than half a day from the instant.
func TestParseClockIsNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(1_700_000_000, 2_000_000_000).Draw(t, "at"), 0)
		text := at.UTC().Add(time.Duration(rapid.IntRange(0, 86399).Draw(t, "off")) * time.Second).Format(time.TimeOnly)
		got, err := ParseClock(text, at, time.UTC)
		if err != nil || got.Sub(at).Abs() > 12*time.Hour || got.Format(time.TimeOnly) != text {
			t.Fatalf("ParseClock(%s near %s) = %v, %v", text, at.UTC(), got, err)
		}
	})
}

// The marks file is a readings log on UTC, and its sync column is what convert
// takes with --sync.
func TestMarksFile(t *testing.T) {
	d := newMemory()
	k := marks{disk: d, dir: "logs", prefix: "rover-"}
	press := utc(t, "2026-05-12T08:00:00.25Z")
	stamp := Stamp{UTC: press, Receiver: utc(t, "2026-05-12T08:00:00Z"), Age: 250 * time.Millisecond, Machine: utc(t, "2026-05-12T08:00:01.75Z")}
	later := stamp // a second press in the same second with nothing else said would be the same mark
	later.UTC = later.UTC.Add(time.Second)
	all := []Mark{
		{Stamp: stamp, Kind: MarkSync, Clock: utc(t, "2026-05-12T08:01:34Z")},
		{Stamp: later, Kind: MarkSync},
		{Stamp: Stamp{UTC: press, Machine: press}, Kind: MarkNote, Text: `valve, "blue" lid; größer`},
	}
	for _, m := range all {
		if err := k.add(m); err != nil {
			t.Fatal(err)
		}
	}
	if path, got := k.close(); path != "logs/rover-2026-05-12T08Z-marks.csv" || len(got) != 3 {
		t.Errorf("closed %q with %d marks", path, len(got))
	}
	const want = `time,feature,note,locator_shows,sync_flag,receiver_time,receiver_age_s,machine_time
2026-05-12T08:00:00.250Z,sync,,2026-05-12T08:01:34.000Z,2026-05-12T08:01:34.000Z=2026-05-12T08:00:00.250Z,2026-05-12T08:00:00.000Z,0.250,2026-05-12T08:00:01.750Z
2026-05-12T08:00:01.250Z,sync,,,,2026-05-12T08:00:00.000Z,0.250,2026-05-12T08:00:01.750Z
2026-05-12T08:00:00.250Z,note,"valve, ""blue"" lid; größer",,,,,2026-05-12T08:00:00.250Z
`
	text := d.content("rover-2026-05-12T08Z-marks.csv", true)
	if text != want {
		t.Errorf("the file holds\n%s\nwant\n%s", text, want)
	}
	mark, err := survey.ParseMark(all[0].Sync())
	if err != nil || !mark.Locator.Equal(all[0].Clock) || !mark.UTC.Equal(press) {
		t.Errorf("convert reads %q as %+v, %v", all[0].Sync(), mark, err)
	}
	log, err := readings.Read(context.Background(), []readings.Source{{Name: "marks.csv", R: strings.NewReader(text)}}, readings.Options{})
	if err != nil || len(log.Readings) != 3 || len(log.Aside) != 0 {
		t.Fatalf("as a readings log: %v, %+v", err, log)
	}
	if r := log.Readings[2]; r.Feature != "note" || r.Note != all[2].Text || !r.Time.Equal(press) {
		t.Errorf("as a readings log the note is %+v", r)
	}
}

// A mark made while the disk is full is there when it has room again.
func TestMarkOnFullDisk(t *testing.T) {
	d := newMemory()
	d.room = 10
	k := marks{disk: d, dir: "logs"}
	m := Mark{Stamp: Stamp{UTC: utc(t, "2026-05-12T08:00:00Z"), Machine: utc(t, "2026-05-12T08:00:00Z")}, Kind: MarkNote, Text: "kerb"}
	if err := k.add(m); err != syscall.ENOSPC {
		t.Errorf("err = %v, want %v", err, syscall.ENOSPC)
	}
	if text := d.content("2026-05-12T08Z-marks.csv", false); text != "" {
		t.Errorf("half a row stands in the file: %q", text)
	}
	d.setRoom(1000)
	if err := k.flush(); err != nil {
		t.Fatal(err)
	}
	if text := d.content("2026-05-12T08Z-marks.csv", true); strings.Count(text, "\n") != 2 || !strings.Contains(text, ",note,kerb,") {
		t.Errorf("the file holds %q", text)
	}
}
