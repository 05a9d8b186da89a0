package record

import (
	"fmt"
	"testing"
	"time"

	gonmea "github.com/adrianmo/go-nmea"
	"pgregory.net/rapid"
)

func checksum(b []byte) (x byte) {
	for _, c := range b {
		x ^= c
	}
	return x
}

// sentence closes a sentence with its checksum.
func sentence(body string) string {
	return fmt.Sprintf("$%s*%02X\r\n", body, checksum([]byte(body)))
}

func utc(t testing.TB, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return at.UTC()
}

func TestHear(t *testing.T) {
	const gga = "GNGGA,081502.25,4916.4500,N,01123.7600,E,4,18,0.6,545.4,M,46.9,M,1.0,0000"
	tod := 8*time.Hour + 15*time.Minute + 2250*time.Millisecond
	day := time.Date(2026, 5, 12, 0, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		line string
		want told
	}{
		{sentence(gga), told{right: true, timed: true, tod: tod, judged: true, fix: true}},
		{"2026-05-12 10:15:02 > " + sentence(gga), told{right: true, timed: true, tod: tod, judged: true, fix: true}},
		{"$GNGGA,0815" + sentence(gga), told{right: true, timed: true, tod: tod, judged: true, fix: true}},
		{sentence("GNGGA,081502.25,,,,,0,00,99.9,,,,,,"), told{right: true, timed: true, tod: tod, judged: true}},
		{sentence("GNGGA,,,,,,0,00,99.9,,,,,,"), told{right: true, judged: true}},
		{sentence("GNGNS,081502.25,4916.45,N,01123.76,E,RRNN,18,0.6,545.4,46.9,1.0,0000"), told{right: true, timed: true, tod: tod, judged: true, fix: true}},
		{sentence("GNGNS,081502.25,,,,,NNNN,00,99.9,,,,"), told{right: true, timed: true, tod: tod, judged: true}},
		{sentence("GNRMC,081502.25,A,4916.45,N,01123.76,E,0.5,54.7,120526,,,R"), told{right: true, timed: true, tod: tod, dated: true, day: day, judged: true, fix: true}},
		{sentence("GNRMC,081502.25,V,,,,,,,120526,,,N"), told{right: true, timed: true, tod: tod, day: day, judged: true}},
		{sentence("GNGLL,4916.45,N,01123.76,E,081502.25,A,D"), told{right: true, timed: true, tod: tod, judged: true, fix: true}},
		{sentence("GNGST,081502.25,1.2,0.01,0.01,12.0,0.01,0.01,0.02"), told{right: true, timed: true, tod: tod}},
		{sentence("GNZDA,081502.25,12,05,2026,00,00"), told{right: true, timed: true, tod: tod, dated: true, day: day}},
		{sentence("GNZDA,081502.25,31,02,2026,00,00"), told{right: true, timed: true, tod: tod, day: time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)}},
		{sentence("GPGSV,1,1,01,21,44,123,39"), told{right: true}},
		{"$" + gga + "*00\r\n", told{wrong: true}},
		{"$" + gga + "\r\n", told{}},
		{"$" + gga + "*zz\r\n", told{}},
		{"no sentence\r\n", told{}},
		{"\n", told{}},
		{"$*00\n", told{}}, // an address makes a sentence
		{"$" + gga + "*00 " + sentence(gga), told{right: true, timed: true, tod: tod, judged: true, fix: true}},
	} {
		if got := hear([]byte(tt.line)); got != tt.want {
			t.Errorf("hear(%q)\n got %+v\nwant %+v", tt.line, got, tt.want)
		}
	}
}

// The time is that which github.com/adrianmo/go-nmea v1.10.0 reads.
func TestTimeOfDayLikeReference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := fmt.Sprintf("%02d%02d%02d", rapid.IntRange(0, 23).Draw(t, "h"), rapid.IntRange(0, 59).Draw(t, "m"), rapid.IntRange(0, 59).Draw(t, "s"))
		if digits := rapid.IntRange(0, 3).Draw(t, "digits"); digits > 0 {
			text += "." + fmt.Sprintf("%03d", rapid.IntRange(0, 999).Draw(t, "ms"))[:digits]
		}
		ref, err := gonmea.ParseTime(text)
		if err != nil {
			t.Fatal(err)
		}
		want := time.Duration(ref.Hour)*time.Hour + time.Duration(ref.Minute)*time.Minute + time.Duration(ref.Second)*time.Second + time.Duration(ref.Millisecond)*time.Millisecond
		got, ok := timeOfDay([]byte(text))
		// The reference takes milliseconds through a float.
		if d := got - want; !ok || d < 0 || d > time.Millisecond {
			t.Fatalf("timeOfDay(%s) = %v, %v; reference %v", text, got, ok, want)
		}
	})
}

