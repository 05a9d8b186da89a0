// Package table turns whatever a readings log may be kept in – a spreadsheet, a
// database, JSON, waypoints, a page – into rows of cells with their addresses.
// What the cells mean is not its business. To add a container, write a file that
// looks like html.go and a row in containers.
package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Bounds of what is read: a log of a season has 10⁵ rows of 30 columns. A file
// beyond them is no log, or made to take the memory away.
const (
	MostBytes   = 128 << 20 // of a container, as it is stored
	mostInflate = 256 << 20 // of one unpacked member
	mostRows    = 1_000_000
	mostCells   = 8_000_000
	mostColumns = 1024
	mostText    = 1 << 16 // bytes of a cell
)

// A Row is one row of a table.
type Row struct {
	Line  int // where it stands in its table: the spreadsheet's row, the element's number, from 1
	Cells []string
}

// A Table is one sheet, list or database table.
type Table struct {
	Name string // "" where a container has one only
	Rows []Row  // those that are not blank, in order
	// Date1904 says that day numbers count from 1904-01-01, not from 1899-12-30.
	Date1904 bool

	cells int
}

// A container is one kind of file.
type container struct {
	name string
	is   func(head []byte) bool // by the first bytes, as text without byte order mark
	read func(data []byte) ([]Table, error)
}

// The kinds of containers that hold maps more often than logs.
const (
	SQLite = "SQLite database"
	GPX    = "GPX file"
	KML    = "KML file"
)

// containers in the order in which they are tried.
var containers = []container{
	{"spreadsheet", isXLSX, readXLSX},
	{"OpenDocument spreadsheet", isODS, readODS},
	{SQLite, isSQLite, readSQLite},
	{GPX, isGPX, readGPX},
	{KML, isKML, readKML},
	{"HTML page", isHTML, readHTML},
	{"JSON", isJSON, readJSON},
}

// Kind names the container that a file is by its first bytes; "" for plain text
// and what is not known.
func Kind(head []byte) string {
	for _, c := range containers {
		if c.is(head) {
			return c.name
		}
	}
	return ""
}

// ErrTooLarge says that a file is beyond what a log can be.
var ErrTooLarge = errors.New("larger than any readings log: split it, or save the rows as CSV")

// Read reads a container whole. Tables without rows are left out.
func Read(r io.Reader) ([]Table, error) {
	data, err := io.ReadAll(io.LimitReader(r, MostBytes+1))
	if err != nil {
		return nil, err
	}
	if len(data) > MostBytes {
		return nil, ErrTooLarge
	}
	for _, c := range containers {
		if !c.is(data[:min(len(data), 64<<10)]) {
			continue
		}
		tables, err := c.read(data)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.name, err)
		}
		out := tables[:0]
		for _, t := range tables {
			if len(t.Rows) > 0 {
				out = append(out, t)
			}
		}
		return out, nil
	}
	return nil, errors.New("no container")
}

// add appends a row unless it is blank; trailing blank cells are dropped.
func (t *Table) add(line int, cells []string) error {
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) == 0 {
		return nil
	}
	if len(cells) > mostColumns {
		return fmt.Errorf("row %d has %d columns, more than a readings log can have (%d)", line, len(cells), mostColumns)
	}
	t.cells += len(cells)
	if len(t.Rows) >= mostRows || t.cells > mostCells {
		return ErrTooLarge
	}
	for i, c := range cells {
		if len(c) > mostText {
			cells[i] = c[:mostText]
		}
	}
	t.Rows = append(t.Rows, Row{line, cells})
	return nil
}

// records turns records with named fields into a table: the header is the union
// of the names in the order in which they appear.
type records struct {
	names []string
	at    map[string]int
	rows  [][]string
	cells int
}

func (r *records) add(fields []field) error {
	if r.at == nil {
		r.at = map[string]int{}
	}
	var row []string
	for _, f := range fields {
		i, known := r.at[f.name]
		if !known {
			if i = len(r.names); i >= mostColumns {
				return fmt.Errorf("more than %d columns", mostColumns)
			}
			r.at[f.name] = i
			r.names = append(r.names, f.name)
		}
		for len(row) <= i {
			row = append(row, "")
		}
		if row[i] == "" {
			row[i] = f.value
		}
	}
	r.cells += len(row)
	if len(r.rows) >= mostRows || r.cells > mostCells {
		return ErrTooLarge
	}
	r.rows = append(r.rows, row)
	return nil
}

// A field is a named value of a record.
type field struct{ name, value string }

// table gives the records below their header; record n stands in line n + 1.
func (r *records) table(name string) Table {
	t := Table{Name: name}
	if len(r.rows) == 0 {
		return t
	}
	t.Rows = append(t.Rows, Row{1, r.names})
	for i, row := range r.rows {
		for len(row) < len(r.names) {
			row = append(row, "")
		}
		t.Rows = append(t.Rows, Row{i + 2, row})
	}
	return t
}

func trimmed(head []byte) []byte {
	return bytes.TrimSpace(bytes.TrimPrefix(head, []byte("\uFEFF")))
}
