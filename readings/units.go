package readings

// A unit turns a written figure into the package's own unit: value·mul/div.
// Two factors keep decimal units exact: 1234 mm is 1234/1000 m, rounded once.
type unit struct {
	name     string // as a header's suffix writes it
	mul, div float64
}

// A quantity is a kind of measurement and the units it may be written in; the
// first is the one kept in a Reading.
type quantity struct {
	units []unit
	// bare says that a header without unit is understood: the quantity has one
	// unit only, or none is needed. Elsewhere a missing unit is a refusal.
	bare bool
}

// The quantities of the readings log. The foot is the international foot,
// 0.3048 m exactly, the inch 25.4 mm exactly (agreement of 1959; NIST SP 811,
// appendix B). The US survey foot differs by 2 parts in a million: 4 µm on two
// metres.
var (
	lengths = &quantity{units: []unit{
		{"m", 1, 1}, {"cm", 1, 100}, {"mm", 1, 1000}, {"ft", 0.3048, 1}, {"in", 0.0254, 1},
	}}
	currents    = &quantity{units: []unit{{"ma", 1, 1}, {"a", 1000, 1}, {"ua", 1, 1000}}}
	frequencies = &quantity{units: []unit{{"hz", 1, 1}, {"khz", 1000, 1}}}
	percents    = &quantity{units: []unit{{"pct", 1, 1}, {"percent", 1, 1}}}
	decibels    = &quantity{units: []unit{{"db", 1, 1}}}
	degrees     = &quantity{units: []unit{{"deg", 1, 1}, {"degrees", 1, 1}}}
	// A latitude has no other unit in a table of numbers than degrees.
	geographic = &quantity{units: []unit{{"deg", 1, 1}, {"dd", 1, 1}, {"degrees", 1, 1}}, bare: true}
	// Two fields in any one unit give a depth; only in a known unit do they
	// give a current.
	fields = &quantity{units: []unit{{"nt", 1, 1}, {"pt", 1, 1000}, {"ut", 1000, 1}}, bare: true}
	plain  = &quantity{bare: true}
)

// find gives the unit of that name, or nil.
func (q *quantity) find(name string) *unit {
	for i := range q.units {
		if q.units[i].name == name {
			return &q.units[i]
		}
	}
	return nil
}

// isUnit reports whether any quantity is written in a unit of that name.
func isUnit(name string) bool {
	for _, q := range []*quantity{lengths, currents, frequencies, percents, decibels, degrees, geographic, fields} {
		if q.find(name) != nil {
			return true
		}
	}
	return false
}
