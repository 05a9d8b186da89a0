package export

import (
	"bufio"
	"context"
	"encoding/json"
	"math"
	"path/filepath"

	"tracemap/internal/newfile"
)

// Summaries gives each part's attributes by the names of the files' columns,
// numbers not known as nil, for Summary.Lines.
func Summaries(m *Map) []PartSummary {
	out := []PartSummary{}
	rows := partRows(m)
	for i := range rows {
		s := PartSummary{}
		for j := range partColumns {
			c := &partColumns[j]
			s[c.Name] = json.RawMessage(c.appendJSON(nil, &rows[i]))
		}
		out = append(out, s)
	}
	return out
}

// writeSummary writes summary.json. Lines that the summary does not hold yet are
// filled in from the map.
func writeSummary(_ context.Context, dir string, m *Map, _ Options) error {
	return newfile.Write(filepath.Join(dir, "summary.json"), func(w *bufio.Writer) error {
		b, err := EncodeSummary(m)
		if err != nil {
			return err
		}
		_, err = w.Write(b)
		return err
	})
}

// EncodeSummary gives summary.json: two-space indent, a line feed at the end.
// Numbers that are not known are null, lists that are empty are [].
func EncodeSummary(m *Map) ([]byte, error) {
	var s Summary
	if m.Summary != nil {
		s = *m.Summary
	}
	if s.Lines == nil {
		s.Lines = Summaries(m)
	}
	v := m.Judged()
	s.Verdict = &v
	s.fill()
	b, err := json.MarshalIndent(&s, "", "  ")
	if err != nil {
		return nil, err
	}
	return append(b, '\n'), nil
}

// fill puts empty lists and tables for absent ones, so that programs need not
// ask, and takes numbers out that JSON cannot hold.
func (s *Summary) fill() {
	if s.Verdict != nil {
		v := *s.Verdict
		v.Reasons, v.NotTold = append([]string{}, v.Reasons...), append([]string{}, v.NotTold...)
		s.Verdict = &v
	}
	if s.Inputs == nil {
		s.Inputs = []Input{}
	}
	if s.Warnings == nil {
		s.Warnings = []string{}
	}
	if s.GNSS.Gaps == nil {
		s.GNSS.Gaps = []GapSummary{}
	}
	for _, table := range []*map[string]int{&s.GNSS.Sentences, &s.GNSS.Fix, &s.Readings.ByFlag} {
		if *table == nil {
			*table = map[string]int{}
		}
	}
	s.Elapsed = orZero(s.Elapsed)
}

func orZero(v float64) float64 {
	if !known(v) {
		return 0
	}
	return round(v, 3)
}

// MarshalJSON writes what is not known as null.
func (c ClockSummary) MarshalJSON() ([]byte, error) {
	runnerUp := math.NaN()
	if c.RunnerUp != nil {
		runnerUp = *c.RunnerUp
	}
	return json.Marshal(struct {
		Offset     *float64 `json:"offset_s"`
		Sigma      *float64 `json:"sigma_s"`
		Drift      *float64 `json:"drift_ppm"`
		Method     string   `json:"method"`
		State      string   `json:"state"`
		Determined bool     `json:"determined"`
		WidthAdded *float64 `json:"width_added_m"`
		RunnerUp   *float64 `json:"runner_up_s"`
	}{orNull(c.Offset, 4), orNull(c.Sigma, 4), orNull(c.Drift, 3), c.Method, c.State, c.Determined, orNull(c.WidthAdded, 3), orNull(runnerUp, 4)})
}

// MarshalJSON writes a height that is not known as null.
func (f FrameSummary) MarshalJSON() ([]byte, error) {
	f.Epoch = round(f.Epoch, 4)
	type plain FrameSummary
	return json.Marshal(struct {
		plain
		shiftJSON
	}{plain(f), f.Shift.json()})
}

// MarshalJSON writes a height that is not known as null.
func (c CRSSummary) MarshalJSON() ([]byte, error) {
	type plain CRSSummary
	return json.Marshal(struct {
		plain
		shiftJSON
	}{plain(c), c.Shift.json()})
}

type shiftJSON struct {
	East  *float64 `json:"east_m"`
	North *float64 `json:"north_m"`
	Up    *float64 `json:"up_m"`
}

func (s Shift) json() shiftJSON {
	return shiftJSON{orNull(s.East, 4), orNull(s.North, 4), orNull(s.Up, 4)}
}

func orNull(v float64, decimals int) *float64 {
	if !known(v) {
		return nil
	}
	v = round(v, decimals)
	return &v
}
