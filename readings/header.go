package readings

import (
	"fmt"
	"slices"
	"strings"
)

// A plan says what each cell of a file's rows is.
type plan struct {
	headers []string // as written, trimmed
	cells   []cellPlan
	date    int  // column of the date, or -1
	time    int  // column of time and date, or of the time of day
	utc     bool // the time's header says UTC
	skipped []skippedColumn
}

// A cellPlan is one column of the file that is read.
type cellPlan struct {
	at   int // column, from 0
	col  *column
	unit *unit // nil for texts, for quantities without, and where each cell says it
	// decimals is how the column writes numbers.
	decimals decimals
}

// A skippedColumn is one that is not read, and why.
type skippedColumn struct{ header, why string }

// resolve gives the column that a normalised header names, and its unit.
func resolve(header string) (t target, known bool) {
	if col := columnNamed(header); col != nil {
		return target{col: col}, true
	}
	at := strings.LastIndexByte(header, '_')
	if at < 0 {
		return t, false
	}
	col := columnNamed(header[:at])
	if col == nil || col.quantity == nil {
		return t, false
	}
	u := col.quantity.find(header[at+1:])
	return target{col, u}, u != nil
}

// newPlan gives a plan for a header row and, where there is one, the row of
// units below it. ok is false without a column of time.
func newPlan(headers, units []string, m *Mapping) (p *plan, ok bool) {
	for len(headers) > 0 && strings.TrimSpace(headers[len(headers)-1]) == "" {
		headers = headers[:len(headers)-1] // a separator ends the line
	}
	p = &plan{headers: make([]string, len(headers)), date: -1, time: -1}
	names := make([]string, len(headers))
	for i, h := range headers {
		p.headers[i] = strings.TrimSpace(h)
		names[i] = normalise(h)
	}
	if !p.findTime(names, m) {
		return p, false
	}
	own := map[*column]int{} // column → index into cells
	for i, name := range names {
		if name == "" || i == p.time || i == p.date || slices.Contains(m.ignore, name) {
			continue
		}
		t, known := m.columns[name]
		mapped := known
		if !known {
			t, known = resolve(name)
			if (!known || t.unit == nil) && units != nil && i < len(units) {
				if tu, ok := resolve(normalise(headers[i] + " " + units[i])); ok {
					t, known = tu, true
				}
			}
		}
		if !known {
			p.skipped = append(p.skipped, skippedColumn{p.headers[i], ""})
			continue
		}
		p.place(cellPlan{at: i, col: t.col, unit: t.unit}, own, mapped, m)
	}
	return p, true
}

// place adds a column unless another already gives the same; a mapped one goes
// before others, one of our own name before a synonym, else the first counts.
func (p *plan) place(c cellPlan, own map[*column]int, mapped bool, m *Mapping) {
	at, taken := own[c.col]
	if !taken {
		own[c.col] = len(p.cells)
		p.cells = append(p.cells, c)
		return
	}
	loser := c
	if old := p.cells[at]; p.rank(c, mapped, m) > p.rank(old, m.maps(normalise(p.headers[old.at])), m) {
		loser, p.cells[at] = old, c
	}
	p.skipped = append(p.skipped, skippedColumn{p.headers[loser.at],
		fmt.Sprintf("%q gives the same", p.headers[p.cells[at].at])})
}

func (p *plan) rank(c cellPlan, mapped bool, m *Mapping) int {
	switch {
	case mapped:
		return 2
	case normalise(p.headers[c.at]) == c.col.ownName():
		return 1
	}
	return 0
}

// maps reports whether the mapping names that column of the log.
func (m *Mapping) maps(name string) bool {
	_, ok := m.columns[name]
	return ok
}

// findTime sets the columns of date and time.
func (p *plan) findTime(names []string, m *Mapping) bool {
	switch {
	case m.timeColumn != "":
		p.time = slices.Index(names, normalise(m.timeColumn))
		return p.time >= 0
	case m.dateColumn != "":
		p.date, p.time = slices.Index(names, normalise(m.dateColumn)), slices.Index(names, normalise(m.clockColumn))
		return p.date >= 0 && p.time >= 0
	}
	p.time = firstOf(names, timeNames, m)
	p.date = firstOf(names, dateNames, m)
	if p.time < 0 {
		p.time = firstOf(names, clockNames, m)
		if p.date < 0 || p.time < 0 {
			return false
		}
	}
	p.utc = strings.Contains(names[p.time], "utc")
	return true
}

// firstOf gives the place of the first wanted name that the header has and the
// mapping does not use otherwise, or -1.
func firstOf(names, wanted []string, m *Mapping) int {
	for _, w := range wanted {
		if i := slices.Index(names, w); i >= 0 && !m.maps(w) {
			return i
		}
	}
	return -1
}

// missing lists the mapping's columns that the header does not have.
func (p *plan) missing(m *Mapping) []string {
	have := map[string]bool{}
	for _, h := range p.headers {
		have[normalise(h)] = true
	}
	var out []string
	for _, theirs := range m.theirs {
		if !have[normalise(theirs)] {
			out = append(out, theirs)
		}
	}
	return out
}

// isUnitsRow reports whether a row below the header holds units and nothing
// else: at least one unit, and beside units only dashes and time patterns such
// as hh:mm:ss.
func isUnitsRow(cells []string) bool {
	units := 0
	for _, c := range cells {
		name := normalise(c)
		switch {
		case isUnit(name):
			units++
		case name == "" || name == "utc" || strings.Trim(name, "ymdhst_") == "":
		default:
			return false
		}
	}
	return units > 0
}
