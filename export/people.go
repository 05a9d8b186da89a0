package export

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"tracemap/flags"
	"tracemap/fuse"
	"tracemap/readings"
)

// Units writes lengths for people; files keep metres.
type Units struct{ Imperial bool }

const metresPerFoot = 0.3048 // international foot, exact

// Length writes a distance along the ground: "12.3 m", "40.4 ft"; "–" for none.
func (u Units) Length(m float64) string {
	switch {
	case !known(m):
		return "–"
	case u.Imperial:
		return fixed(m/metresPerFoot, 1) + " ft"
	}
	return fixed(m, 1) + " m"
}

// Depth writes a depth, a width or a deviation: "1.25 m", "4 ft 1 in"; "–" for none.
func (u Units) Depth(m float64) string {
	if !known(m) {
		return "–"
	}
	sign := ""
	if m < 0 {
		sign, m = "−", -m
	}
	if !u.Imperial {
		return sign + fixed(m, 2) + " m"
	}
	inches := m / metresPerFoot * 12
	if inches < 11.95 {
		return sign + fixed(inches, 1) + " in"
	}
	whole := math.Round(inches)
	return fmt.Sprintf("%s%.0f ft %.0f in", sign, math.Floor(whole/12), math.Mod(whole, 12))
}

// fixed writes a number with all its decimals.
func fixed(v float64, decimals int) string {
	return strconv.FormatFloat(round(v, decimals), 'f', decimals, 64)
}

// Scale gives the factor from metres to the unit of axes, and its symbol.
func (u Units) Scale() (factor float64, symbol string) {
	if u.Imperial {
		return 1 / metresPerFoot, "ft"
	}
	return 1, "m"
}

// Hertz writes a frequency: "640 Hz", "8.192 kHz"; "–" for none.
func Hertz(hz float64) string {
	switch {
	case !known(hz):
		return "–"
	case hz < 1000:
		return string(appendNumber(nil, round(hz, 1))) + " Hz"
	}
	return string(appendNumber(nil, round(hz/1000, 3))) + " kHz"
}

// span writes a range of two lengths, one when they read the same.
func (u Units) span(low, high float64) string {
	a, b := u.Depth(low), u.Depth(high)
	if a == b {
		return a
	}
	return a + " to " + b
}

// Period writes a stretch of time in UTC: the date once when it is one day.
func Period(from, to time.Time) string {
	switch from, to = from.UTC(), to.UTC(); {
	case from.IsZero() && to.IsZero():
		return "–"
	case to.IsZero() || to.Truncate(time.Minute).Equal(from.Truncate(time.Minute)):
		return from.Format("2006-01-02 15:04 UTC")
	case from.IsZero():
		return "until " + to.Format("2006-01-02 15:04 UTC")
	case from.Format(time.DateOnly) == to.Format(time.DateOnly):
		return from.Format("2006-01-02 15:04") + " to " + to.Format("15:04 UTC")
	}
	return from.Format("2006-01-02 15:04") + " to " + to.Format("2006-01-02 15:04 UTC")
}

// MethodName says how the signal came onto the line.
func MethodName(m readings.Method) string {
	switch m {
	case readings.Direct:
		return "direct connection"
	case readings.Induction:
		return "induction"
	case readings.Passive:
		return "passive signal"
	case readings.Sonde:
		return "sonde"
	}
	return "not given"
}

// PartName is how a part is called before people.
func PartName(line *fuse.Line, part *fuse.Part) string {
	name := line.ID
	if name == "" {
		name = "unnamed"
	}
	if len(line.Parts) > 1 {
		return fmt.Sprintf("%s, part %d", name, part.Number)
	}
	return name
}

func (r *partRow) lineName() string { return PartName(r.line, r.part) }

// A Fact is something that a person wants to read, with its label.
type Fact struct{ Label, Text string }

