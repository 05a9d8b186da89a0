package tracks

import (
	"bytes"
	"errors"
	"slices"
	"strings"
)

// Bounds of a table: more is no track.
const (
	headerReach = 60       // lines above the header
	mostCells   = 256      // of a row
	longestLine = 64 << 10 // bytes
)

// errNoHeader says that no line names a time, a latitude and a longitude.
var errNoHeader = errors.New("no header with a time, a latitude and a longitude")

// readTable reads delimited text below a header that names time, latitude and longitude.
func readTable(data []byte, out *sink) error {
	var cols []column
	var sep byte
	var cells []string
	number := 0
	for line := range bytes.Lines(trimmedMark(data)) {
		number++
		line = bytes.TrimRight(line, "\r\n")
		if len(line) > longestLine {
			return errors.New("a line is longer than a track's row can be")
		}
		if cols == nil {
			if cols, sep = header(line, out); cols == nil && number > headerReach {
				return errNoHeader
			}
			continue
		}
		if len(bytes.TrimSpace(line)) == 0 || line[0] == '#' || line[0] == '%' {
			continue
		}
		cells = split(cells[:0], line, sep)
		if sep == ' ' && len(cells) == len(cols)+1 { // the date and the time of day stand apart
			if at := slices.IndexFunc(cols, func(c column) bool { return c == colTime || c == colGPSTime }); at >= 0 {
				cells[at] += " " + cells[at+1]
				cells = slices.Delete(cells, at+1, at+2)
			}
		}
		var r record
		for i, cell := range cells[:min(len(cells), len(cols))] {
			r.put(cols[i], cell)
		}
		if err := out.add(&r, number); err != nil {
			return err
		}
	}
	if cols == nil {
		return errNoHeader
	}
	return nil
}

// header takes a line apart if it is the header: the columns, 0 for those that are
// not known, and what parts them.
func header(line []byte, out *sink) ([]column, byte) {
	for _, sep := range []byte{',', ';', '\t', '|', ' '} {
		cells := split(nil, bytes.TrimLeft(line, "# %"), sep)
		var cols []column
		var has [columnCount]bool
		for _, cell := range cells {
			col := columnOf(cell)
			if has[col] && col != 0 {
				col = 0 // the first of two counts
			}
			has[col] = true
			cols = append(cols, col)
		}
		timed := has[colTime] || has[colGPSTime] || has[colDate] || has[colWeek] && has[colTow]
		if !timed || !has[colLat] && !has[colLatE7] || !has[colLon] && !has[colLonE7] {
			continue
		}
		for i, cell := range cells {
			if cols[i] == 0 && cell != "" {
				out.foreign(cell)
			}
		}
		return cols, sep
	}
	return nil, 0
}

// split takes a row apart. Quotes around a cell are taken off; inside them sep is text.
// Several blanks part cells as one does.
func split(cells []string, line []byte, sep byte) []string {
	for at := 0; at <= len(line) && len(cells) < mostCells; {
		for sep == ' ' && at < len(line) && line[at] == ' ' {
			at++
		}
		if at < len(line) && line[at] == '"' {
			if end := bytes.IndexByte(line[at+1:], '"'); end >= 0 {
				cells = append(cells, strings.TrimSpace(string(line[at+1:at+1+end])))
				at += end + 2
				if next := bytes.IndexByte(line[at:], sep); next >= 0 {
					at += next + 1
					continue
				}
				break
			}
		}
		end := bytes.IndexByte(line[at:], sep)
		if end < 0 {
			end = len(line) - at
		}
		cells = append(cells, strings.TrimSpace(string(line[at:at+end])))
		at += end + 1
	}
	return cells
}
