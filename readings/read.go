package readings

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"tracemap/internal/parallel"
	"tracemap/readings/table"
	"tracemap/remarks"
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
	// Date is the day of times of day without a date; zero where nobody said.
	Date time.Time
	// ReceiverDays are the days of the receiver's log, which settle what the readings'
	// own dates leave open.
	ReceiverDays []time.Time
}

// Read reads the sources in their order as one log. Every data row becomes a
// Reading or a SetAside, but for readings that came before, in this source or
// another: these count once. An error means that a source could not be read at all: no header with a
// time, a measurement without a unit, an error of its Reader.
// Cost: linear; memory for the readings only.
func Read(ctx context.Context, sources []Source, opt Options) (_ *Log, err error) {
	defer parallel.Recover("the readings log", &err)
	parallel.Trip("the readings log")
	m := opt.Columns
	if m == nil {
		m = builtIn()
	}
	log := &Log{}
	said := &fileNotes{}
	var all pile
	first, texts := firstIn{}, written{}
	for k, src := range sources {
		parts, err := openSource(src, m, opt, func(name string) *fileReader {
			return &fileReader{name: name, source: k, log: log, all: &all, first: first, texts: texts, notes: said, mapping: m, date: opt.Date, receiverDays: opt.ReceiverDays}
		})
		if err != nil {
			return nil, fmt.Errorf("reading %s: %w", src.Name, err)
		}
		for _, f := range parts {
			f.asideBefore, f.cellsBefore = len(log.Aside), len(log.Cells)
			if err := f.rows(ctx); err != nil {
				return nil, fmt.Errorf("reading %s: %w", src.Name, err)
			}
			f.remark()
		}
	}
	log.Readings = all.flat()
	codes, warnings := errorCodes(log.Readings, texts)
	log.Cells = append(log.Cells, codes...)
	log.Warnings = append(append(said.lines(), warnings...), halfDays(log.Readings, cmp.Or(opt.Zone, time.UTC))...)
	return log, nil
}

// openSource opens a text, or the tables of a container that hold readings.
func openSource(src Source, m *Mapping, opt Options, fresh func(name string) *fileReader) ([]*fileReader, error) {
	text, charset, err := openText(src.R, m.encoding)
	if err != nil {
		return nil, err
	}
	head, err := text.Peek(headSize)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if table.Kind(head) == "" {
		f := fresh(src.Name)
		f.charset = charset
		return []*fileReader{f}, f.open(text, head, opt.Zone)
	}
	tables, err := table.Read(text)
	if err != nil {
		return nil, err
	}
	var parts []*fileReader
	var refused error
	for _, t := range tables {
		name := src.Name
		if len(parts) > 0 {
			name += " [" + t.Name + "]"
		}
		f := fresh(name)
		err := f.openTable(t, opt.Zone)
		switch {
		case err == nil:
			parts = append(parts, f)
		case refused == nil || f.layout != nil:
			refused = err
		}
	}
	if len(parts) == 0 && refused == nil {
		refused = errors.New("empty: no header row")
	}
	if len(parts) == 0 {
		return nil, refused
	}
	return parts, nil
}

// A fileReader reads one source, or one table of it, into the log.
type fileReader struct {
	name    string
	source  int  // its place among the sources
	log     *Log // but for the readings
	all     *pile
	first   firstIn
	texts   written
	notes   *fileNotes
	mapping *Mapping
	layout  *layout
	records rowSource
	text    *recordReader // the same, where it is a delimited text
	rd      *rowReader
	count   int // data rows

	date         time.Time   // of times of day, as the caller knows it
	receiverDays []time.Time // days of the receiver's log
	date1904     bool
	form         string // how the text is written, where separators do not cut it
	charset      string // where the text is not UTF-8
	sayings      []saying
	taken        []saying // of these, what holds for every row

	timeless    int // readings without a time
	totals      int // rows of totals, left out
	repeated    int // readings that a source before has
	twice       int // readings that this source had already
	cellsBefore int // bad cells of the sources before
	asideBefore int // rows set aside of the sources before
	// Files that were written one behind the other into one: headers met again,
	// and the line of one that differs.
	again, other int
}

// A rowSource gives rows one after the other, io.EOF behind the last.
type rowSource interface{ next() (record, error) }

// tableRows are the rows of a container.
type tableRows struct {
	rows []table.Row
	at   int
}

func (t *tableRows) next() (record, error) {
	if t.at >= len(t.rows) {
		return record{}, io.EOF
	}
	r := &t.rows[t.at]
	t.at++
	rec := record{line: r.Line, cells: r.Cells, text: strings.Join(r.Cells, ",")}
	if hasControl(rec.text) {
		rec.reason = "control characters: damaged on its way"
	}
	return rec, nil
}

// open finds the header and goes behind it.
func (f *fileReader) open(text *bufio.Reader, head []byte, zone *time.Location) error {
	var err error
	if f.mapping.form == "" {
		f.layout, err = findLayout(slicings(head, f.mapping), f.mapping)
	}
	if f.layout == nil && f.mapping.separator == 0 {
		if rows := formOf(head, f.mapping); rows != nil {
			return f.openForm(text, zone)
		}
	}
	if f.layout == nil {
		if err == nil {
			err = fmt.Errorf("no columns of fixed width")
		}
		return err
	}
	f.text = newRecordReader(text, f.layout.sep)
	f.records = f.text
	if err := f.prepare(zone); err != nil {
		return err
	}
	f.text.complete = f.rd.isRow
	return nil
}

