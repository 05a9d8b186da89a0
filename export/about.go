package export

import (
	"time"

	"tracemap/present"
	"tracemap/result"
)

// An entry is one thing to know about where a file comes from.
type entry struct{ name, label, value string }

// about lists what every output carries about its origin, in a coordinate
// system; what was not given is left out.
func about(m *result.Map, to *target) []entry {
	t := &m.Meta
	all := []entry{
		{"title", "Title", t.Title},
		{"job", "Job", t.Job},
		{"operator", "Operator", t.Operator},
		{"instrument", "Instrument", t.Instrument},
		{"note", "Note", t.Note},
		{"surveyed_from", "Surveyed from", instant(t.From)},
		{"surveyed_to", "Surveyed to", instant(t.To)},
		{"frame", "Reference frame", to.frameName(m)},
		{"scheme", "Accuracy classes", t.Scheme},
		{"source", "Input files", t.Source},
		{"tool", "Made by", t.Tool},
		{"caution", "Caution", present.Caution},
	}
	var out []entry
	for _, e := range all {
		if e.value != "" {
			out = append(out, e)
		}
	}
	return out
}

// instant writes a time to the second, UTC; empty for none.
func instant(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return string(appendTime(nil, t, 0))
}