// Facts lists what a person wants to read of a part, remarks apart.
func Facts(m *Map, line *fuse.Line, part *fuse.Part) []Fact {
	r := newPartRow(m, line, part)
	return r.facts()
}

// facts lists what a person wants to read of a part, label and text.
func (r *partRow) facts() []Fact {
	u := Units{r.m.Meta.Imperial}
	out := []Fact{
		{"Utility", LookOf(r.line.Utility).Name},
		{"Located by", locatedBy(r.line)},
		{"Length", u.Length(r.part.Length())},
		{"Readings", fmt.Sprint(r.part.Readings)},
	}
	if known(r.DepthMin) {
		out = append(out, Fact{"Depth to centre", u.span(r.DepthMin, r.DepthMax) + ", 95 % within ± " + u.Depth(r.Depth95Max)})
	} else {
		out = append(out, Fact{"Depth to centre", "not read"})
	}
	if known(r.CoverMin) {
		out = append(out, Fact{"Cover to the top", u.span(r.CoverMin, r.CoverMax)}, Fact{"Outside diameter", diameters(r.DiameterMin, r.DiameterMax)})
	}
	out = append(out, Fact{"Line lies 95 % within", "± " + u.Depth(r.HalfMax) + " at its widest, ± " + u.Depth(r.HalfMean) + " on average"},
		Fact{"Weakest fix", FixName(r.Weakest)})
	if r.Class != "" {
		out = append(out, Fact{"Suggested class", r.Class + " (" + r.m.Meta.Scheme + "); a licensed professional decides"})
	}
	if !r.part.From.IsZero() {
		out = append(out, Fact{"Surveyed", Period(r.part.From, r.part.To)})
	}
	return out
}

// diameters writes one or a range, m, in millimetres, in which pipes are named.
func diameters(low, high float64) string {
	a, b := appendNumber(nil, round(low*1000, 1)), appendNumber(nil, round(high*1000, 1))
	if string(a) == string(b) {
		return string(a) + " mm"
	}
	return string(a) + " to " + string(b) + " mm"
}

// locatedBy says how the signal came onto the line, and at what frequency.
func locatedBy(line *fuse.Line) string {
	if !known(line.Frequency) {
		return MethodName(line.Method)
	}
	return MethodName(line.Method) + ", " + Hertz(line.Frequency)
}

// facts lists what a person wants to read of a placed reading.
func (r *readingRow) facts() []Fact {
	u, p := Units{r.m.Meta.Imperial}, r.placed
	out := make([]Fact, 0, 13)
	add := func(label, text string) {
		if text != "" && text != "–" {
			out = append(out, Fact{label, text})
		}
	}
	add("Feature", p.Reading.Feature)
	if r.lineID != "" {
		add("Line", r.lineID)
	}
	add("Depth to centre", u.Depth(p.Reading.BestDepth()))
	add("Cover to the top", u.Depth(p.Reading.BestDepth()-p.Reading.Diameter/2))
	add("Depth seen", u.Depth(p.Reading.MeasuredDepth))
	if known(p.Reading.Current) {
		add("Current", strconv.FormatFloat(p.Reading.Current, 'f', 1, 64)+" mA")
	}
	add("Point lies 95 % within", u.Depth(Radius95(p.Radius)))
	add("Fix", FixName(p.Quality))
	if !p.UTC.IsZero() {
		add("Time", p.UTC.UTC().Format("2006-01-02 15:04:05 UTC"))
	}
	if p.Reading.OnLine() && !p.Used {
		add("Use", "set aside, not part of the line")
	}
	add("Remarks", remarks(r.flagsOf()))
	add("Note", p.Reading.Note)
	add("From", p.Reading.File+", row "+strconv.Itoa(p.Reading.Row))
	return out
}

// remarks lists flags in words.
func remarks(s flags.Set) string {
	return strings.ReplaceAll(strings.Join(s.Names(), ", "), "_", " ")
}