// formOf gives the rows of a text in one of the other forms, if these have a header.
func formOf(text []byte, m *Mapping) (rows []table.Row) {
	lines := strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n")
	if len(lines) > 2 && len(text) >= headSize {
		lines = lines[:len(lines)-1] // cut in the middle
	}
	for _, form := range forms {
		if m.form != "" && m.form != form.name {
			continue
		}
		if rows = form.rows(lines); rows == nil {
			continue
		}
		if _, err := findLayout([]slicing{sliceOf(rows)}, m); err == nil {
			return rows
		}
	}
	return nil
}

// sliceOf gives a table's first rows for finding the header.
func sliceOf(rows []table.Row) slicing {
	src := &tableRows{rows: rows[:min(len(rows), headerReach+sampleRows)]}
	var out slicing
	for {
		rec, err := src.next()
		if err != nil {
			return out
		}
		out.rows = append(out.rows, rec)
	}
}

// openForm reads a text in one of the other forms whole.
func (f *fileReader) openForm(text *bufio.Reader, zone *time.Location) error {
	all, err := io.ReadAll(io.LimitReader(text, table.MostBytes+1))
	if err != nil {
		return err
	}
	if len(all) > table.MostBytes {
		return table.ErrTooLarge
	}
	lines := strings.Split(strings.ReplaceAll(string(all), "\r\n", "\n"), "\n")
	for _, form := range forms {
		if f.mapping.form != "" && f.mapping.form != form.name {
			continue
		}
		rows := form.rows(lines)
		if rows == nil {
			continue
		}
		if err := f.openTable(table.Table{Rows: rows}, zone); err == nil {
			f.form = form.name
			return nil
		} else if f.layout != nil {
			return err
		}
	}
	return noTime(nil, f.mapping)
}

// openTable finds the header in a container's table.
func (f *fileReader) openTable(t table.Table, zone *time.Location) error {
	var err error
	if f.layout, err = findLayout([]slicing{sliceOf(t.Rows)}, f.mapping); err != nil {
		return err
	}
	f.date1904 = t.Date1904
	f.records = &tableRows{rows: t.Rows}
	return f.prepare(zone)
}

// prepare tells from the first rows how the file is to be read, and goes behind its
// header.
func (f *fileReader) prepare(zone *time.Location) error {
	if err := f.layout.sample(f.mapping); err != nil {
		return err
	}
	f.sayings = sayings(f.layout.preamble)
	var err error
	if f.mapping.zone != nil {
		zone = f.mapping.zone
	}
	if f.rd, err = newRowReader(f.name, f.layout, f.mapping, zone); err != nil {
		return err
	}
	f.rd.open, f.rd.written = f.layout.sep == 0, f.texts
	if err := f.planTimes(); err != nil {
		return err
	}
	if z := f.rd.times.zone; z != nil && f.mapping.zone == nil && !f.layout.plan.utc {
		f.rd.zone.zone, f.rd.assumed = z, false // the file itself knows best
	}
	f.takePreamble()
	for last, at := max(f.layout.header, f.layout.units), 0; at < last; {
		rec, err := f.records.next()
		if err != nil {
			return err
		}
		at = rec.line
	}
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
			return fmt.Errorf("line %d: %w", f.text.line+1, err)
		}
		r, aside := f.rd.read(&rec)
		if aside != nil && f.headerAgain(&rec) {
			continue
		}
		if isTotal(&rec) && (aside != nil || r.Time.IsZero()) {
			f.totals++
			continue
		}
		if f.other > 0 {
			aside = f.rd.aside(&rec, "", rec.text, fmt.Sprintf("below line %d, a header unlike the first: split the file there", f.other))
		}
		f.count++
		if aside == nil {
			if before, again := f.first.again(&r, f.source); again {
				if before == f.source {
					f.twice++
				} else {
					f.repeated++
				}
				continue
			}
		}
		f.log.Rows++
		if aside != nil {
			f.log.Aside = append(f.log.Aside, *aside)
			continue
		}
		if r.Flags.Has(remarks.TimeMissing) && f.layout.plan.time >= 0 {
			f.timeless++
		}
		f.log.Cells = append(f.log.Cells, f.rd.lost...)
		f.all.add(r)
	}
}

// isTotal reports a row of sums or means below a table.
func isTotal(rec *record) bool {
	for _, c := range rec.cells {
		if c = strings.TrimSpace(c); c != "" {
			word, _, _ := strings.Cut(unaccent(normalise(c)), "_")
			return totalWords[word]
		}
	}
	return false
}

var totalWords = map[string]bool{"total": true, "totals": true, "sum": true, "mean": true, "average": true, "avg": true, "count": true, "min": true, "max": true, "median": true,
	"summe": true, "gesamt": true, "mittelwert": true, "anzahl": true, "somme": true, "moyenne": true, "suma": true, "promedio": true, "soma": true, "media": true, "totale": true,
	"somma": true, "totaal": true, "gemiddelde": true, "razem": true, "srednia": true, "celkem": true, "prumer": true, "end": true, "合计": true, "总计": true, "合計": true, "平均": true}

// headerAgain reports whether a row that is no reading is a header like the
// first, or the row of units below it. A header unlike the first is noted: what
// comes below it may mean anything.
func (f *fileReader) headerAgain(rec *record) bool {
	if rec.reason != "" || f.other > 0 || f.rd.isTimed(rec.cells) {
		return false
	}
	if f.layout.units > 0 && isUnitsRow(rec.cells) {
		return true
	}
	if at := f.layout.plan.time; at >= 0 && at < len(rec.cells) && strings.ContainsAny(rec.cells[at], "0123456789") {
		return false // a time that is none
	}
	p, ok := newPlan(rec.cells, nil, f.mapping)
	if !ok {
		return false
	}
	if !slices.EqualFunc(p.headers, f.layout.plan.headers, func(a, b string) bool { return normalise(a) == normalise(b) }) {
		f.other = rec.line
		return false
	}
	f.again++
	return true
}
