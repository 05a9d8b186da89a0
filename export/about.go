package export

import (
	"bufio"
	"fmt"
	"os"
	"time"
)

// An entry is one thing to know about where a file comes from.
type entry struct{ name, label, value string }

// about lists what every output carries about its origin; what was not given
// is left out.
func about(m *Map) []entry {
	t := &m.Meta
	all := []entry{
		{"title", "Title", t.Title},
		{"job", "Job", t.Job},
		{"operator", "Operator", t.Operator},
		{"instrument", "Instrument", t.Instrument},
		{"note", "Note", t.Note},
		{"surveyed_from", "Surveyed from", instant(t.From)},
		{"surveyed_to", "Surveyed to", instant(t.To)},
		{"frame", "Reference frame", t.Frame},
		{"scheme", "Accuracy classes", t.Scheme},
		{"source", "Input files", t.Source},
		{"tool", "Made by", t.Tool},
		{"caution", "Caution", Caution},
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

// create writes a new file through a buffer. The file must not be there yet:
// two formats that write one name would be a mistake.
func create(name string, write func(*bufio.Writer) error) (err error) {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	w := bufio.NewWriterSize(f, 64<<10)
	if err := write(w); err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	return w.Flush()
}
