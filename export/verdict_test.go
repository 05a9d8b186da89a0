package export_test

import (
	"strings"
	"testing"
	"time"

	"tracemap/export"
	"tracemap/export/internal/invented"
	"tracemap/flags"
	"tracemap/fuse"
	"tracemap/nmea"
	"tracemap/readings"
)

// sound is a day with nothing to find fault with: the water line, all placed.
func sound() *export.Map {
	m := invented.Day(invented.Atlantic)
	m.Lines, m.Aside = m.Lines[:1], nil
	kept := m.Readings[:0]
	for _, p := range m.Readings {
		if p.OK && p.LineID == "W-1" && p.Used {
			kept = append(kept, p)
		}
	}
	m.Readings, m.Points = kept, nil
	return m
}

// Each rule of the verdict, alone, on a day that is sound without it.
func TestVerdictRules(t *testing.T) {
	vertices := func(m *export.Map, change func(i int)) {
		for i := range m.Lines[0].Parts[0].Vertices {
			change(i)
		}
	}
	for _, c := range []struct {
		name   string
		change func(m *export.Map)
		want   export.Level
		reason string
	}{
		{"sound", func(*export.Map) {}, export.Good, ""},
		{"nothing located", func(m *export.Map) { m.Lines = nil }, export.NotUsable, "No line was located."},
		{"most readings lost", func(m *export.Map) {
			for i := range m.Readings[:len(m.Readings)*2/3] {
				m.Readings[i].OK = false
			}
		}, export.NotUsable, "have no position"},
		{"nothing but points", func(m *export.Map) {
			p := &m.Lines[0].Parts[0]
			p.Vertices, p.Flags = p.Vertices[:1], p.Flags|flags.SinglePoint
			p.Vertices[0].Sigma = 30
		}, export.NotUsable, "No line has a length: 1 part rests on readings at one place."},
		{"most rows unreadable", func(m *export.Map) { m.Aside = make([]readings.SetAside, 40) }, export.NotUsable, "40 of 74 readings have no position."},
		{"some rows unreadable", func(m *export.Map) { m.Aside = make([]readings.SetAside, 4) }, export.WithCare, "4 of 38 rows of the readings log could not be read."},
		{"one row in 35 unreadable", func(m *export.Map) { m.Aside = make([]readings.SetAside, 1) }, export.Good, ""},
		{"a useless stretch", func(m *export.Map) {
			vs := m.Lines[0].Parts[0].Vertices
			for i := range vs {
				vs[i].Sigma = 0.05
			}
			vs[0].Sigma = 4
		}, export.WithCare, "These stretches may lie more than 1.00 m to either side: W-1 ("},
		{"useless width", func(m *export.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Sigma = 0.6 })
		}, export.NotUsable, "On 100 % of the length the true line may lie more than 1.00 m to either side."},
		{"wide", func(m *export.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Sigma = 0.3 })
		}, export.WithCare, "more than 0.50 m"},
		{"clock", func(m *export.Map) {
			m.Clock.Determined, m.Lines[0].Parts[0].ClockWidth = false, 0.3
		}, export.WithCare, "could not be tied to UTC, which adds up to 0.30 m to either side on 100 % of the length."},
		{"clock unknown where it does not matter", func(m *export.Map) {
			m.Clock.Determined, m.Lines[0].Parts[0].ClockWidth = false, 0.001
		}, export.Good, ""},
		{"some readings lost", func(m *export.Map) { m.Readings[0].OK, m.Readings[1].OK, m.Readings[2].OK = false, false, false }, export.WithCare, "3 of 34 readings have no position."},
		{"one reading in 34 lost", func(m *export.Map) { m.Readings[0].OK = false }, export.Good, ""},
		{"many set aside", func(m *export.Map) {
			for i := range 5 {
				m.Readings[i].Used = false
			}
		}, export.WithCare, "5 of 34 readings on lines were set aside."},
		{"no depth", func(m *export.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Depth = invented.Bad().Clock.Offset })
		}, export.WithCare, "On 100 % of the length no depth was read."},
		{"weak fix", func(m *export.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Quality = nmea.QualityDGPS })
		}, export.WithCare, "weaker than RTK float"},
		{"float fix", func(m *export.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Quality = nmea.QualityRTKFloat })
		}, export.Good, ""},
		{"distorted", func(m *export.Map) { m.Lines[0].Parts[0].Vertices[1].Flags |= flags.Distorted }, export.WithCare, "The field is distorted; place and depth may be further off than the widths say: W-1 ("},
		{"peak and null apart", func(m *export.Map) { m.Lines[0].Parts[0].Vertices[1].Flags |= flags.PeakNullApart }, export.WithCare, "The field is distorted"},
		{"a test hole contradicts", func(m *export.Map) {
			m.Lines[0].Events = []fuse.Event{{Kind: flags.PotholeContradicts, Station: 12, Before: 1.2, After: 0.96, Across: -0.1}}
		}, export.WithCare, "beyond its width: W-1 at 12.0 m (seen 0.96 m deep, located 1.20 m, 0.10 m beside the line)."},
		{"a test hole agrees", func(m *export.Map) {
			m.Lines[0].Events = []fuse.Event{{Kind: flags.PotholeUsed, Station: 12, Before: 1.2, After: 1.22}}
		}, export.Good, ""},
		{"position jumped", func(m *export.Map) { m.Lines[0].Parts[0].Vertices[1].Flags |= flags.GNSSJump }, export.WithCare, "as after a false fix; the line may be further off than its width says: W-1 ("},
		{"two readings", func(m *export.Map) { m.Lines[0].Parts[0].Flags |= flags.TwoPoints }, export.WithCare, "These parts rest on one or two readings: W-1."},
		{"antenna", func(m *export.Map) { m.Readings[3].Flags |= flags.AntennaAssumed }, export.Good, ""},
		{"frame", func(m *export.Map) { m.Lines[0].Flags |= flags.FrameAssumed }, export.Good, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := sound()
			c.change(m)
			v := export.Judge(m)
			text := strings.Join(v.Reasons, " ")
			if v.Level != c.want || !strings.Contains(text, c.reason) || (v.Level == export.Good) != (len(v.Reasons) == 0) {
				t.Errorf("%v because %q, want %v because %q", v.Level, text, c.want, c.reason)
			}
		})
	}
}

