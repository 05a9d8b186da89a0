package readings

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"tracemap/flags"
)

// A Source is one readings log as text, plain and not compressed.
type Source struct {
	Name string // for messages and Reading.File
	R    io.Reader
}

// Options say how logs are read. The zero value reads our own format.
type Options struct {
	// Zone is the locator's time zone, for times that carry no offset. Nil takes
	// them as UTC, with a warning.
	Zone *time.Location
	// Columns is the map of a foreign log; nil for none.
	Columns *Mapping
}

// Read reads the sources in their order as one log. Every data row becomes a
// Reading or a SetAside. An error means that a source could not be read at all:
// no header with a time, a measurement without a unit, an error of its Reader.
// Cost: linear; memory for the readings only.
func Read(ctx context.Context, sources []Source, opt Options) (*Log, error) {
	m := opt.Columns
	if m == nil {
		m = &Mapping{}
	}
	words := m.words
	if words.method == nil {
		words, _ = newWordSet(WordMapping{}) // without words of a mapping there is nothing to refuse
	}
	log := &Log{}
	said := &remarks{}
	for _, src := range sources {
		f := &fileReader{name: src.Name, log: log, said: said, mapping: m}
		if err := f.open(src.R, opt, words); err != nil {
			return nil, fmt.Errorf("reading %s: %w", src.Name, err)
		}
		if err := f.rows(ctx); err != nil {
			return nil, fmt.Errorf("reading %s: %w", src.Name, err)
		}
		f.remark()
	}
	log.Warnings = said.lines()
	return log, nil
}

// A fileReader reads one source into the log.
type fileReader struct {
	name    string
	log     *Log
	said    *remarks
	mapping *Mapping
	layout  *layout
	records *recordReader
	rd      *rowReader
	count   int // data rows
}

// open finds the header and goes behind it.
func (f *fileReader) open(r io.Reader, opt Options, words wordSet) error {
	text := openText(r)
	head, err := text.Peek(headSize)
	if err != nil && err != io.EOF {
		return err
	}
	if f.layout, err = findLayout(head, f.mapping); err != nil {
		return err
	}
	f.rd, err = newRowReader(f.name, f.layout, f.mapping, opt.Zone, words)
	if err != nil {
		return err
	}
	f.records = newRecordReader(text, f.layout.sep)
	for last := max(f.layout.header, f.layout.units); f.records.line < last; {
		if _, err := f.records.next(); err != nil {
			return err
		}
	}
	f.records.complete = f.rd.isRow
	return nil
}

// checkEvery is how many rows are read between looks at the context.
const checkEvery = 4096

func (f *fileReader) rows(ctx context.Context) error {
	for {
		if f.count%checkEvery == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		rec, err := f.records.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("line %d: %w", f.records.line+1, err)
		}
		f.count++
		f.log.Rows++
		r, aside := f.rd.read(&rec)
		if aside != nil {
			f.log.Aside = append(f.log.Aside, *aside)
			continue
		}
		f.log.Readings = append(f.log.Readings, r)
	}
}

// A rowReader turns the rows of one file into readings.
type rowReader struct {
	file      string
	plan      *plan
	decimals  decimals
	mapping   *Mapping
	words     wordSet
	template  Reading // what a row starts from: nothing measured
	nanoTesla bool    // the coils' unit is known

	zone     zoneClock
	assumed  bool // no zone was given
	noOffset int  // times without offset that were read as UTC for want of a zone
	noTime   int
	folds    [skipped + 1]foldCount

	texts   map[string]string // one copy of each text
	plain   map[string]string // cell → normalised word
	unknown []string          // words for utilities that are none, in order of appearance
}

// A foldCount counts times of one kind at a change of the clocks.
type foldCount struct {
	n    int
	line int    // of the first
	text string // of the first
}

func newRowReader(file string, l *layout, m *Mapping, zone *time.Location, words wordSet) (*rowReader, error) {
	rd := &rowReader{file: file, plan: l.plan, decimals: l.decimals, mapping: m, words: words, template: nothingRead(),
		texts: map[string]string{}, plain: map[string]string{}}
	rd.template.File = file
	switch {
	case l.plan.utc:
		rd.zone.zone = time.UTC
	case zone == nil:
		rd.zone.zone, rd.assumed = time.UTC, true
	default:
		rd.zone.zone = zone
	}
	if err := rd.fix(l); err != nil {
		return nil, err
	}
	return rd, rd.coilUnits()
}

