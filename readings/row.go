package readings

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
)

// A rowReader turns the rows of one file into readings.
type rowReader struct {
	file      string
	plan      *plan
	mapping   *Mapping
	template  Reading // what a row starts from: nothing measured
	nanoTesla bool    // the coils' unit is known

	zone     zoneClock
	latest   time.Time // of the row before, as UTC
	assumed  bool      // no zone was given
	noOffset int       // times without offset that were read as UTC for want of a zone
	folds    [skipped + 1]foldCount
	nowhere  int  // positions 0, 0
	covered  int  // depths computed from the cover
	open     bool // rows may end early
	times    *timePlan
	noFix    int        // positions that by their own word are none
	lost     []SetAside // cells of the row last read that could not be

	texts   map[string]string // one copy of each text
	written written           // nil where nobody asks
	plain   map[string]string // cell → normalised word
	unknown []string          // words for utilities that are none, in order of appearance
}

// A foldCount counts times of one kind at a change of the clocks.
type foldCount struct {
	n    int
	line int    // of the first
	text string // of the first
}

func newRowReader(file string, l *layout, m *Mapping, zone *time.Location) (*rowReader, error) {
	rd := &rowReader{file: file, plan: l.plan, mapping: m, template: nothingRead(),
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
	if err := rd.fix(); err != nil {
		return nil, err
	}
	return rd, rd.coilUnits()
}

// nothingRead is a reading without any measurement.
func nothingRead() Reading {
	r := Reading{Utility: "unknown", CoilDepth: math.NaN(), CoilCurrent: math.NaN()}
	for i := range columnTable {
		if columnTable[i].field != nil {
			*columnTable[i].field(&r) = math.NaN()
		}
	}
	return r
}

// fix puts the mapping's fixed values into the template.
func (rd *rowReader) fix() error {
	for _, fc := range rd.mapping.fixed {
		for _, c := range rd.plan.cells {
			if c.col == fc.target.col {
				return fmt.Errorf("%s fixes %s, but column %q gives it", rd.mapping.name, c.col.name, rd.plan.headers[c.at])
			}
		}
		c := cellPlan{col: fc.target.col, unit: fc.target.unit, decimals: decimals{mark: '.'}}
		if reason := rd.cell(&rd.template, &c, fc.cell); reason != "" {
			return fmt.Errorf("%s: [fixed] %s = %q: %s", rd.mapping.name, c.col.name, fc.cell, reason)
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
		return errors.New("the two coils must be in one unit: write it in both headers or in none (bottom_coil_nt, top_coil_nt)")
	}
	rd.nanoTesla = with == 2
	return nil
}

// isRow reports whether cells are a whole row of the file.
func (rd *rowReader) isRow(cells []string) bool {
	return len(cells) == len(rd.plan.headers) && rd.isTimed(cells)
}

// isTimed reports whether a time stands where the header has it.
func (rd *rowReader) isTimed(cells []string) bool {
	if max(rd.plan.time, rd.plan.date, rd.plan.week) >= len(cells) || rd.plan.time < 0 {
		return false
	}
	var r Reading
	probe := *rd // its counts are thrown away
	if rd.times != nil {
		times := *rd.times
		probe.times = &times
	}
	_, _, reason := probe.time(&r, cells, 0)
	return reason == "" && !r.Time.IsZero()
}

// read reads one row; rd.lost are then the cells of it that could not be.
func (rd *rowReader) read(rec *record) (Reading, *SetAside) {
	rd.lost = rd.lost[:0]
	if rd.open { // a container leaves blank cells at the end of a row out
		for len(rec.cells) < len(rd.plan.headers) {
			rec.cells = append(rec.cells, "")
		}
	}
	if rec.reason != "" {
		return Reading{}, rd.aside(rec, "", rec.text, rec.reason)
	}
	switch n, want := len(rec.cells), len(rd.plan.headers); {
	case n < want:
		return Reading{}, rd.aside(rec, "", rec.text, fmt.Sprintf("%d cells where the header has %d: cut short?", n, want))
	case n > want && !blankCells(rec.cells[want:]):
		return Reading{}, rd.aside(rec, "", rec.text, fmt.Sprintf("%d cells where the header has %d: a separator inside a cell?", n, want))
	}
	r := rd.template
	r.Row = rec.line
	if column, found, reason := rd.time(&r, rec.cells, rec.line); reason != "" {
		return Reading{}, rd.aside(rec, column, found, reason)
	}
	for i := range rd.plan.cells {
		c := &rd.plan.cells[i]
		cell := bareCell(rec.cells[c.at])
		if rd.mapping.isBlank(cell) {
			continue
		}
		reason := rd.cell(&r, c, cell)
		switch {
		case reason == "":
			rd.keepText(&r, c, cell)
		case c.col.field == nil || reason == twoWords:
			return Reading{}, rd.aside(rec, rd.plan.headers[c.at], cell, reason)
		default:
			rd.lose(rec, rd.plan.headers[c.at], cell, reason)
		}
	}
	rd.pair(&r, rec)
	rd.note(&r)
	if r.Lat == 0 && r.Lon == 0 { // what loggers write without a fix; no crew works there
		r.Lat, r.Lon = math.NaN(), math.NaN()
		rd.nowhere++
	}
	if gga, known := FixQuality(r.Fix); known && givesNoPosition(gga) && !math.IsNaN(r.Lat) {
		r.Lat, r.Lon = math.NaN(), math.NaN()
		rd.noFix++
	}
	if math.IsNaN(r.Depth) && !math.IsNaN(r.Cover) && !math.IsNaN(r.Diameter) {
		r.Depth = r.Cover + r.Diameter/2 // the centre is what the field comes from
		rd.covered++
	}
	rd.extras(&r, rec)
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
	if v, ok := c.byItself(cell, rd.plan.packed); ok {
		if c.col.inside != nil && !c.col.inside(v) {
			return c.col.outside
		}
		*c.col.field(r) = v
		return ""
	}
	num, name := cell, ""
	if last := cell[len(cell)-1]; last < '0' || last > '9' {
		num, name = splitUnit(cell)
	}
	v, reason := c.decimals.parse(num)
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
			return notUnit
		}
		if c.unit == nil && c.col.quantity == fields {
			return "the coils' unit belongs in the headers of both"
		}
		if c.unit != nil && *c.unit != *u {
			return notUnit
		}
	} else if u == nil && !c.col.quantity.bare {
		return "no unit: the column has none, so each cell must"
	}
	switch {
	case u == nil:
	case u.name == "dbma":
		v = math.Pow(10, v/20)
	default:
		v = v * u.mul / u.div
	}
	if c.col.inside != nil && !c.col.inside(v) {
		return c.col.outside
	}
	*c.col.field(r) = v
	return ""
}

