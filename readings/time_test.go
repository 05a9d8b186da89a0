package readings_test

import (
	"strings"
	"testing"
	"time"

	"tracemap/readings"
)

// Times that are read, and what of them is UTC. The first rows are the examples
// of RFC 3339, section 5.8, as far as they are dates of a survey.
func TestTimes(t *testing.T) {
	for _, c := range []struct{ cell, want string }{
		{"1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.52Z"},
		{"1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"},
		{"1990-12-31T23:59:60Z", "1991-01-01T00:00:00Z"},
		{"1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00Z"},
		{"1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.87Z"},
		{"2026-03-05 08:00:00", "2026-03-05T08:00:00Z"},
		{"2026-03-05T08:00:00", "2026-03-05T08:00:00Z"},
		{"2026-03-05t08:00:00z", "2026-03-05T08:00:00Z"},
		{"2026-03-05  08:00:00.123456789", "2026-03-05T08:00:00.123456789Z"},
		{"2026/03/05 08:00:00", "2026-03-05T08:00:00Z"},
		{"2026.3.5 8:00:00", "2026-03-05T08:00:00Z"},
		{"2026-03-05 08:00:00 UTC", "2026-03-05T08:00:00Z"},
		{"2026-03-05 08:00:00 +0530", "2026-03-05T02:30:00Z"},
		{"2026-03-05 08:00:00+02", "2026-03-05T06:00:00Z"},
		{"2026-03-05 12:00:00 AM", "2026-03-05T00:00:00Z"},
		{"2026-03-05 12:00:00 pm", "2026-03-05T12:00:00Z"},
		{"2028-02-29 08:00:00", "2028-02-29T08:00:00Z"},
		{"2026-03-05 08:00:00 CEST", "2026-03-05T06:00:00Z"},
		{"2026-03-05 08:00:00 (UTC+2)", "2026-03-05T06:00:00Z"},
		{"2026-03-05 08:00:00 UTC-05:30", "2026-03-05T13:30:00Z"},
		{"25/03/2026 08:00:00", "2026-03-25T08:00:00Z"},
		{"03/25/2026 8:00:00 PM", "2026-03-25T20:00:00Z"},
		{"25.3.26 08:00:00", "2026-03-25T08:00:00Z"},
		{"05 Mar 2026 08:00:00", "2026-03-05T08:00:00Z"},
		{"Mar 5 2026 08:00:00", "2026-03-05T08:00:00Z"},
		{"5. März 2026 08:00:00", "2026-03-05T08:00:00Z"},
		{"5 mars 2026 08:00:00", "2026-03-05T08:00:00Z"},
		{"12 de mayo de 2026 08:00:00", "2026-05-12T08:00:00Z"},
		{"12 maja 2026 08:00:00", "2026-05-12T08:00:00Z"},
		{"12. května 2026 08:00:00", "2026-05-12T08:00:00Z"},
		{"2026年5月12日 08:00:00", "2026-05-12T08:00:00Z"},
		{"2026年5月12日 8时01分02秒", "2026-05-12T08:01:02Z"},
		{"20260512T080102Z", "2026-05-12T08:01:02Z"},
		{"20260512T080102.5+0200", "2026-05-12T06:01:02.5Z"},
		{"20260512 080102", "2026-05-12T08:01:02Z"},
		{"20260512080102", "2026-05-12T08:01:02Z"},
		{"08:00:00 12-May-2026", "2026-05-12T08:00:00Z"},
		{"Tue 12 May 2026 08:00:00 GMT", "2026-05-12T08:00:00Z"},
		{"1778572800", "2026-05-12T08:00:00Z"},
		{"1778572800250", "2026-05-12T08:00:00.25Z"},
		{"46154.3334027778", "2026-05-12T08:00:06Z"}, // (8 h 0 min 6 s) ÷ 86,400 s = 0.3334027778
	} {
		r := only(t, read(t, "time\n"+c.cell+"\n", readings.Options{Zone: time.UTC}))
		if got := r.Time.Format(time.RFC3339Nano); got != c.want {
			t.Errorf("time %q = %s, want %s", c.cell, got, c.want)
		}
		if r.Time.Location() != time.UTC {
			t.Errorf("time %q is in %v, want UTC", c.cell, r.Time.Location())
		}
	}
}

// Times that are not read, with a word that the reason must hold.
func TestBadTimes(t *testing.T) {
	for _, c := range []struct{ cell, reason string }{
		{"2026-03-05", "without a time of day"},
		{"2026-03-05 08:00", "no seconds"},
		{"2026-03-05 8", "not a time of day"},
		{"2026-13-05 08:00:00", "no such"},
		{"2026-02-29 08:00:00", "no such"},
		{"2100-02-29 08:00:00", "no such"},
		{"2026-03-05 24:00:00", "no such"},
		{"2026-03-05 08:60:00", "no such"},
		{"2026-03-05 08:30:60", "no such"},
		{"0000-00-00 00:00:00", "no such"},
		{"0001-01-01 00:00:00", "no such"},
		{"2026-03-05 13:00:00 PM", "not a time of day"},
		{"2026-03-05T08:00:00Z!", "not a time of day"},
	} {
		log := read(t, "time\n"+c.cell+"\n", readings.Options{})
		if len(log.Aside) != 1 {
			t.Errorf("time %q was read as %v", c.cell, log.Readings[0].Time)
			continue
		}
		a := log.Aside[0]
		if !strings.Contains(a.Reason, c.reason) && !(c.reason == "not a date" && strings.Contains(a.Reason, "not a time")) ||
			a.Column != "time" || a.Found != c.cell || a.Row != 2 || a.File != "day.csv" {
			t.Errorf("time %q set aside as %+v, want reason %q", c.cell, a, c.reason)
		}
	}
}

// Every quarter of an hour over two years in several zones: a time written as
// Go's zone shows it is read as the same instant, also in the second pass
// of a repeated hour, because rows follow each other. Reference: Go's time package.
func TestZonesBothWays(t *testing.T) {
	for _, name := range []string{"UTC", "Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata", "Pacific/Apia"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		const layout = "2006-01-02 15:04:05"
		var text strings.Builder
		text.WriteString("time\n")
		var want []time.Time
		start := time.Date(2011, 1, 1, 0, 0, 0, 0, time.UTC) // Apia crossed the date line at the end of 2011
		for at := start; at.Before(start.AddDate(2, 0, 0)); at = at.Add(15 * time.Minute) {
			local := at.In(zone).Format(layout)
			text.WriteString(local + "\n")
			want = append(want, at)
		}
		log := read(t, text.String(), readings.Options{Zone: zone})
		if len(log.Readings) != len(want) {
			t.Fatalf("%s: readings = %d, want %d", name, len(log.Readings), len(want))
		}
		for i, r := range log.Readings {
			if !r.Time.Equal(want[i]) {
				t.Fatalf("%s: %s read as %v, want %v", name, want[i].In(zone).Format(layout), r.Time, want[i])
			}
		}
	}
}

func TestHeaderThatSaysUTC(t *testing.T) {
	log := read(t, "time_utc\n2026-03-05 08:00:00\n", readings.Options{Zone: time.FixedZone("", 3600)})
	if got, want := only(t, log).Time, time.Date(2026, 3, 5, 8, 0, 0, 0, time.UTC); !got.Equal(want) {
		t.Errorf("time = %v, want %v", got, want)
	}
	if log = read(t, "Time (UTC)\n2026-03-05 08:00:00\n", readings.Options{}); len(log.Warnings) != 0 {
		t.Errorf("warnings = %q, want none: the header states the zone", log.Warnings)
	}
}
