package geofile

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"tracemap/internal/formula"
)

// wktColumns are names of the column with the geometry, in the order of trust.
var wktColumns = []string{"wkt", "the_geom", "geom", "geometry", "wkb_geometry", "geometrywkt", "geom_wkt", "shape", "line"}

// Table is a CSV file as it stands: a header and rows, each with its line.
type Table struct {
	Header []string
	Rows   []Row
	Aside  []Aside
}

// A Row is a row of a table.
type Row struct {
	Line  int // in the file, from 1
	Cells []string
}

// Column gives the index of a column of that name, or −1.
func (t *Table) Column(name string) int { return slices.Index(t.Header, name) }

// Cell gives the cell of a column; "" where the row is shorter or there is no
// such column (−1).
func (r *Row) Cell(column int) string {
	if column < 0 || column >= len(r.Cells) {
		return ""
	}
	return r.Cells[column]
}

// ReadTable reads CSV (RFC 4180) with commas, semicolons, tabs or bars between
// cells, which is told from the header. An apostrophe before = + − @, which keeps
// a spreadsheet from running a cell, is taken off.
func ReadTable(data []byte) (*Table, error) {
	return readTable(data, newBudget(context.Background()))
}

func readTable(data []byte, b *budget) (*Table, error) {
	text := decodeText(data)
	r := csv.NewReader(strings.NewReader(text))
	r.Comma = separator(text)
	r.FieldsPerRecord = -1
	r.LazyQuotes = true
	t := &Table{}
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("reading CSV: %w", err)
		}
		line, _ := r.FieldPos(0)
		size := rowSize
		for i := range cells {
			cells[i] = formula.Bare(clean(cells[i]))
			size += cellSize + len(cells[i])
		}
		if err := b.keep(size, fmt.Sprintf("line %d", line)); err != nil {
			return nil, err
		}
		switch {
		case t.Header == nil:
			t.Header = cells
		case len(cells) > len(t.Header):
			t.Aside = append(t.Aside, Aside{fmt.Sprintf("line %d", line), fmt.Sprintf("has %d cells, the header %d", len(cells), len(t.Header))})
		default:
			t.Rows = append(t.Rows, Row{line, cells})
		}
	}
	if t.Header == nil {
		return nil, errors.New("is an empty table")
	}
	return t, nil
}

// separator is what stands most often in the first line outside quotes.
func separator(text string) rune {
	head, _, _ := strings.Cut(text, "\n")
	best, most := ',', 0
	for _, c := range []rune{',', ';', '\t', '|'} {
		n, quoted := 0, false
		for _, r := range head {
			if r == '"' {
				quoted = !quoted
			}
			if r == c && !quoted {
				n++
			}
		}
		if n > most {
			best, most = c, n
		}
	}
	return best
}

// readCSV reads a table whose geometry is well-known text in one of its columns.
func readCSV(s *source) (*File, error) {
	t, err := readTable(s.data, s.budget)
	if err != nil {
		return nil, err
	}
	at := wktColumn(t)
	if at < 0 {
		if len(t.Rows) == 0 || len(t.Header) < 2 {
			return nil, ErrFormat
		}
		return nil, fmt.Errorf("is CSV without a column of well-known text: found %s; a column wkt with LINESTRING (…) is needed", shorten(strings.Join(t.Header, ", ")))
	}
	f := &File{Format: "CSV", budget: s.budget, Aside: t.Aside, Layers: []Layer{{Name: stem(s.name)}}}
	layer, said := &f.Layers[0], ""
	crsColumn := slices.IndexFunc(t.Header, func(h string) bool {
		h = strings.ToLower(h)
		return h == "crs" || h == "srs" || h == "srid" || h == "epsg"
	})
	for i := range t.Rows {
		if err := f.budget.error(); err != nil {
			return nil, err
		}
		row := &t.Rows[i]
		here := tableFeature(f, t, row, at)
		if here == nil {
			continue
		}
		crs := here.crs
		if crs == "" {
			crs = numbered(row.Cell(crsColumn))
		}
		if crs != "" && said == "" {
			said = crs
			layer.withCRS(crs)
		}
		if crs != "" && crs != said {
			f.aside(here.Where, "is in %s, the rows before in %s", shorten(crs), shorten(said))
			continue
		}
		f.keep(layer, here.Feature)
	}
	return f, f.budget.error()
}

// numbered makes a bare figure an EPSG code.
func numbered(s string) string {
	if s != "" && strings.Trim(s, "0123456789") == "" {
		return "EPSG:" + s
	}
	return s
}

type rowFeature struct {
	Feature
	crs string
}

// tableFeature makes a feature of a row, or sets it aside.
func tableFeature(f *File, t *Table, row *Row, at int) *rowFeature {
	where := fmt.Sprintf("line %d", row.Line)
	text := row.Cell(at)
	if text == "" {
		f.aside(where, "has no geometry")
		return nil
	}
	g, srid, err := parseWKT(text)
	if err != nil {
		f.aside(where, "column %s: %v", t.Header[at], err)
		return nil
	}
	out := &rowFeature{Feature: Feature{Where: where}, crs: numbered(srid)}
	for i, name := range t.Header {
		if i != at {
			out.add(name, row.Cell(i))
		}
	}
	if reason := out.take(g); reason != "" {
		f.aside(where, "%s", reason)
	}
	return out
}

// wktColumn finds the column of the geometry: by name, else the first whose
// cells in the first rows begin like well-known text.
func wktColumn(t *Table) int {
	looks := func(column int) bool {
		for i := range t.Rows[:min(len(t.Rows), 20)] {
			cell := wktSRID.ReplaceAllString(strings.ToUpper(t.Rows[i].Cell(column)), "")
			for _, word := range []string{"LINESTRING", "MULTILINESTRING", "POINT", "POLYGON", "MULTI", "GEOMETRYCOLLECTION"} {
				if strings.HasPrefix(cell, word) {
					return true
				}
			}
		}
		return false
	}
	for _, name := range wktColumns {
		for i, h := range t.Header {
			if strings.EqualFold(h, name) && looks(i) {
				return i
			}
		}
	}
	for i := range t.Header {
		if looks(i) {
			return i
		}
	}
	return -1
}