// nothingRead is a reading without any measurement.
func nothingRead() Reading {
	r := Reading{Utility: "unknown", CoilDepth: math.NaN(), CoilCurrent: math.NaN()}
	for i := range table {
		if table[i].field != nil {
			*table[i].field(&r) = math.NaN()
		}
	}
	return r
}

// fix puts the mapping's fixed values into the template.
func (rd *rowReader) fix(l *layout) error {
	comma := rd.decimals
	rd.decimals = decimals{mark: '.'}
	defer func() { rd.decimals = comma }()
	for _, fc := range rd.mapping.fixed {
		for _, c := range l.plan.cells {
			if c.col == fc.target.col {
				return fmt.Errorf("%s fixes %s, but column %q gives it", rd.mapping.name, fc.target.col.name, l.plan.headers[c.at])
			}
		}
		if reason := rd.cell(&rd.template, &cellPlan{-1, fc.target.col, fc.target.unit}, strings.TrimSpace(fc.cell)); reason != "" {
			return fmt.Errorf("%s: [fixed] %s = %q: %s", rd.mapping.name, fc.target.col.name, fc.cell, reason)
		}
		if fc.target.col.quantity == fields && fc.target.unit != nil {
			return fmt.Errorf("%s: [fixed] %s: a coil's field is not the same in every row", rd.mapping.name, fc.target.col.name)
		}
	}
	return nil
}

// coilUnits finds out whether the coils' unit is known: of both, or of none.
func (rd *rowReader) coilUnits() error {
	with, without := 0, 0
	for _, c := range rd.plan.cells {
		if c.col.quantity == fields {
			if c.unit != nil {
				with++
			} else {
				without++
			}
		}
	}
	if with > 0 && without > 0 {
		return fmt.Errorf("the two coils must be in one unit: write it in both headers or in none (bottom_coil_nt, top_coil_nt)")
	}
	rd.nanoTesla = with == 2
	return nil
}

// isRow reports whether cells are a whole row of the file.
func (rd *rowReader) isRow(cells []string) bool {
	if len(cells) != len(rd.plan.headers) {
		return false
	}
	var r Reading
	column, _, _ := rd.time(&r, cells, 0)
	return column == "" && !r.Time.IsZero()
}

// read reads one row.
func (rd *rowReader) read(rec *record) (Reading, *SetAside) {
	if rec.reason != "" {
		return Reading{}, rd.aside(rec, "", rec.text, rec.reason)
	}
	if n, want := len(rec.cells), len(rd.plan.headers); n < want || n > want && !blankCells(rec.cells[want:]) {
		return Reading{}, rd.aside(rec, "", rec.text, fmt.Sprintf("%d cells where the header has %d", n, want))
	}
	r := rd.template
	r.Row = rec.line
	if column, found, reason := rd.time(&r, rec.cells, rec.line); reason != "" {
		return Reading{}, rd.aside(rec, column, found, reason)
	}
	for i := range rd.plan.cells {
		c := &rd.plan.cells[i]
		cell := strings.TrimSpace(rec.cells[c.at])
		if isBlank(cell) || rd.mapping.blank(cell) {
			continue
		}
		if reason := rd.cell(&r, c, cell); reason != "" {
			return Reading{}, rd.aside(rec, rd.plan.headers[c.at], cell, reason)
		}
	}
	if math.IsNaN(r.Lat) != math.IsNaN(r.Lon) {
		return Reading{}, rd.aside(rec, "", rec.text, "latitude and longitude go together")
	}
	coils(&r, rd.nanoTesla)
	r.Flags |= check(&r)
	return r, nil
}

func (rd *rowReader) aside(rec *record, column, found, reason string) *SetAside {
	return &SetAside{File: rd.file, Row: rec.line, Column: column, Found: shorten(found), Reason: reason}
}

