package export

import (
	"bufio"
	"context"
	"encoding/csv"
	"math"
	"path/filepath"
	"slices"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/internal/formula"
	"tracemap/internal/newfile"
	"tracemap/present"
	"tracemap/result"
)

// writeCSV writes lines.csv (its geometry as WKT in the last column), vertices.csv
// and readings.csv by RFC 4180: comma, CRLF, UTF-8 without a byte order mark. In
// another coordinate system than longitude and latitude the WKT is in that
// system, and vertices and readings have their place in it in columns of their own.
func writeCSV(ctx context.Context, dir string, m *result.Map, opt Options) error {
	to, err := opt.target(m)
	if err != nil {
		return err
	}
	parts, vertices, rows := partRows(m, to), vertexRows(m, to), readingRows(m, to)
	lines, err := withWKT(m, parts, to)
	if err != nil {
		return err
	}
	if err := csvFile(ctx, filepath.Join(dir, "lines.csv"), lines, parts); err != nil {
		return err
	}
	vertexTable, readingTable := vertexColumns, readingFields(m)
	if to != nil {
		if vertexTable, err = withPlaces(vertexColumns, vertices, to, (*vertexRow).geo); err != nil {
			return err
		}
		if readingTable, err = withPlaces(readingTable, rows, to, (*readingRow).geo); err != nil {
			return err
		}
	}
	if err := csvFile(ctx, filepath.Join(dir, "vertices.csv"), vertexTable, vertices); err != nil {
		return err
	}
	return csvFile(ctx, filepath.Join(dir, "readings.csv"), readingTable, rows)
}

// withWKT adds the geometry and its system to the columns of lines.
func withWKT(m *result.Map, rows []partRow, to *target) ([]column[partRow], error) {
	texts := map[*fuse.Part]string{}
	for i := range rows {
		paths, err := linePaths(m, rows[i].part, to)
		if err != nil {
			return nil, err
		}
		texts[rows[i].part] = string(appendWKT(nil, paths))
	}
	return slices.Concat(partFields(m), []column[partRow]{
		{Name: "crs", Get: func(*partRow) cell { return text(to.name()) }},
		{Name: "wkt", Get: func(r *partRow) cell { return text(texts[r.part]) }},
	}), nil
}

// withPlaces adds the place in a coordinate system to a layer's columns: x east,
// y north, z the height above the ellipsoid of its frame, all in the system's unit.
func withPlaces[R any](columns []column[R], rows []R, to *target, geo func(*R) (geodesy.Geo, bool)) ([]column[R], error) {
	places := map[*R]pos{}
	for i := range rows {
		if g, ok := geo(&rows[i]); ok {
			p, err := to.at(g)
			if err != nil {
				return nil, err
			}
			places[&rows[i]] = p
		}
	}
	get := func(one func(pos) float64) func(*R) cell {
		return func(r *R) cell {
			if p, ok := places[r]; ok {
				return number(one(p))
			}
			return number(math.NaN())
		}
	}
	return slices.Concat(columns, []column[R]{
		{Name: "x", Kind: realKind, Decimals: to.decimals, Get: get(func(p pos) float64 { return p.x })},
		{Name: "y", Kind: realKind, Decimals: to.decimals, Get: get(func(p pos) float64 { return p.y })},
		{Name: "z", Kind: realKind, Decimals: to.heightDecimals(), Get: get(func(p pos) float64 { return p.z })},
		{Name: "crs", Get: func(*R) cell { return text(to.name()) }},
	}), nil
}

func csvFile[R any](ctx context.Context, name string, columns []column[R], rows []R) error {
	return newfile.Write(name, func(w *bufio.Writer) error {
		out := csv.NewWriter(w)
		out.UseCRLF = true
		record := record[R]{columns: columns, cells: make([]string, len(columns)), ends: make([]int, len(columns))}
		for i := range columns {
			record.cells[i] = columns[i].Name
		}
		if err := out.Write(record.cells); err != nil {
			return err
		}
		for i := range rows {
			if err := ctx.Err(); err != nil {
				return err
			}
			record.fill(&rows[i])
			if err := out.Write(record.cells); err != nil {
				return err
			}
		}
		out.Flush()
		return out.Error()
	})
}

// A record is one row of a table after the other.
type record[R any] struct {
	columns []column[R]
	cells   []string
	numbers []byte // and times of the row, behind each other
	ends    []int  // in numbers, of each column
}

// fill puts in a row. Numbers and times are cut from one text, so that a row costs
// one string and not one a cell.
func (r *record[R]) fill(row *R) {
	r.numbers = r.numbers[:0]
	for i := range r.columns {
		c := &r.columns[i]
		v, ok := c.value(row)
		switch {
		case c.Kind == textKind:
			r.cells[i] = formula.Guard(v.Text) // numbers are not touched
		case ok:
			r.numbers = c.appendText(r.numbers, v)
		}
		r.ends[i] = len(r.numbers)
	}
	all, from := string(r.numbers), 0
	for i := range r.columns {
		if r.columns[i].Kind != textKind {
			r.cells[i] = all[from:r.ends[i]]
		}
		from = r.ends[i]
	}
}

// appendWKT appends a line as well-known text: LINESTRING Z, MULTILINESTRING Z
// where it is cut at the antimeridian, POINT Z for a part with one reading;
// without Z where the utility's height is not known.
func appendWKT(b []byte, paths []path) []byte {
	if len(paths) == 0 || len(paths[0]) == 0 {
		return append(b, "LINESTRING EMPTY"...)
	}
	z := " "
	if present.Known(paths[0][0].z) {
		z = " Z "
	}
	switch {
	case len(paths) > 1:
		b = append(append(append(b, "MULTILINESTRING"...), z...), '(')
		b = appendJoined(b, paths, appendWKTPath)
		return append(b, ')')
	case len(paths[0]) == 1:
		b = append(append(b, "POINT"...), z...)
	default:
		b = append(append(b, "LINESTRING"...), z...)
	}
	return appendWKTPath(b, paths[0])
}

func appendWKTPath(b []byte, p path) []byte {
	b = append(b, '(')
	for i, at := range p {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = append(present.AppendNumber(b, at.x), ' ')
		b = present.AppendNumber(b, at.y)
		if present.Known(at.z) {
			b = present.AppendNumber(append(b, ' '), at.z)
		}
	}
	return append(b, ')')
}
