package export

import (
	"bufio"
	"context"
	"encoding/json"
	"path/filepath"

	"tracemap/internal/newfile"
	"tracemap/result"
)

// Summaries gives each part's attributes by the names of the files' columns,
// numbers not known as nil, for Summary.Lines.
func Summaries(m *result.Map) []result.PartSummary {
	out := []result.PartSummary{}
	rows := partRows(m, nil)
	for i := range rows {
		s := result.PartSummary{}
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
func writeSummary(_ context.Context, dir string, m *result.Map, _ Options) error {
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
func EncodeSummary(m *result.Map) ([]byte, error) {
	var s result.Summary
	if m.Summary != nil {
		s = *m.Summary
	}
	if s.Lines == nil {
		s.Lines = Summaries(m)
	}
	v := m.Judged()
	s.Verdict = &v
	s.Fill()
	b, err := json.MarshalIndent(&s, "", "  ")
	if err != nil {
		return nil, err
	}
	return append(b, '\n'), nil
}
