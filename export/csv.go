package export

import (
	"bufio"
	"context"
	"encoding/csv"
	"path/filepath"
)

// writeCSV writes lines.csv (its geometry as WKT in the last column), vertices.csv
// and readings.csv by RFC 4180: comma, CRLF, UTF-8 without a byte order mark.
func writeCSV(ctx context.Context, dir string, m *Map, opt Options) error {
	parts := partRows(m)
	wkt := column[partRow]{Name: "wkt", Get: func(r *partRow) cell {
		return cell{Text: string(appendWKT(nil, linePaths(m, r.part, opt.grid())))}
	}}
	lines := append(append([]column[partRow]{}, partColumns...), wkt)
	if err := csvFile(ctx, filepath.Join(dir, "lines.csv"), lines, parts); err != nil {
		return err
	}
	if err := csvFile(ctx, filepath.Join(dir, "vertices.csv"), vertexColumns, vertexRows(m)); err != nil {
		return err
	}
	return csvFile(ctx, filepath.Join(dir, "readings.csv"), readingColumns, readingRows(m))
}

func csvFile[R any](ctx context.Context, name string, columns []column[R], rows []R) error {
	return create(name, func(w *bufio.Writer) error {
		out := csv.NewWriter(w)
		out.UseCRLF = true
		record := make([]string, len(columns))
		for i := range columns {
			record[i] = columns[i].Name
		}
		if err := out.Write(record); err != nil {
			return err
		}
		var b []byte
		for i := range rows {
			if err := ctx.Err(); err != nil {
				return err
			}
			for j := range columns {
				b = columns[j].appendPlain(b[:0], &rows[i])
				record[j] = string(b)
				if columns[j].Kind == textKind {
					record[j] = guard(record[j])
				}
			}
			if err := out.Write(record); err != nil {
				return err
			}
		}
		out.Flush()
		return out.Error()
	})
}

// guard keeps a spreadsheet from running a text as a formula: one that begins
// with = + - @, tab or carriage return gets an apostrophe before it (common
// practice, as OWASP's page on CSV injection has it). Numbers are not touched.
func guard(s string) string {
	if s == "" {
		return s
	}
	switch s[0] {
	case '=', '+', '-', '@', '\t', '\r':
		return "'" + s
	}
	return s
}

// appendWKT appends a line as well-known text: LINESTRING Z, MULTILINESTRING Z
// where it is cut at the antimeridian, POINT Z for a part with one reading;
// without Z where the utility's height is not known.
func appendWKT(b []byte, paths []path) []byte {
	if len(paths) == 0 || len(paths[0]) == 0 {
		return append(b, "LINESTRING EMPTY"...)
	}
	z := " "
	if known(paths[0][0].z) {
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
		b = append(appendNumber(b, at.x), ' ')
		b = appendNumber(b, at.y)
		if known(at.z) {
			b = appendNumber(append(b, ' '), at.z)
		}
	}
	return append(b, ')')
}
