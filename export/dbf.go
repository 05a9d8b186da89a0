package export

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"iter"
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
}

// dbfFields declares the columns; their widths are for the caller to find.
func dbfFields[R any](columns []column[R]) ([]dbfField, error) {
	out := make([]dbfField, len(columns))
	for i := range columns {
		c := &columns[i]
		if c.DBF == "" {
			return nil, fmt.Errorf("column %s has no DBF name", c.Name)
		}
		out[i] = dbfField{name: c.DBF, kind: 'C', width: 1}
		switch c.Kind {
		case intKind:
			out[i].kind = 'N'
		case realKind:
			out[i].kind, out[i].decimals = 'N', c.Decimals
		case boolKind:
			out[i].kind = 'L'
		}
	}
	return out, nil
}

// dbf writes a dBASE III+ table, UTF-8. What is not known is blank, and '?' for
// logical fields. A text too long for the format ends in "…".
func dbf[R any](w *bufio.Writer, columns []column[R], fields []dbfField, rows iter.Seq[*R], count int, stamp time.Time) error {
	size := 1
	for _, f := range fields {
		size += f.width
	}
	if stamp.Year() < 1900 || stamp.Year() > 2155 {
		stamp = time.Unix(0, 0).UTC()
	}
	head := 32 + 32*len(fields) + 1
	if size > 65535 || head > 65535 {
		return fmt.Errorf("a row of %d bytes in %d fields is more than a DBF table can hold", size, len(fields))
	}
	b := []byte{3, byte(stamp.Year() - 1900), byte(stamp.Month()), byte(stamp.Day())}
	b = binary.LittleEndian.AppendUint32(b, uint32(count))
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
	for row := range rows {
		b = append(b, ' ')
		for i, f := range fields {
			b = appendPadded(b, dbfValue(&columns[i], row), f.width, f.kind == 'N')
		}
		if _, err := w.Write(b); err != nil {
			return err
		}
		b = b[:0]
	}
	_, err := w.Write(append(b, 0x1A))
	return err
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
