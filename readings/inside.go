package readings

import (
	"bufio"
	"bytes"
	"fmt"

	"tracemap/readings/table"
)

// InContainer reports whether a file that starts with head is a spreadsheet, a
// database or another container that may hold readings.
func InContainer(head []byte) bool {
	text, _, err := openText(bytes.NewReader(head), "")
	if err != nil {
		return false
	}
	start, _ := text.Peek(min(len(head), headSize))
	return table.Kind(start) != ""
}

// LookInside opens a container and says whether it holds a table of readings, or
// one that a map of columns could make sense of. kind names the container.
func LookInside(whole []byte) (kind string, err error) {
	text, _, err := openText(bytes.NewReader(whole), "")
	if err != nil {
		return "", err
	}
	start, _ := text.Peek(min(len(whole), headSize))
	kind = table.Kind(start)
	tables, err := table.Read(bufio.NewReader(text))
	if err != nil {
		return kind, err
	}
	// A database or a file of places is most often a map: only one that has a time is a log.
	mayBeMapped := kind != table.SQLite && kind != table.GPX && kind != table.KML
	for _, t := range tables {
		way := sliceOf(t.Rows)
		l, err := findLayout([]slicing{way}, builtIn())
		if err == nil && (mayBeMapped || l.plan.timed()) || mayBeMapped && hasHeader([]slicing{way}) {
			return kind, nil
		}
	}
	return kind, fmt.Errorf("no table with a header and rows")
}

// timed reports whether a column says when.
func (p *plan) timed() bool { return p.time >= 0 || p.date >= 0 || p.week >= 0 }
