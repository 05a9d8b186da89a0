package export

import (
	"bytes"
	"encoding/json"
	"strconv"
	"time"

	"tracemap/present"
)

// kind is the type of a column.
type kind uint8

// The kinds of columns.
const (
	textKind kind = iota
	intKind
	realKind
	timeKind // UTC
	boolKind
)

// String gives the kind as the data dictionary writes it.
func (k kind) String() string {
	return [...]string{"text", "integer", "real", "time", "boolean"}[k]
}

// A cell is the content of one field of one row; which member holds it follows from the
// column's kind. NaN, the zero time and, except where a column says otherwise,
// the empty text mean "not known".
type cell struct {
	Text string
	Num  float64 // integers, reals; booleans 0 or 1
	At   time.Time
}

func text[T ~string](s T) cell { return cell{Text: string(s)} }
func number(v float64) cell    { return cell{Num: v} }
func integer(n int) cell       { return cell{Num: float64(n)} }
func moment(t time.Time) cell  { return cell{At: t} }

func truth(b bool) cell {
	if b {
		return cell{Num: 1}
	}
	return cell{}
}

// null reports whether a cell holds nothing.
func (c *column[R]) null(v cell) bool {
	switch c.Kind {
	case textKind:
		return v.Text == "" && !c.Empty
	case timeKind:
		return v.At.IsZero()
	}
	return !present.Known(v.Num)
}

// A column is one field of a layer. The table of columns makes every file and
// the data dictionary, so that they cannot disagree.
type column[R any] struct {
	Name     string
	Kind     kind
	Decimals int    // digits kept after the point: of a real, or of a time's seconds
	Unit     string // "" for none
	Empty    bool   // the empty text is a value of its own: "none", not "not known"
	Meaning  string
	Standard string // what an open standard calls it; "" where none has it
	DBF      string // name of at most ten characters, for Shapefile
	Get      func(*R) cell
}

// value gives the cell of a row, rounded, and whether it holds anything.
func (c *column[R]) value(row *R) (v cell, ok bool) {
	v = c.Get(row)
	if c.null(v) {
		return v, false
	}
	if c.Kind == realKind {
		v.Num = present.Round(v.Num, c.Decimals)
	}
	return v, true
}

// appendPlain appends the cell as text, nothing for what is not known.
func (c *column[R]) appendPlain(b []byte, row *R) []byte {
	if v, ok := c.value(row); ok {
		return c.appendText(b, v)
	}
	return b
}

// appendText appends a cell that value gave and that holds something.
func (c *column[R]) appendText(b []byte, v cell) []byte {
	switch c.Kind {
	case textKind:
		return append(b, v.Text...)
	case timeKind:
		return appendTime(b, v.At, c.Decimals)
	case boolKind:
		return strconv.AppendBool(b, v.Num != 0)
	}
	return present.AppendNumber(b, v.Num)
}

// appendJSON appends the cell as a JSON value, null for what is not known.
func (c *column[R]) appendJSON(b []byte, row *R) []byte {
	v, ok := c.value(row)
	if !ok {
		return append(b, "null"...)
	}
	switch c.Kind {
	case textKind:
		return appendJSONText(b, v.Text)
	case timeKind:
		b = append(b, '"')
		b = appendTime(b, v.At, c.Decimals)
		return append(b, '"')
	case boolKind:
		return strconv.AppendBool(b, v.Num != 0)
	}
	return present.AppendNumber(b, v.Num)
}

// appendTime appends an instant as RFC 3339 in UTC with a fixed number of
// decimals of the second.
func appendTime(b []byte, t time.Time, decimals int) []byte {
	layout := "2006-01-02T15:04:05Z"
	if decimals == 3 {
		layout = "2006-01-02T15:04:05.000Z"
	}
	return t.UTC().Round(time.Second/time.Duration(pow10(decimals))).AppendFormat(b, layout)
}

func pow10(n int) int {
	p := 1
	for range n {
		p *= 10
	}
	return p
}

// appendJSONText appends a JSON string; < > & stay readable. Bytes that are no
// UTF-8 become U+FFFD.
func appendJSONText(b []byte, s string) []byte {
	if plainASCII(s) {
		return append(append(append(b, '"'), s...), '"')
	}
	var quoted bytes.Buffer
	e := json.NewEncoder(&quoted)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil { // a string always encodes
		return append(b, `""`...)
	}
	return append(b, bytes.TrimSuffix(quoted.Bytes(), []byte("\n"))...)
}

// plainASCII reports whether a text needs no escape.
func plainASCII(s string) bool {
	for i := range len(s) {
		if c := s[i]; c < 0x20 || c > 0x7E || c == '"' || c == '\\' {
			return false
		}
	}
	return true
}
