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
	date    int    // column of the date, or -1
	time    int    // column of time and date, or of the time of day
	utc     bool   // the time's header says UTC
	week    int    // column of the GPS week, or -1
	zone    string // zone that the time's header names
	elapsed bool   // the time counts seconds from a start
	// dateAlone says that the time's column is called a date.
	dateAlone bool
	packed    bool // positions are degrees and minutes in one number
	extras    []extra
	skipped   []skippedColumn
}

// A cellPlan is one column of the file that is read.
type cellPlan struct {
	at   int // column, from 0
	col  *column
	unit *unit // nil for texts, for quantities without, and where each cell says it
	// decimals is how the column writes numbers.
	decimals decimals
}

// An extra is a column of the log that is none of ours.
type extra struct {
	at   int
	name string
}

// A skippedColumn is one that is not read, and why.
type skippedColumn struct{ header, why string }

// resolve gives the column that a normalised header names, and its unit.
func resolve(header string) (t target, known bool) {
	if col := columnNamed(header); col != nil {
		return target{col: col}, true
	}
	tokens := strings.Split(header, "_")
	for n := min(3, len(tokens)-1); n >= 1; n-- {
		cut := len(tokens) - n
		name := strings.Join(tokens[cut:], "_")
		if cut > 1 && n == 1 && joins[tokens[cut-1]] {
			cut-- // Tiefe in m
		}
		col := columnNamed(strings.Join(tokens[:cut], "_"))
		if col == nil || col.quantity == nil {
			continue
		}
		if u := col.quantity.find(name); u != nil {
			return target{col, u}, true
		}
	}
	return t, false
}

// joins are the words that stand between a name and its unit.
var joins = map[string]bool{"in": true, "en": true, "w": true, "v": true, "unit": true, "units": true}

// newPlan gives a plan for a header row and, where there is one, the row of
// units below it. ok is false without a column of time.
func newPlan(headers, units []string, m *Mapping) (p *plan, ok bool) {
	for len(headers) > 0 && strings.TrimSpace(headers[len(headers)-1]) == "" {
		headers = headers[:len(headers)-1] // a separator ends the line
	}
	p = &plan{headers: make([]string, len(headers)), date: -1, time: -1, week: -1}
	names := make([]string, len(headers))
	zones := map[int]string{}
	for i, h := range headers {
		p.headers[i] = strings.TrimSpace(h)
		bare, zone := zoneInBrackets(p.headers[i])
		if names[i] = normalise(bare); zone != "" {
			zones[i] = zone
		}
	}
	if !p.findTime(names, m) {
		return p, false
	}
	if z := zones[p.time]; z != "" && p.time >= 0 {
		p.zone = z
	}
	own := map[*column]int{} // column → index into cells
	for i, name := range names {
		if name == "" || i == p.time || i == p.date || i == p.week || slices.Contains(m.ignore, name) {
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
			p.extras = append(p.extras, extra{i, p.headers[i]})
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

// findTime sets the columns of date and time. A log without a time has to say where
// its readings were taken.
func (p *plan) findTime(names []string, m *Mapping) bool {
	switch {
	case m.timeColumn != "":
		p.time = slices.Index(names, normalise(m.timeColumn))
		return p.time >= 0
	case m.dateColumn != "":
		p.date, p.time = slices.Index(names, normalise(m.dateColumn)), slices.Index(names, normalise(m.clockColumn))
		return p.date >= 0 && p.time >= 0
	}
	p.week = firstOf(names, weekNames, m)
	p.time = firstOf(names, timeNames, m)
	p.date = firstOf(names, dateNames, m)
	if p.time < 0 {
		p.time = firstOf(names, slices.Concat(clockNames, elapsedNames, secondsOfWeekNames), m)
	}
	for i, name := range names {
		if name == "" || m.maps(name) {
			continue
		}
		bare, zone := p.splitZone(name)
		switch headerWords()[unaccent(bare)] {
		case "time":
			if p.time < 0 {
				p.time = i
			}
		case "date":
			if p.date < 0 && i != p.time {
				p.date = i
			}
		}
		if slices.Contains(timeNames, bare) && p.time < 0 {
			p.time = i
		}
		if i == p.time && zone != "" {
			p.zone = zone
		}
	}
	if p.time < 0 && p.date >= 0 && m.day.IsZero() {
		// A column "date" may hold both.
		p.time, p.date = p.date, -1
		p.dateAlone = true
	}
	if p.time < 0 {
		return hasPlace(names, m)
	}
	p.utc = strings.Contains(names[p.time], "utc") || strings.Contains(names[p.time], "gmt")
	p.elapsed = slices.Contains(elapsedNames, names[p.time])
	return true
}

var (
	weekNames          = []string{"gps_week", "week", "gnss_week"}
	secondsOfWeekNames = []string{"tow", "gps_tow", "time_of_week", "tow_s", "gps_seconds", "seconds_of_week", "sow"}
	elapsedNames       = []string{"elapsed", "elapsed_s", "elapsed_time", "elapsed_time_s", "seconds_since_start", "time_since_start", "time_since_start_s", "run_time_s", "runtime_s", "t_s", "time_s", "sekunden_seit_start", "elapsed_seconds"}
)

// zoneInBrackets parts a header such as "Local time (UTC+2)"; plain UTC stays, as the
// names of times have it.
func zoneInBrackets(header string) (bare, zone string) {
	at := strings.LastIndexAny(header, "([")
	if at <= 0 || !strings.ContainsAny(header[len(header)-1:], ")]") {
		return header, ""
	}
	inside := header[at+1 : len(header)-1]
	if strings.EqualFold(strings.TrimSpace(inside), "utc") || strings.EqualFold(strings.TrimSpace(inside), "s") {
		return header, ""
	}
	if _, ok := zoneNamed(inside); !ok {
		return header, ""
	}
	return header[:at], inside
}

// splitZone parts a time's header such as local_time_cest.
func (p *plan) splitZone(name string) (bare, zone string) {
	at := strings.LastIndexByte(name, '_')
	if at < 0 {
		return name, ""
	}
	if _, ok := zoneNamed(name[at+1:]); ok {
		return name[:at], name[at+1:]
	}
	return name, ""
}

// hasPlace reports whether a header has a latitude and a longitude, or a grid's pair.
func hasPlace(names []string, m *Mapping) bool {
	has := func(want string) bool {
		for _, n := range names {
			t, known := m.columns[n]
			if !known {
				t, known = resolve(n)
			}
			if known && t.col.name == want {
				return true
			}
		}
		return false
	}
	return has("lat") && has("lon") || has("easting") && has("northing")
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
		case name == "" || name == "utc" || name == "local" || name == "wgs84" || strings.Trim(name, "ymdhst_") == "":
		default:
			return false
		}
	}
	return units > 0
}
