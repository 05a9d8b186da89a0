package readings

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
)

// A Mapping says how a foreign readings log is read: which of its columns are
// ours, in which unit, how it writes times, numbers and words. Make one with
// LoadMapping; docs/readings-log.md explains the file.
type Mapping struct {
	name      string // of the file, for messages
	separator byte   // 0 tells it from the header
	decimal   byte   // 0 tells it from the numbers
	form      string // of a text that separators do not cut, or ""
	encoding  string // of the text, or "" to tell it
	headerRow int    // line, or 0
	// headerRows is how many rows the header takes, or 0 to find out.
	headerRows int
	day        time.Time      // of times of day
	zone       *time.Location // of times without offset
	counts     timeKind       // what times that are numbers count
	start      string         // of those that count from a start
	blank      []string
	measured   []string // cells that are measurements, although they come again and again
	ignore     []string // normalised

	timeColumn, dateColumn, clockColumn string      // as written; "" for the built-in names
	format                              *timeFormat // nil for the built-in formats

	columns map[string]target // their header, normalised → ours
	theirs  []string          // their headers as written, in the order of ours
	fixed   []fixedCell
	words   wordSet
}

// A target is a column of ours with the unit it is written in.
type target struct {
	col  *column
	unit *unit // nil for texts, and where each cell says it
}

// A fixedCell is a value of every row of a log that has no such column.
type fixedCell struct {
	target target
	cell   string
}

// mappingFile is the TOML file.
type mappingFile struct {
	Separator  string   `toml:"separator"`
	Decimal    string   `toml:"decimal"`
	HeaderRow  int      `toml:"header_row"`
	HeaderRows int      `toml:"header_rows"`
	Encoding   string   `toml:"encoding"`
	Blank      []string `toml:"blank"`
	Measured   []string `toml:"measured"`
	Ignore     []string `toml:"ignore"`
	Time       struct {
		Column string `toml:"column"`
		Date   string `toml:"date"`
		Clock  string `toml:"clock"`
		Format string `toml:"format"`
		Day    string `toml:"day"`
		Zone   string `toml:"zone"`
		Start  string `toml:"start"`
	} `toml:"time"`
	Columns map[string]string `toml:"columns"`
	Fixed   map[string]any    `toml:"fixed"`
	Words   wordFile          `toml:"words"`
}

// wordFile holds words of a foreign log and ours for them.
type wordFile struct {
	Utility  map[string]string `toml:"utility"`
	Method   map[string]string `toml:"method"`
	Response map[string]string `toml:"response"`
	Feature  map[string]string `toml:"feature"`
}

// builtIn is the mapping of a log that needs none.
func builtIn() *Mapping { return &Mapping{words: builtInWords()} }

// largestMapping bounds a map of columns, in bytes: one of 16,384 columns takes less.
const largestMapping = 1 << 20

// LoadMapping reads a Mapping from TOML. name is the file's name for messages;
// every mistake is one line with the name and the line in the file.
func LoadMapping(r io.Reader, name string) (*Mapping, error) {
	data, err := io.ReadAll(io.LimitReader(r, largestMapping+1))
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	if len(data) > largestMapping {
		return nil, fmt.Errorf("reading %s: larger than %d KiB: no map of columns", name, largestMapping>>10)
	}
	var f mappingFile
	dec := toml.NewDecoder(strings.NewReader(string(data)))
	if err := dec.DisallowUnknownFields().Decode(&f); err != nil {
		return nil, tomlError(name, err)
	}
	m := builtIn()
	m.name = name
	for _, step := range []func(*mappingFile) error{m.takeText, m.takeTime, m.takeColumns, m.takeFixed, m.takeWords} {
		if err := step(&f); err != nil {
			return nil, fmt.Errorf("reading %s%s: %w", name, keyLine(string(data), err), err)
		}
	}
	return m, nil
}

// tomlError writes the library's finding as one line.
func tomlError(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		row, _ := e.Position()
		return fmt.Errorf("reading %s:%d: no key %q here; known are separator, decimal, encoding, header_row, header_rows, blank, measured, ignore, "+
			"[time] column, date, clock, format, day, zone, start, [columns], [fixed], [words.utility], [words.method], [words.response], [words.feature]",
			name, row, strings.Join(e.Key(), "."))
	}
	var found *toml.DecodeError
	if errors.As(err, &found) {
		row, col := found.Position()
		return fmt.Errorf("reading %s:%d:%d: %s", name, row, col, strings.TrimPrefix(found.Error(), "toml: "))
	}
	return fmt.Errorf("reading %s: %w", name, err)
}

// A keyError is a mistake at one key of the file.
type keyError struct{ key, text string }

func (e *keyError) Error() string { return e.key + ": " + e.text }

func badKey(key, format string, args ...any) error {
	return &keyError{key, fmt.Sprintf(format, args...)}
}

// keyLine gives ":line" of a keyError's key, or "" where it is not found.
func keyLine(data string, err error) string {
	var e *keyError
	if !errors.As(err, &e) {
		return ""
	}
	for i, line := range strings.Split(data, "\n") {
		if key, _, ok := strings.Cut(line, "="); ok && strings.Trim(strings.TrimSpace(key), `"'`) == e.key {
			return fmt.Sprintf(":%d", i+1)
		}
	}
	return ""
}

