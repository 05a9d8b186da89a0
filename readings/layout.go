package readings

import (
	"bufio"
	"bytes"
	"fmt"
	"strings"
	"unicode"
)

// headerReach is how many rows are searched for the header: some logs put pages of
// text before it. headerDepth is how many rows a header may take.
const (
	headerReach = 500
	headerDepth = 3
)

// sampleRows is how many rows are looked at to tell the decimal mark and how times
// are written.
const sampleRows = 500

// A layout is how a file is delimited and what its columns are.
type layout struct {
	sep      byte // 0 for the rows of a container
	first    int  // line of the first row of the text
	header   int  // line of the header's last row
	units    int  // line of the row of units, or 0
	plan     *plan
	preamble []record // what stands before the header
	rows     []record // the first ones below it
}

// separators in the order in which they are tried; a file with a known header
// has one answer whatever the order.
var separators = []byte{',', ';', '\t', '|'}

// A slicing is one way of cutting a file's head into rows.
type slicing struct {
	sep  byte
	rows []record
}

// slicings are the ways of cutting a text that the mapping leaves.
func slicings(head []byte, m *Mapping) []slicing {
	limit := max(headerReach, m.headerRow+headerDepth) + sampleRows
	var out []slicing
	seps := separators
	if m.separator != 0 {
		seps = []byte{m.separator}
	}
	for _, sep := range seps {
		out = append(out, slicing{sep, headRows(head, sep, limit)})
	}
	return out
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

// findLayout looks at a file's head. Its error says what was found instead of a
// header with a time.
func findLayout(ways []slicing, m *Mapping) (*layout, error) {
	var best *layout
	var widest []string
	for _, way := range ways {
		for i, row := range way.rows {
			if m.headerRow > 0 && row.line != m.headerRow || m.headerRow == 0 && i >= headerReach ||
				strings.IndexFunc(row.text, unicode.IsLetter) < 0 {
				continue
			}
			if len(widest) < len(row.cells) && (widest == nil || i == 0 || m.headerRow > 0 || isHeader(way.rows, i)) {
				widest = row.cells
			}
			for depth := 1; depth <= headerDepth; depth++ {
				if m.headerRows > 0 && depth != m.headerRows {
					continue
				}
				if l := layoutAt(way.rows, i, depth, way.sep, m); l != nil && (best == nil || l.worth() > best.worth()) {
					best = l
				}
			}
		}
	}
	if best == nil {
		return nil, noTime(widest, m)
	}
	if missing := best.plan.missing(m); len(missing) > 0 {
		return nil, fmt.Errorf("%s names column %s, which the header lacks; found %s", m.name, quoteList(missing), quoteList(best.plan.headers))
	}
	return best, nil
}

// worth is how much of a log a layout makes sense of.
func (l *layout) worth() int {
	n := 2 * len(l.plan.cells)
	for _, c := range l.plan.cells {
		if c.unit != nil {
			n++
		}
	}
	return n
}

// layoutAt takes row i and those below it, depth in all, as the header, or gives nil.
func layoutAt(rows []record, i, depth int, sep byte, m *Mapping) *layout {
	if i+depth > len(rows) || rows[i].reason != "" || sideways(rows[i].cells) {
		return nil
	}
	headers := rows[i].cells
	if depth > 1 {
		if headers = joinHeaders(rows[i : i+depth]); headers == nil {
			return nil
		}
	}
	end := i + depth
	l := &layout{sep: sep, first: rows[0].line, header: rows[end-1].line, preamble: rows[:i]}
	var units []string
	if end < len(rows) && len(rows[end].cells) <= len(headers) && isUnitsRow(rows[end].cells) {
		units, l.units = rows[end].cells, rows[end].line
		end++
	}
	var ok bool
	l.plan, ok = newPlan(headers, units, m)
	if !ok {
		return nil
	}
	l.rows = rows[end:min(len(rows), end+sampleRows)]
	return l
}

// joinHeaders joins the words of a header that takes several rows; a name above
// several columns stands over the first. Nil where a row holds a figure or is no
// wider part of it.
func joinHeaders(rows []record) []string {
	width := 0
	for _, r := range rows {
		width = max(width, len(r.cells))
	}
	out := make([]string, width)
	for k, r := range rows {
		if r.reason != "" || len(r.cells) < 2 || len(r.cells)*2 < width {
			return nil
		}
		over := ""
		for c := range width {
			cell := ""
			if c < len(r.cells) {
				cell = strings.TrimSpace(r.cells[c])
			}
			if strings.ContainsAny(cell, "0123456789:") {
				return nil
			}
			switch {
			case cell != "":
				over = cell
			case k+1 < len(rows) && below(rows[k+1:], c):
				cell = over
			}
			out[c] = strings.TrimSpace(out[c] + " " + cell)
		}
	}
	return out
}

// below reports whether a row has a word in that column.
func below(rows []record, c int) bool {
	for _, r := range rows {
		if c < len(r.cells) && strings.TrimSpace(r.cells[c]) != "" {
			return true
		}
	}
	return false
}

// noTime is the error for a header without a time.
func noTime(found []string, m *Mapping) error {
	if found == nil {
		if m.headerRow > 0 {
			return fmt.Errorf("no row at line %d, where %s has the header", m.headerRow, m.name)
		}
		return fmt.Errorf("empty: no header row")
	}
	switch {
	case m.timeColumn != "":
		return fmt.Errorf("no column %q, which %s names as the time; found %s", m.timeColumn, m.name, quoteList(found))
	case m.dateColumn != "":
		return fmt.Errorf("no columns %q and %q, which %s names as date and clock; found %s", m.dateColumn, m.clockColumn, m.name, quoteList(found))
	}
	if sideways(found) {
		return fmt.Errorf("the table is transposed: %s head rows, not columns; turn it (paste it transposed) and give it again", quoteList(found[:1]))
	}
	return fmt.Errorf(`no column "time"; found %s – map it with --columns`, quoteList(found))
}

// sideways reports a row that begins with a name of ours and goes on with times or
// numbers only.
func sideways(cells []string) bool {
	if len(cells) < 3 {
		return false
	}
	if _, known := headerWords()[unaccent(normalise(cells[0]))]; !known && normalise(cells[0]) != "time" {
		return false
	}
	for _, c := range cells[1:] {
		if !strings.ContainsAny(c, "0123456789") {
			return false
		}
	}
	return true
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
func (l *layout) sample(m *Mapping) error {
	if l.sep == ',' && m.decimal == ',' {
		return fmt.Errorf(`%s states decimal "," but a comma separates the cells`, m.name)
	}
	var file evidence
	columns := make([]evidence, len(l.plan.headers))
	inCell := make([]bool, len(l.plan.headers))
	for _, row := range l.rows {
		for _, c := range l.plan.cells {
			if c.col.quantity == nil || c.at >= len(row.cells) {
				continue
			}
			cell := bareCell(row.cells[c.at])
			num, unit := splitUnit(cell)
			columns[c.at].add(num)
			file.add(num)
			if _, ok := parseFeetInches(cell); ok && c.col.quantity == lengths || unit != "" && c.col.quantity.find(unit) != nil {
				inCell[c.at] = true
			}
		}
	}
	for i := range l.plan.cells {
		c := &l.plan.cells[i]
		switch {
		case m.decimal != 0:
			c.decimals = decimals{mark: m.decimal}
		case l.sep == ',' || l.sep == 0:
			c.decimals = decimals{mark: '.'}
			if e := &columns[c.at]; e.commas > 0 && e.points == 0 {
				c.decimals.mark = ',' // in quotes, or in a spreadsheet's texts
			}
		default:
			c.decimals = decimalsOf(&columns[c.at], &file, c.unit)
		}
		c.decimals.thousands = c.unit != nil && c.unit.fine && file.points > 0 && file.commas == 0
	}
	l.plan.packed = l.packedPositions()
	return l.refuseUnitless(inCell)
}

// packedPositions reports latitudes and longitudes in degrees and minutes written
// as one number, 4712.345 for 47° 12.345′: what cannot be degrees, and can be that.
func (l *layout) packedPositions() bool {
	packed := 0
	for _, c := range l.plan.cells {
		if c.col.name != "lat" {
			continue
		}
		for _, row := range l.rows {
			if c.at >= len(row.cells) {
				continue
			}
			v, reason := c.decimals.parse(strings.Trim(bareCell(row.cells[c.at]), "NSns "))
			if reason != "" || v == 0 {
				continue
			}
			whole, minutes := splitPacked(v)
			if whole > 90 || minutes >= 60 || v < 100 && v > -100 {
				return false
			}
			packed++
		}
	}
	return packed > 0
}

// refuseUnitless refuses a length, current or frequency whose unit is stated
// neither by the header nor by the cells: a depth in feet taken as metres can
// kill. Lesser quantities are left out.
func (l *layout) refuseUnitless(inCell []bool) error {
	if !l.plan.has("depth") && !l.plan.has("cover") {
		for _, x := range l.plan.extras {
			for word := range buriedWords {
				if strings.HasPrefix(normalise(x.name), word) {
					return fmt.Errorf("column %q may be measured to the top or to the centre: map it as depth_m or as cover_m with --columns", x.name)
				}
			}
		}
	}
	kept := l.plan.cells[:0]
	for _, c := range l.plan.cells {
		q := c.col.quantity
		header := l.plan.headers[c.at]
		switch {
		case q == nil, q.bare, c.unit != nil, inCell[c.at]:
			kept = append(kept, c)
		case !l.hasNumbers(c.at):
			l.plan.skipped = append(l.plan.skipped, skippedColumn{header, "no unit, and no number"})
		case c.col.name == "easting" || c.col.name == "northing":
			u := lengths.units[0] // the unit is that of the grid
			c.unit = &u
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

// buriedWords head depths that some measure to the top and others to the centre.
var buriedWords = map[string]bool{"埋深": true, "burial_depth": true, "bury_depth": true, "buried_depth": true, "depth_of_burial": true, "verlegetiefe": true}

// has reports whether a column of ours is read.
func (p *plan) has(name string) bool {
	for _, c := range p.cells {
		if c.col.name == name {
			return true
		}
	}
	return false
}

// hasNumbers reports whether any of the first rows has a figure in that column.
func (l *layout) hasNumbers(at int) bool {
	if len(l.rows) >= sampleRows {
		return true
	}
	for _, r := range l.rows {
		if at < len(r.cells) && strings.ContainsAny(r.cells[at], "0123456789") {
			return true
		}
	}
	return len(l.rows) == 0
}

// alternative is a unit for a message: another one than the first.
func alternative(q *quantity) string {
	if q == lengths {
		return "ft"
	}
	return q.units[1].name
}