// byItself reads cells whose writing says what they are: feet and inches, degrees
// with minutes, an angle with its letter.
func (c *cellPlan) byItself(cell string, packed bool) (v float64, ok bool) {
	switch {
	case c.col.quantity == geographic:
		lat := c.col.name == "lat"
		if packed || c.unit != nil && c.unit.name == "ddmm" {
			letter := strings.Trim(strings.ToUpper(cell), "+-0123456789., ")
			p, reason := c.decimals.parse(strings.Trim(cell, "NSEWnsew "))
			degrees, minutes := splitPacked(p)
			if reason != "" || minutes >= 60 {
				return 0, false
			}
			v = math.Copysign(degrees+minutes/60, p)
			if letter == "S" || letter == "W" {
				v = -v
			}
			return v, true
		}
		return parseAngle(cell, lat)
	case c.col.quantity == lengths && c.unit != nil && c.unit.name == feetInches:
		if v, ok := parseFeetInches(cell); ok {
			return v, true
		}
		return parseFeetDotInches(cell)
	case c.col.quantity == lengths && (c.unit == nil || c.unit.name == "ft" || c.unit.name == "in"):
		if strings.HasSuffix(cell, "ft") || strings.HasSuffix(cell, "in") { // one unit behind a number
			if _, reason := c.decimals.parse(strings.TrimSpace(cell[:len(cell)-2])); reason == "" {
				return 0, false
			}
		}
		return parseFeetInches(cell)
	}
	return 0, false
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

// shorten cuts a found text for messages, without line ends and control
// characters, and copies it.
func shorten(s string) string {
	const most = 60
	var b strings.Builder
	n := 0
	for _, r := range s {
		if n == most {
			return b.String() + "…"
		}
		if unicode.IsControl(r) {
			r = '\uFFFD'
		}
		b.WriteRune(r)
		n++
	}
	return b.String()
}