// cell reads one filled cell into its field.
func (rd *rowReader) cell(r *Reading, c *cellPlan, cell string) (reason string) {
	if c.col.set != nil {
		return c.col.set(rd, r, cell)
	}
	num, name := cell, ""
	if last := cell[len(cell)-1]; last < '0' || last > '9' {
		num, name = splitUnit(cell)
	}
	v, reason := rd.decimals.parse(num)
	if reason != "" {
		if c.col.word != nil && !strings.ContainsAny(cell, "0123456789") {
			if known, why := c.col.word(rd, r, cell); known {
				return why
			}
		}
		return reason
	}
	u := c.unit
	if name != "" {
		if u = c.col.quantity.find(name); u == nil {
			return notNumber
		}
		if c.unit != nil && *c.unit != *u {
			return "written in another unit than its column"
		}
	} else if u == nil && !c.col.quantity.bare {
		return "no unit: the column has none, so each cell must"
	}
	if u != nil {
		v = v * u.mul / u.div
	}
	if c.col.inside != nil && !c.col.inside(v) {
		return c.col.outside
	}
	*c.col.field(r) = v
	return ""
}

// time reads a row's time. The reason is "" for a good time and for none; column
// and found are then of no meaning.
func (rd *rowReader) time(r *Reading, cells []string, line int) (column, found, reason string) {
	p := rd.plan
	clock := strings.TrimSpace(cells[p.time])
	date := ""
	if p.date >= 0 {
		date = strings.TrimSpace(cells[p.date])
	}
	if isBlank(clock) || rd.mapping.blank(clock) {
		r.Flags |= flags.TimeMissing
		rd.noTime++
		return "", "", ""
	}
	column, found = p.headers[p.time], clock
	var st stamp
	switch f := rd.mapping.format; {
	case f != nil && p.date >= 0:
		st, reason = f.parse(date + " " + clock)
		found = date + " " + clock
	case f != nil:
		st, reason = f.parse(clock)
	case p.date >= 0 && isBlank(date) && !startsWithYear(clock):
		reason = blankDate
	case p.date >= 0 && !startsWithYear(clock):
		var badDate bool
		if st, reason, badDate = parseParts(date, clock); badDate {
			column, found = p.headers[p.date], date
		}
	default:
		st, reason = parseStamp(clock)
	}
	if reason != "" {
		return column, found, reason
	}
	r.Time = rd.utc(&st, line, found)
	return "", "", ""
}

// startsWithYear tells a whole stamp from a time of day.
func startsWithYear(s string) bool {
	sc := scan{s}
	_, ok := sc.figures(4, 4)
	return ok
}

// utc applies the stamp's offset or the zone.
func (rd *rowReader) utc(st *stamp, line int, text string) time.Time {
	wall := st.wall()
	if st.hasZone {
		return wall.Add(-time.Duration(st.offset) * time.Second)
	}
	if rd.assumed {
		rd.noOffset++
		return wall
	}
	t, fold := rd.zone.utc(wall)
	if fold != plainTime {
		if c := &rd.folds[fold]; c.n == 0 {
			*c = foldCount{1, line, text}
		} else {
			c.n++
		}
	}
	return t
}

// keptTexts bounds the memory of texts that all differ.
const keptTexts = 1 << 16

// intern gives a copy of a text that does not hold its row in memory.
func (rd *rowReader) intern(s string) string {
	if t, ok := rd.texts[s]; ok {
		return t
	}
	s = strings.Clone(s)
	if len(rd.texts) < keptTexts {
		rd.texts[s] = s
	}
	return s
}

// word gives a cell's normalised word.
func (rd *rowReader) word(cell string) string {
	if w, ok := rd.plain[cell]; ok {
		return w
	}
	w := normalise(cell)
	if len(rd.plain) < keptTexts {
		rd.plain[strings.Clone(cell)] = w
	}
	return w
}

// unknownUtility notes a word for the remarks.
func (rd *rowReader) unknownUtility(cell string) {
	if word := shorten(cell); len(rd.unknown) < 12 && !slices.Contains(rd.unknown, word) {
		rd.unknown = append(rd.unknown, word)
	}
}

// shorten cuts a found text for messages and copies it.
func shorten(s string) string {
	const most = 60
	if len(s) <= most {
		return strings.Clone(s)
	}
	n := 0
	for i := range s {
		if n == most {
			return strings.Clone(s[:i]) + "…"
		}
		n++
	}
	return strings.Clone(s)
}
