package readings

import "strings"

// A unit turns a written figure into the package's own unit: value·mul/div.
// Two factors keep decimal units exact: 1234 mm is 1234/1000 m, rounded once.
type unit struct {
	name     string // as a header's suffix writes it
	mul, div float64
	fine     bool   // so small that thousands are ordinary, and decimals are not
	also     string // other ways to write it, normalised, with blanks between
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
// metres, so that it needs a name of its own only for grid coordinates.
var (
	lengths = &quantity{units: []unit{
		{name: "m", mul: 1, div: 1, also: "metre metres meter meters mtr metro metros metri metr metry метр 米 公尺 メートル"},
		{name: "cm", mul: 1, div: 100, also: "centimetre centimetres centimeter centimeters zentimeter 厘米 センチ"},
		{name: "mm", mul: 1, div: 1000, fine: true, also: "millimetre millimetres millimeter millimeters 毫米 ミリ"},
		{name: "ft", mul: 0.3048, div: 1, also: "foot feet pied pieds pie pies voet fuss"},
		{name: "in", mul: 0.0254, div: 1, also: "inch inches zoll pouce pouces pulgada pulgadas"},
		// Feet and inches with a mark between: 3.11 is three feet eleven inches, and
		// only a header can say so.
		{name: feetInches, mul: 0.3048, div: 1, also: "ft_inch feet_inches feet_and_inches ft_and_in"},
	}}
	currents = &quantity{units: []unit{{name: "ma", mul: 1, div: 1, also: "milliamp milliamps milliampere milliamperes 毫安 ミリアンペア"},
		{name: "a", mul: 1000, div: 1, also: "amp amps ampere amperes"}, {name: "ua", mul: 1, div: 1000, fine: true, also: "microamp microamps"},
		// A level against 1 mA: mA = 10^(dB/20).
		{name: "dbma", mul: 1, div: 1}}}
	frequencies = &quantity{units: []unit{{name: "hz", mul: 1, div: 1, fine: true, also: "hertz 赫兹 ヘルツ"}, {name: "khz", mul: 1000, div: 1, also: "kilohertz 千赫 キロヘルツ"}}}
	percents    = &quantity{units: []unit{{name: "pct", mul: 1, div: 1, also: "percent per_cent prozent"}}}
	decibels    = &quantity{units: []unit{{name: "db", mul: 1, div: 1, also: "decibel decibels"}}}
	degrees     = &quantity{units: []unit{{name: "deg", mul: 1, div: 1, also: "degree degrees grad"}}}
	// A latitude has no other unit in a table of numbers than degrees.
	geographic = &quantity{units: []unit{{name: "deg", mul: 1, div: 1, also: "dd degree degrees wgs84 wgs_84 decimal decimal_degrees"},
		{name: "ddmm", mul: 1, div: 1, also: "dm ddmm_mm ddmm_mmmm dddmm_mmmm ddmmm"}}, bare: true}
	// Two fields in any one unit give a depth; only in a known unit do they
	// give a current.
	fields = &quantity{units: []unit{{name: "nt", mul: 1, div: 1}, {name: "pt", mul: 1, div: 1000}, {name: "ut", mul: 1000, div: 1}}, bare: true}
	plain  = &quantity{bare: true}
)

const feetInches = "ft_in"

// find gives the unit of that name, or nil.
func (q *quantity) find(name string) *unit {
	for i := range q.units {
		u := &q.units[i]
		if u.name == name {
			return u
		}
		if u.also != "" && name != "" {
			for other := range strings.SplitSeq(u.also, " ") {
				if other == name {
					return u
				}
			}
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