func (m *Mapping) takeText(f *mappingFile) error {
	switch f.Separator {
	case "":
	case "tab", "\t":
		m.separator = '\t'
	case "fixed":
		m.form = "columns of fixed width"
	default:
		if c := f.Separator[0]; len(f.Separator) > 1 || c >= 0x80 || c == '"' || c == '.' || c < ' ' ||
			c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' {
			return badKey("separator", "%q: wanted one sign such as \",\", \";\" or \"|\", or \"tab\" or \"fixed\"", f.Separator)
		}
		m.separator = f.Separator[0]
	}
	switch f.Decimal {
	case "":
	case ".", ",":
		m.decimal = f.Decimal[0]
	default:
		return badKey("decimal", "%q: wanted \".\" or \",\"", f.Decimal)
	}
	if m.decimal == ',' && m.separator == ',' {
		return badKey("decimal", `"," cannot be told from the separator ","`)
	}
	if f.HeaderRow < 0 {
		return badKey("header_row", "%d: lines count from 1", f.HeaderRow)
	}
	if f.HeaderRows < 0 || f.HeaderRows > headerDepth {
		return badKey("header_rows", "%d: a header has 1 to %d rows", f.HeaderRows, headerDepth)
	}
	if f.Encoding != "" && charsetNamed(f.Encoding) == nil {
		return badKey("encoding", "%q: unknown; such as \"utf-8\", \"windows-1250\", \"gb18030\" or \"utf-16\"", f.Encoding)
	}
	m.encoding, m.headerRows = f.Encoding, f.HeaderRows
	m.headerRow, m.blank, m.measured = f.HeaderRow, f.Blank, f.Measured
	for _, name := range f.Ignore {
		m.ignore = append(m.ignore, normalise(name))
	}
	return nil
}

func (m *Mapping) takeTime(f *mappingFile) (err error) {
	t := f.Time
	switch {
	case t.Column != "" && (t.Date != "" || t.Clock != ""):
		return badKey("column", "date and time in one: give either column, or date and clock")
	case (t.Date == "") != (t.Clock == ""):
		return badKey("date", "date and clock go together")
	}
	m.timeColumn, m.dateColumn, m.clockColumn = t.Column, t.Date, t.Clock
	if t.Day != "" {
		if m.day, err = time.Parse(time.DateOnly, t.Day); err != nil {
			return badKey("day", "%q: wanted a date such as \"2026-05-12\"", t.Day)
		}
	}
	if t.Zone != "" {
		if m.zone, err = ParseZone(t.Zone); err != nil {
			return badKey("zone", "%v", err)
		}
	}
	m.start = t.Start
	switch t.Format {
	case "serial":
		m.counts = serials
		return nil
	case "elapsed":
		m.counts = elapsedSeconds
		return nil
	}
	m.format, err = newTimeFormat(t.Format)
	return err
}

// takeColumns resolves our names in sorted order, so that the first mistake is
// always the same.
func (m *Mapping) takeColumns(f *mappingFile) error {
	m.columns = map[string]target{}
	ours := map[*column]string{}
	for _, name := range sortedKeys(f.Columns) {
		t, err := ownColumn(name)
		if err != nil {
			return err
		}
		theirs := normalise(f.Columns[name])
		if theirs == "" {
			return badKey(name, "the name of the log's column is missing")
		}
		if _, twice := m.columns[theirs]; twice {
			return badKey(name, "column %q is mapped twice", f.Columns[name])
		}
		if other := ours[t.col]; other != "" {
			return badKey(name, "%s is mapped already", other)
		}
		m.columns[theirs], ours[t.col] = t, name
		m.theirs = append(m.theirs, f.Columns[name])
	}
	return nil
}

func (m *Mapping) takeFixed(f *mappingFile) error {
	for _, name := range sortedKeys(f.Fixed) {
		t, err := ownColumn(name)
		if err != nil {
			return err
		}
		if t.col.quantity == fields {
			return badKey(name, "a coil's field is not the same in every row")
		}
		cell := strings.TrimSpace(fmt.Sprint(f.Fixed[name]))
		if cell == "" {
			return badKey(name, "is empty; give a value, or leave the key out")
		}
		m.fixed = append(m.fixed, fixedCell{t, cell})
	}
	return nil
}

func (m *Mapping) takeWords(f *mappingFile) (err error) {
	m.words, err = newWordSet(f.Words)
	return err
}

// ownColumn gives the column of one of our names. Where the name leaves the unit
// open, every cell must carry it.
func ownColumn(name string) (target, error) {
	normal := normalise(name)
	t, known := resolve(normal)
	switch {
	case known && t.col.calls(normal):
		return t, nil
	case normal == "time" || normal == "date":
		return t, badKey(name, "the time's columns are named under [time]")
	}
	var names []string
	for i := range columnTable {
		names = append(names, columnTable[i].ownName())
	}
	return t, badKey(name, "none of our columns: %s", strings.Join(names, ", "))
}

// isBlank reports whether a trimmed cell says that nothing was read.
func (m *Mapping) isBlank(cell string) bool { return isBlank(cell) || slices.Contains(m.blank, cell) }
