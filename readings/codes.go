package readings

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"tracemap/remarks"
)

// Some locators write a number where they could not measure: 9.99, 99.9, 65535, 0, −1.
// Such a code comes again and again, exactly, where measurements scatter. The program
// does not guess what it means: it does not use the value, and says so, until the map
// of columns calls it blank or a measurement.

// A measure is a field in which locators write codes. Two measurements of it on one
// line, one after the other, hardly differ by more than the factor apart: a choice.
type measure struct {
	name  string
	field func(*Reading) *float64
	apart float64
}

var coded = []measure{
	{"cover", func(r *Reading) *float64 { return &r.Cover }, 1.5},
	{"depth", func(r *Reading) *float64 { return &r.Depth }, 1.5},
	{"current", func(r *Reading) *float64 { return &r.Current }, 3},
}

const (
	fewestCodes = 3    // times that a code comes at the least
	nearCode    = 0.15 // of a value, within which a measurement that repeats has others
	// A row of equal values on a line of its own is a code if it had come by chance, at the
	// rate at which other values repeat, less than once in so many logs; that rate
	// is taken from so many pairs at the least.
	rarelyEqual = 1e-4
	fewestPairs = 10
)

// written holds how the log writes a value of a field in which codes may come.
type written map[writtenKey]string

type writtenKey struct {
	file, measure string
	value         float64
}

// keepText keeps how a value is written, for messages, and whether the map of columns
// calls it a measurement.
func (rd *rowReader) keepText(r *Reading, c *cellPlan, cell string) {
	if c.col.field == nil || rd.written == nil || !slices.ContainsFunc(coded, func(m measure) bool { return m.name == c.col.name }) {
		return
	}
	r.genuine = r.genuine || slices.Contains(rd.mapping.measured, cell)
	if key := (writtenKey{rd.file, c.col.name, *c.col.field(r)}); len(rd.written) < keptTexts && rd.written[key] == "" {
		rd.written[key] = rd.intern(cell)
	}
}

// of returns the text of a value; what cannot be looked up is written in SI units.
func (w written) of(file string, m measure, v float64) string {
	if text := w[writtenKey{file, m.name, v}]; text != "" {
		return text
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// errorCodes takes codes out of the readings of each file, and returns them as cells
// that could not be used, with a warning for each code.
func errorCodes(rs []Reading, texts written) (cells []SetAside, warnings []string) {
	for from := 0; from < len(rs); {
		to := from + 1
		for to < len(rs) && rs[to].File == rs[from].File {
			to++
		}
		for _, m := range coded {
			for _, code := range m.codes(rs[from:to]) {
				lost := m.lose(rs[from:to], code, texts.of(rs[from].File, m, code))
				cells = append(cells, lost...)
				warnings = append(warnings, fmt.Sprintf("%s line %d: the %s %s comes %d times, always the same, where others scatter: taken for a code that says \"not measured\", and not used. "+
					"If so, write blank = [%q] into a map of columns; if it was measured, write measured = [%q]",
					rs[from].File, lost[0].Row, m.name, lost[0].Found, len(lost), lost[0].Found, lost[0].Found))
			}
		}
		from = to
	}
	return cells, warnings
}

// codes returns the values of a file's readings that are codes, in growing order.
func (m measure) codes(rs []Reading) []float64 {
	at := map[float64][]int{}
	genuine := map[float64]bool{}
	var values []float64 // that differ
	lines := map[string][]int{}
	for i := range rs {
		v := *m.field(&rs[i])
		if math.IsNaN(v) {
			continue
		}
		if at[v] == nil {
			values = append(values, v)
		}
		at[v] = append(at[v], i)
		genuine[v] = genuine[v] || rs[i].genuine
		lines[rs[i].Line] = append(lines[rs[i].Line], i)
	}
	slices.Sort(values)
	var out []float64
	for k, v := range values {
		if len(at[v]) < fewestCodes || genuine[v] {
			continue
		}
		reach := nearCode * math.Abs(v)
		if k > 0 && values[k-1] >= v-reach || k+1 < len(values) && values[k+1] <= v+reach {
			continue
		}
		if m.amidOthers(rs, lines, v) || m.tooEqual(rs, lines, v) {
			out = append(out, v)
		}
	}
	return out
}

// amidOthers reports whether a value comes between others, on their lines, that are far
// from it: at least thrice, and in half of its readings.
func (m measure) amidOthers(rs []Reading, lines map[string][]int, v float64) bool {
	n, amid := 0, 0
	for _, line := range lines {
		for k, i := range line {
			if *m.field(&rs[i]) != v {
				continue
			}
			n++
			found, far := false, true
			for _, step := range []int{-1, 1} {
				for j := k + step; j >= 0 && j < len(line); j += step {
					if other := *m.field(&rs[line[j]]); other != v {
						found, far = true, far && m.far(other, v)
						break
					}
				}
			}
			if found && far {
				amid++
			}
		}
	}
	return amid >= fewestCodes && 2*amid >= n
}

func (m measure) far(a, b float64) bool {
	a, b = min(a, b), max(a, b)
	return a <= 0 && b > 0 || a > 0 && b > m.apart*a
}

// tooEqual reports whether whole lines of one value, a line's value being v, are too
// equal for the rate at which others come twice in a row.
func (m measure) tooEqual(rs []Reading, lines map[string][]int, v float64) bool {
	pairs, equal, repeats := 0, 0, 0
	for _, line := range lines {
		for k := 1; k < len(line); k++ {
			switch a, b := *m.field(&rs[line[k-1]]), *m.field(&rs[line[k]]); {
			case a == v && b == v:
				repeats++
			case a == v || b == v:
			default:
				pairs++
				if a == b {
					equal++
				}
			}
		}
	}
	rate := float64(equal+1) / float64(pairs+2)
	return pairs >= fewestPairs && math.Pow(rate, float64(repeats)) < rarelyEqual
}

// lose takes a code out of the readings that have it.
func (m measure) lose(rs []Reading, code float64, text string) (cells []SetAside) {
	for i := range rs {
		r := &rs[i]
		v := m.field(r)
		if *v != code {
			continue
		}
		if *v = math.NaN(); m.name == "cover" && r.Depth == code+r.Diameter/2 {
			r.Depth = math.NaN() // was computed from it
		}
		r.Note = strings.TrimPrefix(r.Note+"; "+m.name+": "+text, "; ")
		r.Flags = r.Flags&^checked | check(r) | remarks.BadCell
		cells = append(cells, SetAside{File: r.File, Row: r.Row, Column: m.name, Found: text, Reason: "the same value again and again where others scatter: taken for a code"})
	}
	return cells
}