// No line, however rotten, stops the recorder.
func FuzzHear(f *testing.F) {
	f.Add([]byte(sentence("GNRMC,081502.25,A,4916.45,N,01123.76,E,0.5,54.7,120526,,,R")))
	f.Add([]byte("$GPGGA,1*"))
	f.Add([]byte("$*"))
	f.Fuzz(func(t *testing.T, line []byte) {
		got := hear(line)
		if got.right && got.wrong || got.timed && (got.tod < 0 || got.tod > 24*time.Hour+time.Second) || got.dated && got.day.Hour() != 0 {
			t.Errorf("hear(%q) = %+v", line, got)
		}
	})
}

func TestClock(t *testing.T) {
	machine := utc(t, "2026-05-12T08:15:03Z")
	rmc := func(tod, date, status string) string {
		return sentence("GNRMC," + tod + "," + status + ",4916.45,N,01123.76,E,0.5,54.7," + date + ",,,R")
	}
	gga := func(tod string) string {
		return sentence("GNGGA," + tod + ",4916.45,N,01123.76,E,4,18,0.6,545.4,M,46.9,M,1.0,0000")
	}
	for _, tt := range []struct {
		name    string
		machine string
		lines   []string
		want    string
		dated   bool
	}{
		{"time and date", "2026-05-12T08:15:03Z", []string{rmc("081502", "120526", "A")}, "2026-05-12T08:15:02Z", true},
		{"the receiver is right where the machine is not", "2025-01-01T00:00:00Z", []string{rmc("081502", "120526", "A")}, "2026-05-12T08:15:02Z", true},
		{"a time alone lies near the machine's", "2026-05-12T08:15:03Z", []string{gga("081502")}, "2026-05-12T08:15:02Z", false},
		{"just before midnight, machine just after", "2026-05-13T00:00:01Z", []string{gga("235959")}, "2026-05-12T23:59:59Z", false},
		{"just after midnight, machine just before", "2026-05-12T23:59:58Z", []string{gga("000001")}, "2026-05-13T00:00:01Z", false},
		{"midnight between date and time", "2030-01-01T12:00:00Z", []string{rmc("235959", "120526", "A"), gga("000000")}, "2026-05-13T00:00:00Z", true},
		{"a date without a fix is not believed", "2026-05-12T08:15:03Z", []string{rmc("081502", "060180", "V")}, "2026-05-12T08:15:02Z", false},
		{"nor that of a clock sentence", "2026-05-12T08:15:03Z", []string{rmc("081501", "060180", "V"), sentence("GNZDA,081502,06,01,1980,00,00")}, "2026-05-12T08:15:02Z", false},
		{"week numbers of ten bits", "2026-05-12T08:15:03Z", []string{rmc("081502", "260906", "A")}, "2026-05-12T08:15:02Z", true},
		{"an old log is not taken for that", "2026-05-12T08:15:03Z", []string{rmc("081502", "120509", "A")}, "2009-05-12T08:15:02Z", true},
	} {
		var c clock
		at := utc(t, tt.machine)
		for _, line := range tt.lines {
			c.take(hear([]byte(line)), at)
		}
		if want := utc(t, tt.want); !c.utc.Equal(want) || c.dated != tt.dated {
			t.Errorf("%s: %s dated %v, want %s dated %v", tt.name, c.utc, c.dated, want, tt.dated)
		}
	}
	var c clock
	if s := c.stamp(machine); s.Known() || !s.UTC.Equal(machine) {
		t.Errorf("stamp without a receiver: %+v", s)
	}
	c.take(hear([]byte(gga("081500"))), machine)
	s := c.stamp(machine.Add(1500 * time.Millisecond))
	if want := utc(t, "2026-05-12T08:15:01.5Z"); !s.UTC.Equal(want) || s.Age != 1500*time.Millisecond || !s.Known() {
		t.Errorf("stamp 1.5 s after 08:15:00: %+v", s)
	}
}

func TestHours(t *testing.T) {
	at := func(text string) time.Time { return utc(t, "2026-05-"+text+":00Z") }
	var h hours
	for i, tt := range []struct {
		at    time.Time
		begun bool
	}{
		{at("12T07:59"), true}, {at("12T07:59"), false}, {at("12T08:00"), true}, {at("12T08:59"), false}, {at("12T09:00"), true},
	} {
		if got := h.at(tt.at); got != tt.begun {
			t.Errorf("%d, %s: begun %v, want %v", i, tt.at, got, tt.begun)
		}
	}
	// A garbled time does not open a log; the same one again and again neither.
	for range 3 * steadyTags {
		if h.at(at("12T19:30")) {
			t.Fatal("one garbled time began an hour")
		}
	}
	h.at(at("12T09:01"))
	// A clock that really jumped does.
	for i := range steadyTags {
		if got, want := h.at(at("12T03:00").Add(time.Duration(i)*time.Second)), i == steadyTags-1; got != want {
			t.Errorf("tag %d of a clock that jumped back: begun %v, want %v", i, got, want)
		}
	}
	if !h.current.Equal(at("12T03:00")) {
		t.Errorf("after the jump the hour is %s", h.current)
	}
}
