package geofile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
)

// dbfName is how long a name may be in a table: eleven bytes with the zero that
// ends it.
const dbfName = 10

// dbf is the table of attributes beside a Shapefile (dBASE III).
type dbf struct {
	fields []dbfField
	rows   []byte // from the first record
	size   int    // of a record
	count  int
	text   func([]byte) string
}

type dbfField struct {
	name     string
	kind     byte
	from, to int // within a record
}

// readDBF reads the header of a table. Without a table all rows are empty.
func readDBF(data, cpg []byte) (*dbf, error) {
	t := &dbf{text: decodeText}
	if len(data) == 0 {
		return t, errors.New("there is no .dbf file")
	}
	const head, descriptor = 32, 32
	if len(data) < head {
		return t, errors.New("the .dbf file ends in its header")
	}
	start, size := int(binary.LittleEndian.Uint16(data[8:])), int(binary.LittleEndian.Uint16(data[10:]))
	if start < head || start > len(data) || size < 1 {
		return t, fmt.Errorf("the .dbf file's header claims %d bytes, a record %d", start, size)
	}
	if strings.EqualFold(strings.TrimSpace(string(cpg)), "UTF-8") {
		t.text = func(b []byte) string { return strings.ToValidUTF8(string(b), "\uFFFD") }
	}
	at := 1 // after the mark of deletion
	for d := data[head:start]; len(d) >= descriptor && d[0] != '\r'; d = d[descriptor:] {
		name, _, _ := strings.Cut(string(d[:dbfName+1]), "\x00")
		f := dbfField{name: t.text([]byte(strings.TrimSpace(name))), kind: d[11], from: at, to: at + int(d[16])}
		if f.to > size {
			return &dbf{text: t.text}, fmt.Errorf("the .dbf file's field %q lies beyond its record", f.name)
		}
		at = f.to
		t.fields = append(t.fields, f)
	}
	t.rows, t.size = data[start:], size
	t.count = min(int(binary.LittleEndian.Uint32(data[4:])), len(t.rows)/size)
	return t, nil
}

// row adds the attributes of a record, counted from 0. Numbers that the writer
// left blank or filled with stars are none.
func (t *dbf) row(i int, f *Feature) {
	if i >= t.count {
		return
	}
	rec := t.rows[i*t.size : (i+1)*t.size]
	for _, c := range t.fields {
		raw := strings.TrimRight(string(rec[c.from:c.to]), " \x00")
		raw = strings.TrimLeft(raw, " ")
		switch c.kind {
		case 'C':
			f.add(c.name, t.text([]byte(raw)))
		case 'N', 'F', 'D', 'L':
			if raw != "" && raw[0] != '*' && raw != "?" {
				f.add(c.name, raw)
			}
		}
	}
}
