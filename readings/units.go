package readings

// A unit turns a written figure into the package's own unit: value·mul/div.
// Two factors keep decimal units exact: 1234 mm is 1234/1000 m, rounded once.
type unit struct {
	name     string // as a header's suffix writes it
	mul, div float64
	fine     bool // so small that thousands are ordinary, and decimals are not
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
		{name: "m", mul: 1, div: 1}, {name: "cm", mul: 1, div: 100}, {name: "mm", mul: 1, div: 1000, fine: true},
		{name: "ft", mul: 0.3048, div: 1}, {name: "in", mul: 0.0254, div: 1},
	}}
	currents    = &quantity{units: []unit{{name: "ma", mul: 1, div: 1}, {name: "a", mul: 1000, div: 1}, {name: "ua", mul: 1, div: 1000, fine: true}}}
	frequencies = &quantity{units: []unit{{name: "hz", mul: 1, div: 1, fine: true}, {name: "khz", mul: 1000, div: 1}}}
	percents    = &quantity{units: []unit{{name: "pct", mul: 1, div: 1}, {name: "percent", mul: 1, div: 1}}}
	decibels    = &quantity{units: []unit{{name: "db", mul: 1, div: 1}}}
	degrees     = &quantity{units: []unit{{name: "deg", mul: 1, div: 1}, {name: "degrees", mul: 1, div: 1}}}
	// A latitude has no other unit in a table of numbers than degrees.
	geographic = &quantity{units: []unit{{name: "deg", mul: 1, div: 1}, {name: "dd", mul: 1, div: 1}, {name: "degrees", mul: 1, div: 1}}, bare: true}
	// Two fields in any one unit give a depth; only in a known unit do they
	// give a current.
	fields = &quantity{units: []unit{{name: "nt", mul: 1, div: 1}, {name: "pt", mul: 1, div: 1000}, {name: "ut", mul: 1000, div: 1}}, bare: true}
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
