package tracks

import (
	"bytes"
	"errors"
	"unicode/utf16"
)

// A sink takes what a form's reader finds.
type sink struct {
	add     func(r *record, line int) error
	foreign func(heading string) // one that is none of ours
	line    bool                 // the places are corners of a line
}

// put keeps the first text that is said for a column.
func (r *record) put(col column, text string) {
	if col != 0 && r[col] == "" {
		r[col] = text
	}
}

// mostPoints is how many places a file may have: a week at 2 Hz, more than the bytes
// of any form allow a day of.
const mostPoints = 1_500_000

var errTooMany = errors.New("more places than a track can have: split it")

// rows are lists of values, one a place.
type rows struct{ of [columnCount][]string }

func (r *rows) append(col column, text string) error {
	if col == 0 {
		return nil
	}
	if len(r.of[col]) >= mostPoints {
		return errTooMany
	}
	r.of[col] = append(r.of[col], text)
	return nil
}

// give hands the places out. A list that is not as long as that of the places tells
// nothing, for nobody can say where one is missing.
func (r *rows) give(out *sink, line int) error {
	n := len(r.of[colLat])
	for i := range n {
		var one record
		for col, list := range r.of {
			if len(list) == n {
				one[col] = list[i]
			}
		}
		if err := out.add(&one, line); err != nil {
			return err
		}
	}
	return nil
}

var mark = []byte("\uFEFF")

func trimmedMark(data []byte) []byte { return bytes.TrimPrefix(data, mark) }

func trimmed(data []byte) []byte { return bytes.TrimSpace(trimmedMark(data)) }

// utf8 gives text of two bytes a letter as UTF-8, and other text as it is.
func utf8(data []byte) []byte {
	little := bytes.HasPrefix(data, []byte{0xFF, 0xFE})
	if !little && !bytes.HasPrefix(data, []byte{0xFE, 0xFF}) {
		return data
	}
	units := make([]uint16, 0, len(data)/2)
	for i := 2; i+1 < len(data); i += 2 {
		hi, lo := data[i], data[i+1]
		if little {
			hi, lo = lo, hi
		}
		units = append(units, uint16(hi)<<8|uint16(lo))
	}
	return []byte(string(utf16.Decode(units)))
}
