package export_test

import (
	"context"
	"testing"
	"time"

	"tracemap/export"
	"tracemap/internal/lab/invented"
	"tracemap/result"
)

// crewDay is a day of about 2,500 readings on a hundred parts.
func crewDay() *result.Map {
	m := invented.Day(invented.Atlantic)
	lines, readings := m.Lines, m.Readings
	for k := range 25 {
		for i := range lines {
			l := lines[i]
			l.ID += " " + string(rune('a'+k))
			m.Lines = append(m.Lines, l)
		}
		for i := range readings {
			p := readings[i]
			if p.LineID != "" {
				p.LineID += " " + string(rune('a'+k))
			}
			r := *p.Reading
			r.Row += (k + 1) * 200
			p.Reading, p.UTC = &r, p.UTC.Add(time.Duration(k)*time.Minute)
			m.Readings = append(m.Readings, p)
		}
	}
	return m
}

// Each format on a crew-day; the whole program has 0.4 s for one.
func BenchmarkWrite(b *testing.B) {
	m := crewDay()
	for _, f := range export.Formats {
		if f.Projected {
			continue
		}
		b.Run(f.Name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := export.Write(context.Background(), b.TempDir(), m, []export.Format{f}, export.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
