package readings

import (
	"context"
	"fmt"
	"io"
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
// Reading or a SetAside, but for readings that came before, in this source or
// another: these count once. An error means that a source could not be read at all: no header with a
// time, a measurement without a unit, an error of its Reader.
// Cost: linear; memory for the readings only.
func Read(ctx context.Context, sources []Source, opt Options) (*Log, error) {
	m := opt.Columns
	if m == nil {
		m = builtIn()
	}
	log := &Log{}
	said := &remarks{}
	var all pile
	first := firstIn{}
	for k, src := range sources {
		f := &fileReader{name: src.Name, source: k, log: log, all: &all, first: first, said: said, mapping: m, asideBefore: len(log.Aside), cellsBefore: len(log.Cells)}
		if err := f.open(src.R, opt.Zone); err != nil {
			return nil, fmt.Errorf("reading %s: %w", src.Name, err)
		}
		if err := f.rows(ctx); err != nil {
			return nil, fmt.Errorf("reading %s: %w", src.Name, err)
		}
		f.remark()
	}
	log.Readings = all.flat()
	log.Warnings = said.lines()
	return log, nil
}

// A pile collects readings in blocks: a slice that grows by itself would hold a
// long log twice over, and its rubbish besides.
type pile struct {
	full [][]Reading
	last []Reading
}

const blockSize = 4096

func (p *pile) add(r Reading) {
	if len(p.last) == blockSize {
		p.full = append(p.full, p.last)
		p.last = make([]Reading, 0, blockSize)
	}
	p.last = append(p.last, r)
}

func (p *pile) flat() []Reading { return slices.Concat(append(p.full, p.last)...) }

// A fileReader reads one source into the log.
type fileReader struct {
	name    string
	source  int  // its place among the sources
	log     *Log // but for the readings
	all     *pile
	first   firstIn
	said    *remarks
	mapping *Mapping
	layout  *layout
	records *recordReader
	rd      *rowReader
	count   int // data rows

	timeless    int // readings without a time
	repeated    int // readings that a source before has
	twice       int // readings that this source had already
	cellsBefore int // bad cells of the sources before
	asideBefore int // rows set aside of the sources before
	// Files that were written one behind the other into one: headers met again,
	// and the line of one that differs.
	again, other int
}

// open finds the header and goes behind it.
func (f *fileReader) open(r io.Reader, zone *time.Location) error {
	text := openText(r)
	head, err := text.Peek(headSize)
	if err != nil && err != io.EOF {
		return err
	}
	if f.layout, err = findLayout(head, f.mapping); err != nil {
		return err
	}
	f.rd, err = newRowReader(f.name, f.layout, f.mapping, zone)
	if err != nil {
		return err
	}
	f.records = newRecordReader(text, f.layout.sep)
	for last, at := max(f.layout.header, f.layout.units), 0; at < last; {
		rec, err := f.records.next()
		if err != nil {
			return err
		}
		at = rec.line
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
		r, aside := f.rd.read(&rec)
		if aside != nil && f.headerAgain(&rec) {
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
		if r.Flags.Has(flags.TimeMissing) {
			f.timeless++
		}
		f.log.Cells = append(f.log.Cells, f.rd.lost...)
		f.all.add(r)
	}
}

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
	if at := f.layout.plan.time; at < len(rec.cells) && strings.ContainsAny(rec.cells[at], "0123456789") {
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
