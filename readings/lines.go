package readings

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf8"
)

const (
	// longestLine bounds the memory that garbage without line ends can take.
	longestLine = 1 << 20
	// longestRecord is how many lines a quoted note may run over.
	longestRecord = 100
)

// A record is one row of a delimited text.
type record struct {
	line   int      // number of the line on which it starts, from 1
	cells  []string // nil when reason is given; valid until the next record
	text   string   // as written, for messages
	reason string   // why it is no row, or ""
}

// A recordReader cuts a delimited text into rows (RFC 4180). Unlike a plain
// reader of the format it survives a quote that is opened and never closed: the
// line with the quote is given up, not everything behind it.
type recordReader struct {
	src     *bufio.Reader
	sep     byte
	eol     byte
	line    int      // lines taken from src
	waiting []string // lines read ahead, before those of src
	latin   int      // lines that were not UTF-8
	// complete reports whether a line is a whole row by itself; it tells an
	// unclosed quote from a note of several lines.
	complete func(cells []string) bool

	cells  []string
	feed   feeder
	quoted *csv.Reader
}

func newRecordReader(src *bufio.Reader, sep byte) *recordReader {
	r := &recordReader{src: src, sep: sep, eol: '\n'}
	if head, _ := src.Peek(headSize); bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		r.eol = '\r' // line ends of old desktops
	}
	return r
}

var errLongLine = errors.New("line too long")

// next gives the next row that is not blank, or io.EOF. A reading error of the
// source ends it.
func (r *recordReader) next() (record, error) {
	for {
		start := r.line - len(r.waiting) + 1
		text, err := r.take()
		if err == errLongLine {
			return record{line: start, text: text, reason: "line longer than 1 MiB"}, nil
		}
		if err != nil {
			return record{}, err
		}
		if strings.TrimSpace(text) == "" || r.sep == '|' && strings.Trim(text, "|-=+: ") == "" {
			continue // blank, or a ruling
		}
		rec, err := r.cut(start, text)
		if err != nil {
			return record{}, err
		}
		if rec.reason == "" && blankCells(rec.cells) {
			continue
		}
		return rec, nil
	}
}

// cut parts a line into cells, taking further lines where a quote is open.
func (r *recordReader) cut(start int, text string) (record, error) {
	rec := record{line: start, text: text}
	if hasControl(text) {
		rec.reason = "control characters: damaged on its way"
		return rec, nil
	}
	if !r.opensQuote(text) {
		r.cells = split(r.cells[:0], text, r.sep)
		rec.cells = r.cells
		return rec, nil
	}
	whole, joined, err := r.join(text)
	if err != nil {
		return rec, err
	}
	rec.text = whole
	if hasControl(whole) { // in a further line
		rec.reason = "control characters: damaged on its way"
		return rec, nil
	}
	if rec.cells = r.unquote(whole); rec.cells == nil {
		r.waiting = append(joined, r.waiting...)
		rec.text = text
		rec.reason = "a quote that is opened and not closed, or stands inside a cell"
	}
	return rec, nil
}

// join adds further lines to one whose quote is open, as long as none of them is
// a whole row by itself. joined are the lines added.
func (r *recordReader) join(text string) (whole string, joined []string, err error) {
	whole = text
	for open := strings.Count(text, `"`)%2 == 1; open && len(joined) < longestRecord && len(whole) < longestLine; {
		line, err := r.take()
		if err == io.EOF {
			break
		}
		if err != nil && err != errLongLine {
			return "", nil, err
		}
		if err == errLongLine || r.isWhole(line) {
			r.waiting = append([]string{line}, r.waiting...)
			break
		}
		joined = append(joined, line)
		whole += "\n" + line
		if strings.Count(line, `"`)%2 == 1 {
			open = false
		}
	}
	return whole, joined, nil
}

// isWhole reports whether a line is a row by itself; one with an odd quote
// rather closes the quote that is open.
func (r *recordReader) isWhole(line string) bool {
	if r.complete == nil || strings.Count(line, `"`)%2 == 1 {
		return false
	}
	if !r.opensQuote(line) {
		return r.complete(split(nil, line, r.sep))
	}
	cells := r.unquote(line)
	return cells != nil && r.complete(cells)
}

// take gives the next line without its end.
func (r *recordReader) take() (string, error) {
	if len(r.waiting) > 0 {
		line := r.waiting[0]
		r.waiting = r.waiting[1:]
		return line, nil
	}
	line, err := r.physical()
	if err != nil && err != errLongLine {
		return "", err
	}
	r.line++
	text := string(bytes.TrimSuffix(line, []byte("\r")))
	if !utf8.ValidString(text) {
		r.latin++
		text = fromWindows1252(text)
	}
	return text, err
}

// physical reads one line of the source; of one that is too long it gives the
// start and skips the rest. The bytes are valid until the next call.
func (r *recordReader) physical() ([]byte, error) {
	line, err := r.src.ReadSlice(r.eol)
	if err == nil {
		return line[:len(line)-1], nil
	}
	whole := append([]byte(nil), line...)
	for err == bufio.ErrBufferFull {
		line, err = r.src.ReadSlice(r.eol)
		if len(whole) <= longestLine {
			whole = append(whole, line...)
		}
	}
	switch {
	case err == io.EOF && len(whole) == 0:
		return nil, io.EOF
	case err != nil && err != io.EOF:
		return nil, err
	case len(whole) > longestLine:
		return whole[:80], errLongLine
	}
	return bytes.TrimSuffix(whole, []byte{r.eol}), nil
}

// opensQuote reports whether a cell of the line starts with a quote. A quote
// elsewhere, as in a 6" main, is a plain character.
func (r *recordReader) opensQuote(line string) bool {
	for at := 0; ; {
		i := strings.IndexByte(line[at:], '"')
		if i < 0 {
			return false
		}
		if at += i; at == 0 || line[at-1] == r.sep {
			return true
		}
		at++
	}
}

// split parts a line without quoted cells.
func split(cells []string, line string, sep byte) []string {
	for {
		i := strings.IndexByte(line, sep)
		if i < 0 {
			return append(cells, line)
		}
		cells = append(cells, line[:i])
		line = line[i+1:]
	}
}

// unquote parts a text with quoted cells, or gives nil.
func (r *recordReader) unquote(text string) []string {
	if r.quoted == nil {
		r.feed = feeder{}
		r.quoted = csv.NewReader(&r.feed)
		r.quoted.Comma = rune(r.sep)
		r.quoted.FieldsPerRecord = -1
		r.quoted.ReuseRecord = true
	}
	r.feed.text = text + "\n"
	cells, err := r.quoted.Read()
	if err != nil {
		r.quoted = nil // what is left in its buffer belongs to a broken row
		return nil
	}
	return cells
}

// A feeder gives one text at a time, with an end of file behind each, so that
// one csv.Reader serves all rows.
type feeder struct{ text string }

func (f *feeder) Read(p []byte) (int, error) {
	if f.text == "" {
		return 0, io.EOF
	}
	n := copy(p, f.text)
	f.text = f.text[n:]
	return n, nil
}

func blankCells(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}
