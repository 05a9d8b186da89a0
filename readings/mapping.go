package readings

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// A Mapping says how a foreign readings log is read: which of its columns are
// ours, in which unit, how it writes times, numbers and words. The zero Mapping
// changes nothing. docs/readings-log.md explains every key.
type Mapping struct {
	Separator string   `toml:"separator"` // ",", ";" or "tab"; "" tells it from the header
	Decimal   string   `toml:"decimal"`   // "." or ","; "" tells it from the numbers
	HeaderRow int      `toml:"header_row"`
	Blank     []string `toml:"blank"`  // cells that mean: not read
	Ignore    []string `toml:"ignore"` // columns to leave out without a word

	Time    TimeMapping       `toml:"time"`
	Columns map[string]string `toml:"columns"` // ours with unit = theirs
	Fixed   map[string]any    `toml:"fixed"`   // ours with unit = value of every row
	Words   WordMapping       `toml:"words"`

	name    string
	format  *timeFormat // nil: the built-in formats
	columns map[string]target
	fixed   []fixedCell
	words   wordSet
}

// A TimeMapping says where the time stands and how it is written.
type TimeMapping struct {
	Column string `toml:"column"` // date and time in one
	Date   string `toml:"date"`   // or in two
	Clock  string `toml:"clock"`
	Format string `toml:"format"` // YYYY MM DD hh mm ss fff AM and the signs between; or unix, unix_ms
}

// A WordMapping holds words of a foreign log and ours for them.
type WordMapping struct {
	Utility  map[string]string `toml:"utility"`
	Method   map[string]string `toml:"method"`
	Response map[string]string `toml:"response"`
	Feature  map[string]string `toml:"feature"`
}

// A target is a column of ours with the unit it is written in.
type target struct {
	col  *column
	unit *unit // nil for texts, and where each cell says it
}

// A fixedCell is a value that every row gets whose own cell is absent.
type fixedCell struct {
	target target
	cell   string
}

// LoadMapping reads a Mapping from TOML. name is the file's name for messages;
// every mistake is one line with name and, where TOML tells it, the line.
func LoadMapping(r io.Reader, name string) (*Mapping, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	m := &Mapping{name: name}
	dec := toml.NewDecoder(strings.NewReader(string(data)))
	if err := dec.DisallowUnknownFields().Decode(m); err != nil {
		return nil, tomlError(name, err)
	}
	if err := m.prepare(); err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	return m, nil
}

// tomlError writes the library's finding as one line.
func tomlError(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		row, _ := e.Position()
		return fmt.Errorf("reading %s:%d: no key %q here; known are separator, decimal, header_row, blank, ignore, "+
			"[time] column date clock format, [columns], [fixed], [words.utility], [words.method], [words.response], [words.feature]",
			name, row, strings.Join(e.Key(), "."))
	}
	var syntax *toml.DecodeError
	if errors.As(err, &syntax) {
		row, col := syntax.Position()
		return fmt.Errorf("reading %s:%d:%d: %s", name, row, col, strings.TrimPrefix(syntax.Error(), "toml: "))
	}
	return fmt.Errorf("reading %s: %w", name, err)
}

// prepare checks the mapping and turns its names into columns and words.
func (m *Mapping) prepare() error {
	switch m.Separator {
	case "", ",", ";", "tab", "\t":
	default:
		return fmt.Errorf("separator %q: wanted \",\", \";\" or \"tab\"", m.Separator)
	}
	switch {
	case m.Decimal != "" && m.Decimal != "." && m.Decimal != ",":
		return fmt.Errorf("decimal %q: wanted \".\" or \",\"", m.Decimal)
	case m.Decimal == "," && m.Separator == ",":
		return errors.New(`decimal "," and separator "," cannot be told apart`)
	case m.HeaderRow < 0:
		return fmt.Errorf("header_row %d: lines count from 1", m.HeaderRow)
	}
	if err := m.prepareTime(); err != nil {
		return err
	}
	if err := m.prepareColumns(); err != nil {
		return err
	}
	var err error
	m.words, err = newWordSet(m.Words)
	return err
}

func (m *Mapping) prepareTime() error {
	t := m.Time
	switch {
	case t.Column != "" && (t.Date != "" || t.Clock != ""):
		return errors.New("[time]: column is date and time in one; give either column or date and clock")
	case (t.Date == "") != (t.Clock == ""):
		return errors.New("[time]: date and clock go together")
	}
	var err error
	m.format, err = newTimeFormat(t.Format)
	return err
}

// prepareColumns resolves our names in [columns] and [fixed], in sorted order so
// that the first mistake is always the same.
func (m *Mapping) prepareColumns() error {
	m.columns = map[string]target{}
	for _, ours := range sortedKeys(m.Columns) {
		t, err := ownColumn(ours)
		if err != nil {
			return fmt.Errorf("[columns]: %w", err)
		}
		theirs := normalise(m.Columns[ours])
		if theirs == "" {
			return fmt.Errorf("[columns] %s: the name of the log's column is missing", ours)
		}
		if other, twice := m.columns[theirs]; twice {
			return fmt.Errorf("[columns] %s and %s: both are column %q", other.col.name, ours, m.Columns[ours])
		}
		m.columns[theirs] = t
	}
	m.fixed = nil
	for _, ours := range sortedKeys(m.Fixed) {
		t, err := ownColumn(ours)
		if err != nil {
			return fmt.Errorf("[fixed]: %w", err)
		}
		m.fixed = append(m.fixed, fixedCell{t, fmt.Sprint(m.Fixed[ours])})
	}
	return nil
}

// ownColumn gives the column of one of our names. Where the name leaves the unit
// open, every cell must carry it.
func ownColumn(name string) (target, error) {
	t, known := resolve(normalise(name))
	switch {
	case known && t.col != nil:
		return t, nil
	case normalise(name) == "time":
		return t, errors.New("time is given under [time]")
	}
	var names []string
	for i := range table {
		names = append(names, table[i].ownName())
	}
	return t, fmt.Errorf("%q is none of our columns: %s", name, strings.Join(names, ", "))
}

// blank reports whether the user calls the cell blank.
func (m *Mapping) blank(cell string) bool {
	for _, b := range m.Blank {
		if cell == b {
			return true
		}
	}
	return false
}
