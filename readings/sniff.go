package readings

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
)

// headerReach is how many rows are searched for the header: some logs put a
// title block before it.
const headerReach = 30

// sampleRows is how many rows are looked at to tell the decimal mark.
const sampleRows = 500

// A layout is how a file is delimited and what its columns are.
type layout struct {
	sep    byte
	first  int // line of the first row of the text
	header int // line of the header row
	units  int // line of the row of units, or 0
	plan   *plan
}

// separators in the order in which they are tried; a file with a known header
// has one answer whatever the order.
var separators = []byte{',', ';', '\t'}

// findLayout looks at a file's head. Its error says what was found instead of a
// header with a time.
func findLayout(head []byte, m *Mapping) (*layout, error) {
	var best *layout
	var widest []string
	for _, sep := range separators {
		if m.separator != 0 && m.separator != sep {
			continue
		}
		rows := headRows(head, sep, headerReach)
		for i, row := range rows {
			if m.headerRow > 0 && row.line != m.headerRow || strings.IndexFunc(row.text, unicode.IsLetter) < 0 {
				continue
			}
			if len(widest) < len(row.cells) && (widest == nil || i == 0 || m.headerRow > 0) {
				widest = row.cells
			}
			if l := layoutAt(rows, i, sep, m); l != nil && (best == nil || len(l.plan.cells) > len(best.plan.cells)) {
				best = l
			}
		}
	}
	if best == nil {
		return nil, noTime(widest, m)
	}
	if missing := best.plan.missing(m); len(missing) > 0 {
		return nil, fmt.Errorf("%s names column %s, which the header lacks; found %s", m.name, quoteList(missing), quoteList(best.plan.headers))
	}
	if err := best.sample(head, m); err != nil {
		return nil, err
	}
	return best, nil
}

// headRows cuts the head into rows, as far as it is whole.
func headRows(head []byte, sep byte, limit int) []record {
	r := newRecordReader(bufio.NewReader(bytes.NewReader(head)), sep)
	var rows []record
	for len(rows) < limit {
		rec, err := r.next()
		if err != nil {
			break
		}
		rec.cells = append([]string(nil), rec.cells...)
		rows = append(rows, rec)
	}
	return rows
}

// layoutAt takes row i as the header, or gives nil.
func layoutAt(rows []record, i int, sep byte, m *Mapping) *layout {
	if rows[i].reason != "" {
		return nil
	}
	l := &layout{sep: sep, first: rows[0].line, header: rows[i].line}
	var units []string
	if i+1 < len(rows) && len(rows[i+1].cells) <= len(rows[i].cells) && isUnitsRow(rows[i+1].cells) {
		units, l.units = rows[i+1].cells, rows[i+1].line
	}
	var ok bool
	l.plan, ok = newPlan(rows[i].cells, units, m)
	if !ok {
		return nil
	}
	return l
}

// noTime is the error for a header without a time.
func noTime(found []string, m *Mapping) error {
	if found == nil {
		if m.headerRow > 0 {
			return fmt.Errorf("no row at line %d, where %s has the header", m.headerRow, m.name)
		}
		return errors.New("empty: no header row")
	}
	switch {
	case m.timeColumn != "":
		return fmt.Errorf("no column %q, which %s names as the time; found %s", m.timeColumn, m.name, quoteList(found))
	case m.dateColumn != "":
		return fmt.Errorf("no columns %q and %q, which %s names as date and clock; found %s", m.dateColumn, m.clockColumn, m.name, quoteList(found))
	}
	return fmt.Errorf(`no column "time"; found %s – map it with --columns`, quoteList(found))
}

// quoteList writes names for a message, no more than a dozen.
func quoteList(names []string) string {
	var out []string
	for _, n := range names {
		if n = strings.TrimSpace(n); n != "" {
			out = append(out, fmt.Sprintf("%q", shorten(n)))
		}
		if len(out) == 12 {
			out = append(out, "…")
			break
		}
	}
	return strings.Join(out, ", ")
}

// sample tells the decimal mark of each column from the file's first rows, and
// refuses measurements without a unit.
func (l *layout) sample(head []byte, m *Mapping) error {
	if l.sep == ',' && m.decimal == ',' {
		return fmt.Errorf(`%s states decimal "," but a comma separates the cells`, m.name)
	}
	var file evidence
	columns := make([]evidence, len(l.plan.headers))
	inCell := make([]bool, len(l.plan.headers))
	for _, row := range headRows(head, l.sep, sampleRows) {
		if row.line <= l.header || row.line == l.units {
			continue
		}
		for _, c := range l.plan.cells {
			if c.col.quantity == nil || c.at >= len(row.cells) {
				continue
			}
			num, unit := splitUnit(strings.TrimSpace(row.cells[c.at]))
			columns[c.at].add(num)
			file.add(num)
			if unit != "" && c.col.quantity.find(unit) != nil {
				inCell[c.at] = true
			}
		}
	}
	for i := range l.plan.cells {
		c := &l.plan.cells[i]
		switch {
		case l.sep == ',':
			c.decimals = decimals{mark: '.'}
		case m.decimal != 0:
			c.decimals = decimals{mark: m.decimal}
		default:
			c.decimals = decimalsOf(&columns[c.at], &file, c.unit)
		}
	}
	return l.refuseUnitless(inCell)
}

// refuseUnitless refuses a length, current or frequency whose unit is stated
// neither by the header nor by the cells: a depth in feet taken as metres can
// kill. Lesser quantities are left out.
func (l *layout) refuseUnitless(inCell []bool) error {
	kept := l.plan.cells[:0]
	for _, c := range l.plan.cells {
		q := c.col.quantity
		header := l.plan.headers[c.at]
		switch {
		case q == nil, q.bare, c.unit != nil, inCell[c.at]:
			kept = append(kept, c)
		case q == lengths, q == currents, q == frequencies:
			return fmt.Errorf("column %q states no unit: name it %s (or %s_%s), or map it with --columns",
				header, c.col.ownName(), c.col.name, alternative(q))
		default:
			l.plan.skipped = append(l.plan.skipped, skippedColumn{header, "no unit: name it " + c.col.ownName()})
		}
	}
	l.plan.cells = kept
	return nil
}

// alternative is a unit for a message: another one than the first.
func alternative(q *quantity) string {
	if q == lengths {
		return "ft"
	}
	return q.units[1].name
}

// Sniff reports whether a file that starts with head looks like a readings log:
// a delimited text with a header row. It judges by content alone, and says no to
// a receiver's sentences, to binary data and to markup. A foreign log whose
// columns only a Mapping knows is recognised by its shape.
func Sniff(head []byte) bool {
	text, err := io.ReadAll(openText(bytes.NewReader(head)))
	if err != nil || bytes.IndexByte(text, 0) >= 0 || looksForeign(text) {
		return false
	}
	if _, err := findLayout(text, builtIn()); err == nil {
		return true
	}
	for _, sep := range separators {
		rows := headRows(text, sep, headerReach)
		for i := range rows {
			if isHeader(rows, i) {
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
