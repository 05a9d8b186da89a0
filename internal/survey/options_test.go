package survey_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"tracemap/fuse/clock"
	"tracemap/internal/survey"
)

func TestParseClockOffset(t *testing.T) {
	for _, c := range []struct {
		text string
		mode clock.Mode
		want time.Duration
		err  string
	}{
		{"auto", clock.Auto, 0, ""},
		{"none", clock.Trust, 0, ""},
		{"37.4s", clock.Given, 37400 * time.Millisecond, ""},
		{"-1h0m12s", clock.Given, -time.Hour - 12*time.Second, ""},
		{"0s", clock.Given, 0, ""},
		{"37.4", 0, 0, "no unit"},
		{"soon", 0, 0, "must be auto"},
		{"", 0, 0, "must be auto"},
		{"1e999s", 0, 0, "must be auto"},
		{"300000h", 0, 0, "more than"},
	} {
		mode, d, err := survey.ParseClockOffset(c.text)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%q: error %v, want %q", c.text, err, c.err)
			}
			continue
		}
		if err != nil || mode != c.mode || d != c.want {
			t.Errorf("%q = %v, %v, %v; want %v, %v", c.text, mode, d, err, c.mode, c.want)
		}
	}
}

func TestParseMark(t *testing.T) {
	m, err := survey.ParseMark("2031-05-06T09:31:30.5+02:00=2031-05-06T07:30:00Z")
	if err != nil || m.Locator.Sub(m.UTC) != 90500*time.Millisecond {
		t.Errorf("ParseMark = %v, %v; want a locator 90.5 s ahead", m, err)
	}
	if back, err := survey.ParseMark(survey.FormatMark(m)); err != nil || !back.Locator.Equal(m.Locator) || !back.UTC.Equal(m.UTC) {
		t.Errorf("there and back: %v, %v", back, err)
	}
	for _, text := range []string{"", "x", "2031-05-06T07:30:00Z", "=", "2031-05-06T07:30:00=2031-05-06T07:30:00Z", "2031-05-06T07:30:00Z=noon"} {
		if _, err := survey.ParseMark(text); err == nil {
			t.Errorf("ParseMark(%q): no error", text)
		}
	}
}

func TestParseZone(t *testing.T) {
	z, err := survey.ParseZone("Europe/Oslo")
	if err != nil || z.String() != "Europe/Oslo" {
		t.Errorf("ParseZone = %v, %v", z, err)
	}
	for _, name := range []string{"", "Local", "Nowhere/Land", "../etc/passwd"} {
		if _, err := survey.ParseZone(name); err == nil {
			t.Errorf("ParseZone(%q): no error", name)
		}
	}
}

// Wrong options are refused before anything is read.
func TestCheckRefuses(t *testing.T) {
	at := time.Date(2031, 5, 6, 7, 30, 0, 0, time.UTC)
	mark := clock.Mark{Locator: at.Add(time.Minute), UTC: at}
	for name, spoil := range map[string]func(*survey.Options){
		"antenna height":  func(o *survey.Options) { o.Fuse.AntennaHeight = -1 },
		"antenna forward": func(o *survey.Options) { o.Fuse.AntennaForward = math.NaN() },
		"antenna right":   func(o *survey.Options) { o.Fuse.AntennaRight = math.Inf(1) },
		"max gap":         func(o *survey.Options) { o.Fuse.MaxGap = -0.1 },
		"accuracy scheme": func(o *survey.Options) { o.Scheme = "best" },
		"contradict":      func(o *survey.Options) { o.Clock.Mode, o.Clock.Marks = clock.Trust, []clock.Mark{mark} },
		"contradict each": func(o *survey.Options) {
			o.Clock.Marks = []clock.Mark{mark, {Locator: mark.Locator, UTC: at.Add(time.Second)}}
		},
		"the two times": func(o *survey.Options) { o.Clock.Marks = []clock.Mark{{Locator: at.AddDate(30, 0, 0), UTC: at}} },
	} {
		o := survey.DefaultOptions()
		spoil(&o)
		if err := o.Check(); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: Check = %v", name, err)
		}
	}
	o := survey.DefaultOptions()
	o.Fuse.AntennaHeight, o.Fuse.MaxGap = 0, 0 // zeros that mean something
	if err := o.Check(); err != nil {
		t.Errorf("zeros: %v", err)
	}
}
