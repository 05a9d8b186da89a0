package readings

import "strings"

// A saying is what a line above the header says: "Operator: J. Doe".
type saying struct {
	name, value string // the name normalised
	line        int
}

// sayings reads the lines above the header as names and values.
func sayings(rows []record) []saying {
	var out []saying
	for _, r := range rows {
		var filled []string
		for _, c := range r.cells {
			if c = bareCell(strings.TrimLeft(c, "#;/% ")); c != "" {
				filled = append(filled, c)
			}
		}
		switch len(filled) {
		case 0:
		case 1:
			for _, mark := range []string{":", "="} {
				name, value, ok := strings.Cut(filled[0], mark)
				if value = bareCell(value); ok && value != "" && len(name) < 60 {
					out = append(out, saying{normalise(name), value, r.line})
					break
				}
			}
		default:
			for k := 0; k+1 < len(filled); k += 2 {
				name := strings.TrimRight(filled[k], ":= ")
				out = append(out, saying{normalise(name), filled[k+1], r.line})
			}
			if name, value, ok := strings.Cut(filled[0], ":"); ok && bareCell(value) != "" {
				out = append(out, saying{normalise(name), bareCell(value), r.line})
			}
		}
	}
	return out
}

// said gives what the preamble says under one of the names, in their order.
func (f *fileReader) said(names ...string) string {
	for _, n := range names {
		for _, s := range f.sayings {
			if unaccent(s.name) == unaccent(n) {
				return s.value
			}
		}
	}
	return ""
}

// inPreamble are the columns that a line above the header may give for every row.
var inPreamble = map[string]bool{"line": true, "utility": true, "method": true, "response": true, "mode": true, "frequency": true, "diameter": true,
	"coil_spacing": true, "instrument": true}

// takePreamble puts what the preamble says into the template of the rows.
func (f *fileReader) takePreamble() {
	have := map[*column]bool{}
	for _, c := range f.layout.plan.cells {
		have[c.col] = true
	}
	for _, fc := range f.mapping.fixed {
		have[fc.target.col] = true
	}
	for _, s := range f.sayings {
		t, known := resolve(s.name)
		if !known || !inPreamble[t.col.name] || have[t.col] {
			continue
		}
		c := cellPlan{col: t.col, unit: t.unit, decimals: decimals{mark: '.'}}
		r := f.rd.template
		if reason := f.rd.cell(&r, &c, s.value); reason == "" {
			f.rd.template = r
			have[t.col] = true
			f.taken = append(f.taken, s)
		}
	}
}