// A map keeps the verdict that the day was given, and programs read it in the file's own
// words.
func TestVerdictIsMadeOnce(t *testing.T) {
	m := sound()
	m.Summary = &export.Summary{Verdict: &export.Verdict{Level: export.NotUsable, NotTold: []string{"Antenna height"}}}
	if v := m.Judged(); v.Level != export.NotUsable {
		t.Errorf("judged anew: %+v", v)
	}
	b, err := export.EncodeSummary(m)
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"level":"unusable","summary":"","reasons":[],"not_told":["Antenna height"]}`; !strings.Contains(strings.Join(strings.Fields(string(b)), ""), strings.ReplaceAll(want, " ", "")) {
		t.Errorf("summary.json %s, want %s", b, want)
	}
}

// Half of the length within the median: a long narrow and a short wide stretch.
func TestVerdictSummary(t *testing.T) {
	m := sound()
	vs := m.Lines[0].Parts[0].Vertices
	for i := range vs {
		vs[i].Sigma = 0.05
	}
	vs[len(vs)-1].Sigma = 0.4
	v := export.Judge(m)
	if want := "1 line was located, 75.2 m in all, from 34 of 34 readings. Half of that length is known within ± 0.10 m across the line; depth was read on 100 % of it."; v.Summary != want {
		t.Errorf("summary %q, want %q", v.Summary, want)
	}
}

// Feet and inches are exact by definition (1 ft = 0.3048 m).
func TestUnits(t *testing.T) {
	metric, imperial := export.Units{}, export.Units{Imperial: true}
	for _, c := range []struct{ got, want string }{
		{metric.Length(12.34), "12.3 m"}, {imperial.Length(30.48), "100.0 ft"},
		{metric.Depth(1.256), "1.26 m"}, {imperial.Depth(1.2446), "4 ft 1 in"}, {imperial.Depth(0.1016), "4.0 in"},
		{imperial.Depth(0.3040), "1 ft 0 in"}, {imperial.Depth(0.6090), "2 ft 0 in"}, {imperial.Depth(-0.0254), "−1.0 in"},
		{metric.Depth(-0.05), "−0.05 m"}, {metric.Depth(invented.Bad().Clock.Offset), "–"}, {metric.Length(invented.Bad().Clock.Sigma), "–"},
		{export.Hertz(640), "640 Hz"}, {export.Hertz(8192), "8.192 kHz"}, {export.Hertz(83078.4), "83.078 kHz"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestPeriod(t *testing.T) {
	at := func(day, hour, minute int) time.Time { return time.Date(2031, 5, day, hour, minute, 20, 0, time.UTC) }
	for _, c := range []struct {
		from, to time.Time
		want     string
	}{
		{time.Time{}, time.Time{}, "–"},
		{at(6, 7, 30), at(6, 9, 5), "2031-05-06 07:30 to 09:05 UTC"},
		{at(6, 23, 30), at(7, 0, 5), "2031-05-06 23:30 to 2031-05-07 00:05 UTC"},
		{at(6, 7, 30), at(6, 7, 30), "2031-05-06 07:30 UTC"},
		{time.Time{}, at(6, 7, 30), "until 2031-05-06 07:30 UTC"},
		{at(6, 7, 30), time.Time{}, "2031-05-06 07:30 UTC"},
	} {
		if got := export.Period(c.from, c.to); got != c.want {
			t.Errorf("%v to %v: %q, want %q", c.from, c.to, got, c.want)
		}
	}
}
