package result_test

import (
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/internal/lab/invented"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
	"tracemap/result"
)

// sound is a day with nothing to find fault with: the water line, all placed.
func sound() *result.Map {
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
	vertices := func(m *result.Map, change func(i int)) {
		for i := range m.Lines[0].Parts[0].Vertices {
			change(i)
		}
	}
	for _, c := range []struct {
		name   string
		change func(m *result.Map)
		want   result.Level
		reason string
	}{
		{"sound", func(*result.Map) {}, result.Good, ""},
		{"nothing located", func(m *result.Map) { m.Lines = nil }, result.NotUsable, "No line was located."},
		{"most readings lost", func(m *result.Map) {
			for i := range m.Readings[:len(m.Readings)*2/3] {
				m.Readings[i].OK = false
			}
		}, result.NotUsable, "have no position"},
		{"nothing but points", func(m *result.Map) {
			p := &m.Lines[0].Parts[0]
			p.Vertices, p.Flags = p.Vertices[:1], p.Flags|remarks.SinglePoint
			p.Vertices[0].Sigma = 30
		}, result.NotUsable, "No line has a length: 1 part rests on readings at one place."},
		{"most rows unreadable", func(m *result.Map) { m.Aside = make([]readings.SetAside, 40) }, result.NotUsable, "40 of 74 readings have no position."},
		{"some rows unreadable", func(m *result.Map) { m.Aside = make([]readings.SetAside, 4) }, result.WithCare, "4 of 38 rows of the readings log could not be read."},
		{"one row in 35 unreadable", func(m *result.Map) { m.Aside = make([]readings.SetAside, 1) }, result.Good, ""},
		{"a useless stretch", func(m *result.Map) {
			vs := m.Lines[0].Parts[0].Vertices
			for i := range vs {
				vs[i].Sigma = 0.05
			}
			vs[0].Sigma = 4
		}, result.WithCare, "These stretches may lie more than 1.00 m to either side: W-1 ("},
		{"useless width", func(m *result.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Sigma = 0.6 })
		}, result.NotUsable, "On 100 % of the length the true line may lie more than 1.00 m to either side."},
		{"wide", func(m *result.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Sigma = 0.3 })
		}, result.WithCare, "more than 0.50 m"},
		{"clock", func(m *result.Map) {
			m.Clock.State, m.Lines[0].Parts[0].ClockWidth = clock.Unknown, 0.3
		}, result.WithCare, "could not be tied to UTC, which adds up to 0.30 m to either side on 100 % of the length."},
		{"clock estimated", func(m *result.Map) {
			m.Clock.State, m.Clock.Sigma, m.Lines[0].Parts[0].ClockWidth = clock.Estimated, 1, 0.3
		}, result.WithCare, "was tied to UTC only to within ±2.0 s, which adds up to 0.30 m to either side on 100 % of the length."},
		{"clock unknown where it does not matter", func(m *result.Map) {
			m.Clock.State, m.Lines[0].Parts[0].ClockWidth = clock.Unknown, 0.001
		}, result.Good, ""},
		{"some readings lost", func(m *result.Map) { m.Readings[0].OK, m.Readings[1].OK, m.Readings[2].OK = false, false, false }, result.WithCare, "3 of 34 readings have no position."},
		{"one reading in 34 lost", func(m *result.Map) { m.Readings[0].OK = false }, result.Good, ""},
		{"many set aside", func(m *result.Map) {
			for i := range 5 {
				m.Readings[i].Used = false
			}
		}, result.WithCare, "5 of 34 readings on lines were set aside."},
		{"no depth", func(m *result.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Depth = invented.Bad().Clock.Offset })
		}, result.WithCare, "On 100 % of the length no depth was read."},
		{"weak fix", func(m *result.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Quality = nmea.QualityDGPS })
		}, result.WithCare, "weaker than RTK float"},
		{"float fix", func(m *result.Map) {
			vertices(m, func(i int) { m.Lines[0].Parts[0].Vertices[i].Quality = nmea.QualityRTKFloat })
		}, result.Good, ""},
		{"distorted", func(m *result.Map) { m.Lines[0].Parts[0].Vertices[1].Flags |= remarks.Distorted }, result.WithCare, "The field is distorted; place and depth may be further off than the widths say: W-1 ("},
		{"peak and null apart", func(m *result.Map) { m.Lines[0].Parts[0].Vertices[1].Flags |= remarks.PeakNullApart }, result.WithCare, "The field is distorted"},
		{"a test hole contradicts", func(m *result.Map) {
			m.Lines[0].Events = []fuse.Event{{Kind: remarks.PotholeContradicts, Station: 12, Before: 1.2, After: 0.96, Across: -0.1}}
		}, result.WithCare, "beyond its width: W-1 at 12.0 m (seen 0.96 m deep, located 1.20 m, 0.10 m beside the line)."},
		{"a test hole agrees", func(m *result.Map) {
			m.Lines[0].Events = []fuse.Event{{Kind: remarks.PotholeUsed, Station: 12, Before: 1.2, After: 1.22}}
		}, result.Good, ""},
		{"position jumped", func(m *result.Map) { m.Lines[0].Parts[0].Vertices[1].Flags |= remarks.GNSSJump }, result.WithCare, "as after a false fix; the line may be further off than its width says: W-1 ("},
		{"two readings", func(m *result.Map) { m.Lines[0].Parts[0].Flags |= remarks.TwoPoints }, result.WithCare, "These parts rest on one or two readings: W-1."},
		{"antenna", func(m *result.Map) { m.Readings[3].Flags |= remarks.AntennaAssumed }, result.Good, ""},
		{"frame", func(m *result.Map) { m.Lines[0].Flags |= remarks.FrameAssumed }, result.Good, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := sound()
			c.change(m)
			v := result.Judge(m)
			text := strings.Join(v.Reasons, " ")
			if v.Level != c.want || !strings.Contains(text, c.reason) || (v.Level == result.Good) != (len(v.Reasons) == 0) {
				t.Errorf("%v because %q, want %v because %q", v.Level, text, c.want, c.reason)
			}
		})
	}
}

// A map keeps the verdict that the day was given, and programs read it in the file's own
// words.
func TestVerdictIsMadeOnce(t *testing.T) {
	m := sound()
	m.Summary = &result.Summary{Verdict: &result.Verdict{Level: result.NotUsable, NotTold: []string{"Antenna height"}}}
	if v := m.Judged(); v.Level != result.NotUsable {
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
	v := result.Judge(m)
	if want := "1 line was located, 75.2 m in all, from 34 of 34 readings. Half of that length is known within ± 0.10 m across the line; depth was read on 100 % of it."; v.Summary != want {
		t.Errorf("summary %q, want %q", v.Summary, want)
	}
}
