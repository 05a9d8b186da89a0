package survey_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/internal/survey"
	"tracemap/result"
)

// FuzzDay gives any bytes for the two logs. Whatever they are, nothing panics;
// what is refused is refused in one line; what is mapped accounts for every row
// and claims no place that is none.
func FuzzDay(f *testing.F) {
	log, readings := demo(f)
	head := func(text string, lines int) string {
		return strings.Join(strings.SplitAfterN(text, "\n", lines+1)[:lines], "")
	}
	short := head(log, 900) // some five minutes
	f.Add(short, head(readings, 12))
	f.Add(short, strings.ReplaceAll(head(readings, 12), "2026-05-12", "1970-01-01"))
	f.Add(short, strings.ReplaceAll(head(readings, 6), "2026", "9999"))
	f.Add(head(log, 3), head(readings, 3))
	f.Add(gga+rmc, rows)
	f.Add(packed(f, short), packed(f, head(readings, 12))[:300])
	f.Add("", "")
	f.Fuzz(func(t *testing.T, log, readings string) {
		in := open(t, source("n", log), source("r", readings))
		day, err := survey.Run(t.Context(), in, survey.DefaultOptions())
		if err != nil {
			if !errors.Is(err, survey.ErrNoMap) || strings.Contains(err.Error(), "\n") {
				t.Fatalf("refused with %q, want one line that is ErrNoMap", err)
			}
			return
		}
		m := day.Map()
		if c := m.Summary.Readings; c.Total != c.Placed+c.Unplaced || c.Total != len(m.Readings)+len(m.Aside) || c.Placed == 0 {
			t.Errorf("counts %+v do not add up: %d readings, %d set aside", c, len(m.Readings), len(m.Aside))
		}
		checkPlaces(t, m)
		if _, err := export.EncodeSummary(m); err != nil {
			t.Errorf("summary: %v", err)
		}
	})
}

// checkPlaces demands that every vertex is a place on earth with a width.
func checkPlaces(t *testing.T, m *result.Map) {
	t.Helper()
	for _, l := range m.Lines {
		for _, p := range l.Parts {
			for i, v := range p.Vertices {
				g := v.Ground
				if !(math.Abs(g.Lat) <= 90) || !(math.Abs(g.Lon) <= 180) || !(v.Sigma > 0) || math.IsInf(v.Sigma, 0) {
					t.Errorf("line %q part %d vertex %d: %+v", l.ID, p.Number, i, v)
				}
			}
		}
	}
}
