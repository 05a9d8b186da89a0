package readings

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"unicode"

	"tracemap/readings/table"
)

// Sniff reports whether a file that starts with head looks like a readings log:
// a delimited text with a header row. It judges by content alone, and says no to
// a receiver's sentences, to binary data and to markup. A foreign log whose
// columns only a Mapping knows is recognised by its shape.
func Sniff(head []byte) bool {
	src, _, err := openText(bytes.NewReader(head), "")
	if err != nil {
		return false
	}
	text, err := io.ReadAll(src)
	if err != nil || bytes.IndexByte(text, 0) >= 0 || looksForeign(text) {
		return false
	}
	if table.Kind(text) != "" {
		return false // HoldsTable looks at it whole
	}
	ways := slicings(text, builtIn())
	if _, err := findLayout(ways, builtIn()); err == nil {
		return true
	}
	if hasHeader(ways) {
		return true
	}
	return formOf(text, builtIn()) != nil
}

// hasHeader reports whether any row could be a header.
func hasHeader(ways []slicing) bool {
	for _, way := range ways {
		for i := range way.rows[:min(len(way.rows), headerReach)] {
			if isHeader(way.rows, i) {
				return true
			}
		}
	}
	return false
}

// looksForeign reports sentences of a receiver, markup or JSON.
func looksForeign(text []byte) bool {
	start := bytes.TrimSpace(text)
	if len(start) == 0 || strings.IndexByte("<{[", start[0]) >= 0 {
		return true
	}
	for line := range bytes.Lines(text) {
		line = bytes.TrimSpace(line)
		if len(line) > 6 && (line[0] == '$' || line[0] == '!') && bytes.IndexByte(line[:min(len(line), 12)], ',') > 0 {
			return true
		}
	}
	return false
}

// isHeader reports whether row i could be a header: two cells or more, all
// filled with words, above a row as wide that has figures.
func isHeader(rows []record, i int) bool {
	if rows[i].reason != "" || len(rows[i].cells) < 2 || i+1 >= len(rows) || len(rows[i+1].cells) != len(rows[i].cells) {
		return false
	}
	for _, c := range rows[i].cells {
		if strings.IndexFunc(c, unicode.IsLetter) < 0 || isBlank(strings.TrimSpace(c)) {
			return false
		}
	}
	return strings.ContainsAny(rows[i+1].text, "0123456789")
}

// measures are the columns that only a log of readings has. Where a reading was taken,
// and with which fix, a receiver's track says too.
var measures = []string{"line", "utility", "method", "response", "frequency", "depth", "cover", "current", "null_offset", "bottom_coil", "top_coil",
	"coil_spacing", "diameter", "feature", "measured_depth"}

// Measures reports whether a heading names what a locator measures, or what it was
// measured on.
func Measures(heading string) bool {
	t, known := resolve(normalise(heading))
	return known && slices.Contains(measures, t.col.name)
}
