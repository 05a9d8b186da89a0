package export

import (
	"encoding/binary"
	"fmt"
	"strconv"
	"time"
	"unicode/utf8"
)

// dbfText is the most bytes that a text field holds (dBASE III+).
const dbfText = 254

// A dbfField is a column as the table has it.
type dbfField struct {
	name     string
	kind     byte // C text, N number, L logical
	width    int
	decimals int
	values   []string
}

// dbf makes a dBASE III+ table, UTF-8. What is not known is blank, and '?' for
// logical fields. A text too long for the format ends in "…".
func dbf[R any](columns []column[R], rows []R, stamp time.Time) ([]byte, error) {
	fields := make([]dbfField, len(columns))
	size := 1
	for i := range columns {
		f, err := dbfColumn(&columns[i], rows)
		if err != nil {
			return nil, err
		}
		fields[i] = f
		size += f.width
	}
	if stamp.Year() < 1900 || stamp.Year() > 2155 {
		stamp = time.Unix(0, 0).UTC()
	}
	head := 32 + 32*len(fields) + 1
	if size > 65535 || head > 65535 {
		return nil, fmt.Errorf("a row of %d bytes in %d fields is more than a DBF table can hold", size, len(fields))
	}
	b := []byte{3, byte(stamp.Year() - 1900), byte(stamp.Month()), byte(stamp.Day())}
	b = binary.LittleEndian.AppendUint32(b, uint32(len(rows)))
	b = binary.LittleEndian.AppendUint16(b, uint16(head))
	b = binary.LittleEndian.AppendUint16(b, uint16(size))
	b = append(b, make([]byte, 20)...)
	for _, f := range fields {
		name := [11]byte{}
		copy(name[:10], f.name)
		b = append(append(b, name[:]...), f.kind, 0, 0, 0, 0, byte(f.width), byte(f.decimals))
		b = append(b, make([]byte, 14)...)
	}
	b = append(b, 0x0D)
	for i := range rows {
		b = append(b, ' ')
		for _, f := range fields {
			b = appendPadded(b, f.values[i], f.width, f.kind == 'N')
		}
	}
	return append(b, 0x1A), nil
}

// dbfColumn writes out a column and finds the width that it needs.
func dbfColumn[R any](c *column[R], rows []R) (dbfField, error) {
	f := dbfField{name: c.DBF, kind: 'C', width: 1, values: make([]string, len(rows))}
	switch c.Kind {
	case intKind:
		f.kind = 'N'
	case realKind:
		f.kind, f.decimals = 'N', c.Decimals
	case boolKind:
		f.kind = 'L'
	}
	if f.name == "" {
		return f, fmt.Errorf("column %s has no DBF name", c.Name)
	}
	for i := range rows {
		text := dbfValue(c, &rows[i])
		f.values[i] = text
		f.width = max(f.width, len(text))
	}
	return f, nil
}

func dbfValue[R any](c *column[R], row *R) string {
	v, ok := c.value(row)
	switch {
	case !ok && c.Kind == boolKind:
		return "?"
	case !ok:
		return ""
	}
	switch c.Kind {
	case boolKind:
		if v.Num != 0 {
			return "T"
		}
		return "F"
	case realKind:
		return strconv.FormatFloat(v.Num, 'f', c.Decimals, 64)
	}
	return cut(string(c.appendPlain(nil, row)), dbfText)
}

// cut shortens a text to a number of bytes, whole characters only, and shows it.
func cut(text string, most int) string {
	const mark = "…"
	if len(text) <= most {
		return text
	}
	end := most - len(mark)
	for end > 0 && !utf8.RuneStart(text[end]) {
		end--
	}
	return text[:end] + mark
}

// appendPadded fills a field: numbers to the right, all else to the left. Control
// characters become blanks.
func appendPadded(b []byte, text string, width int, right bool) []byte {
	pad := width - len(text)
	if right {
		for range pad {
			b = append(b, ' ')
		}
	}
	for i := range len(text) {
		if c := text[i]; c < ' ' {
			b = append(b, ' ')
		} else {
			b = append(b, c)
		}
	}
	if !right {
		for range pad {
			b = append(b, ' ')
		}
	}
	return b
}
