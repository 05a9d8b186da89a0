package export

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"tracemap/readings"
	"tracemap/result"
)

// Columns of the readings log that are none of ours ride along: a field for each in the
// layer readings, and in the layer lines for those in which all readings of a line say
// the same, such as owner or material.

// mostExtras bounds the fields that a log can add to a file: a DBF table holds 255 in
// all. The last of them takes what further columns say, by their names.
const mostExtras = 100

// An extraName is a column of the log with its names in our files.
type extraName struct{ logged, name, dbf string }

// reservedNames are those that formats and programs give to fields of their own.
var reservedNames = []string{"fid", "ogc_fid", "geom", "geometry", "id", "name", "description", "wkt", "crs", "x", "y", "z", "z_known"}

// extraNames lists the columns that are none of ours in order of appearance. Names are
// letters, digits and underscores, in no case like one of ours or another's.
func extraNames(m *result.Map) []extraName {
	taken, short := map[string]bool{}, map[string]bool{"z_known": true}
	for _, name := range reservedNames {
		taken[name] = true
	}
	for i := range partColumns {
		taken[partColumns[i].Name], short[partColumns[i].DBF] = true, true
	}
	for i := range readingColumns {
		taken[readingColumns[i].Name], short[readingColumns[i].DBF] = true, true
	}
	seen := map[string]bool{}
	var out []extraName
	for i := range m.Readings {
		for _, f := range m.Readings[i].Reading.Extra {
			if seen[f.Name] {
				continue
			}
			seen[f.Name] = true
			logged := f.Name
			if len(out) == mostExtras-1 {
				logged = "" // and all that come behind it
			}
			name := fieldName(logged)
			if logged == "" {
				name = "more_columns"
			}
			out = append(out, extraName{logged, uniqueName(name, 60, taken), uniqueName(asciiName(name), 10, short)})
			if logged == "" {
				return out
			}
		}
	}
	return out
}

// fieldName returns a field's name made from a header.
func fieldName(header string) string {
	words := strings.FieldsFunc(header, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	name := strings.Join(words, "_")
	if name == "" {
		return "column"
	}
	if unicode.IsDigit([]rune(name)[0]) {
		return "_" + name
	}
	return name
}

// asciiName returns a name that every program reads from a DBF table.
func asciiName(name string) string {
	name = strings.Map(func(r rune) rune {
		if r > unicode.MaxASCII {
			return -1
		}
		return unicode.ToLower(r)
	}, name)
	if strings.Trim(name, "_") == "" {
		return "column"
	}
	return name
}

// uniqueName returns a name of at most most characters that differs from all in taken,
// whatever the case, and adds it to them.
func uniqueName(name string, most int, taken map[string]bool) string {
	cut := func(tail string) string {
		r := []rune(name)
		return string(r[:min(len(r), most-len(tail))]) + tail
	}
	out := cut("")
	for k := 2; taken[strings.ToLower(out)]; k++ {
		out = cut(fmt.Sprintf("_%d", k))
	}
	taken[strings.ToLower(out)] = true
	return out
}

// extraFields returns a function that gives, for a column of the log, the index in names
// of the field that holds it.
func extraFields(names []extraName) func(logged string) int {
	at := map[string]int{}
	for k, e := range names {
		at[e.logged] = k
	}
	return func(logged string) int {
		if k, own := at[logged]; own {
			return k
		}
		return len(names) - 1
	}
}

// said returns the text of a field with one more column's value joined to it.
func (e extraName) said(before string, f readings.Field) string {
	value := f.Value
	if e.logged == "" {
		value = f.Name + ": " + value
	}
	return strings.TrimPrefix(before+"; "+value, "; ")
}

// readingFields are the fields of the layer readings with the log's further columns.
func readingFields(m *result.Map) []column[readingRow] {
	out := slices.Clip(readingColumns)
	names := extraNames(m)
	at := extraFields(names)
	for k, e := range names {
		out = append(out, column[readingRow]{Name: e.name, DBF: e.dbf, Meaning: e.meaning(), Get: logged(func(r *readings.Reading) cell {
			said := ""
			for _, f := range r.Extra {
				if at(f.Name) == k {
					said = e.said(said, f)
				}
			}
			return text(said)
		})})
	}
	return out
}

// partFields are the fields of the layer lines with the log's further columns, of those
// in which all readings of some line say the same.
func partFields(m *result.Map) []column[partRow] {
	out := slices.Clip(partColumns)
	names := extraNames(m)
	if len(names) == 0 {
		return out
	}
	agreed := agreedExtras(m, names)
	for k, e := range names {
		any := false
		for _, values := range agreed {
			any = any || values[k] != ""
		}
		if any {
			out = append(out, column[partRow]{Name: e.name, DBF: e.dbf, Meaning: e.meaning() + " All readings of the line say the same; blank where they differ or some say nothing.",
				Get: func(r *partRow) cell {
					if values := agreed[r.line.ID]; values != nil {
						return text(values[k])
					}
					return cell{}
				}})
		}
	}
	return out
}

// agreedExtras returns, for each line, the text of each field in which all its readings
// agree; "" where they do not.
func agreedExtras(m *result.Map, names []extraName) map[string][]string {
	at := extraFields(names)
	agreed := map[string][]string{}
	says := make([]string, len(names))
	for i := range m.Readings {
		p := &m.Readings[i]
		if p.LineID == "" || !p.Reading.OnLine() {
			continue
		}
		clear(says)
		for _, f := range p.Reading.Extra {
			k := at(f.Name)
			says[k] = names[k].said(says[k], f)
		}
		before := agreed[p.LineID]
		if before == nil {
			agreed[p.LineID] = slices.Clone(says)
			continue
		}
		for k := range says {
			if before[k] != says[k] {
				before[k] = ""
			}
		}
	}
	return agreed
}

func (e extraName) meaning() string {
	if e.logged == "" {
		return "What further columns of the readings log say, by their names."
	}
	return fmt.Sprintf("Column %q of the readings log, as logged.", e.logged)
}
