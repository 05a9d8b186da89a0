package readings

import (
	"strings"
	"unicode"

	"tracemap/readings/table"
)

// A form is a way of writing a table as text that separators do not cut. To add
// one, write a function and a row here.
type form struct {
	name string
	rows func(lines []string) []table.Row // nil where the text is not of that form
}

var forms = []form{
	{"rows in quotes", quotedRows},
	{"columns of fixed width", fixedWidth},
	{"blocks of names and values", blocks},
}

// quotedRows takes lines of which each is one cell in quotes that holds the row.
func quotedRows(lines []string) []table.Row {
	var rows []table.Row
	inner := map[byte]int{}
	for i, line := range lines {
		line = strings.TrimRight(strings.TrimSpace(line), ",;")
		if line == "" {
			continue
		}
		if len(line) < 2 || line[0] != '"' || line[len(line)-1] != '"' {
			return nil
		}
		line = strings.ReplaceAll(line[1:len(line)-1], `""`, `"`)
		for _, sep := range separators {
			inner[sep] += strings.Count(line, string(sep))
		}
		rows = append(rows, table.Row{Line: i + 1, Cells: []string{line}})
	}
	best := separators[0]
	for _, sep := range separators {
		if inner[sep] > inner[best] {
			best = sep
		}
	}
	if inner[best] == 0 {
		return nil
	}
	cutter := &recordReader{sep: best}
	for i := range rows {
		line := rows[i].Cells[0]
		if cutter.opensQuote(line) {
			if cells := cutter.unquote(line); cells != nil {
				rows[i].Cells = append([]string(nil), cells...)
				continue
			}
		}
		rows[i].Cells = split(nil, line, best)
	}
	return rows
}

// fixedWidth takes lines whose columns stand below each other: a gap is where two
// blanks stand in the header and a blank in every row below it. Lines before the
// header are kept as they are.
func fixedWidth(lines []string) []table.Row {
	header, starts := -1, []int(nil)
	for i, line := range lines[:min(len(lines), headerReach)] {
		if s := wordStarts(line); len(s) > len(starts) && strings.IndexFunc(line, unicode.IsDigit) < 0 {
			header, starts = i, s
		}
	}
	if header < 0 || len(starts) < 2 {
		return nil
	}
	width := 0
	var body [][]rune
	for _, line := range lines[header:] {
		r := []rune(strings.ReplaceAll(strings.TrimRight(line, " \r"), "\t", "        "))
		body = append(body, r)
		width = max(width, len(r))
	}
	if width > 4096 {
		return nil
	}
	blank := make([]bool, width+1)
	for c := range blank {
		blank[c] = true
	}
	for k, r := range body {
		if k > sampleRows {
			break
		}
		if strings.Trim(string(r), "-=+ ") == "" {
			continue // a ruling
		}
		for c, x := range r {
			blank[c] = blank[c] && x == ' '
		}
	}
	var cuts []int // where columns begin
	for c := range width {
		if !blank[c] && (c == 0 || blank[c-1]) {
			cuts = append(cuts, c)
		}
	}
	if len(cuts) < 2 || len(cuts) > 200 {
		return nil
	}
	cuts = joinNarrow(cuts, body[0])
	var rows []table.Row
	for i, line := range lines[:header] {
		if strings.TrimSpace(line) != "" {
			rows = append(rows, table.Row{Line: i + 1, Cells: []string{strings.TrimSpace(line)}})
		}
	}
	for k, r := range body {
		if strings.Trim(string(r), "-=+ ") == "" {
			continue
		}
		cells := make([]string, len(cuts))
		for n, from := range cuts {
			to := len(r)
			if n+1 < len(cuts) {
				to = min(to, cuts[n+1])
			}
			if from < to {
				cells[n] = strings.TrimSpace(string(r[from:to]))
			}
		}
		rows = append(rows, table.Row{Line: header + k + 1, Cells: cells})
	}
	return rows
}

// joinNarrow leaves out beginnings over which the header has nothing: the blank
// inside "2026-05-12 08:00:00" begins no column.
func joinNarrow(cuts []int, header []rune) []int {
	out := cuts[:1]
	for n := 1; n < len(cuts); n++ {
		to := len(header)
		if n+1 < len(cuts) {
			to = min(to, cuts[n+1])
		}
		if from := min(cuts[n], len(header)); from < to && strings.TrimSpace(string(header[from:to])) != "" {
			out = append(out, cuts[n])
		}
	}
	return out
}

// wordStarts gives the places of a line where words begin behind two blanks or more.
func wordStarts(line string) []int {
	var out []int
	gap := 2
	for c, r := range []rune(line) {
		switch {
		case r == ' ' || r == '\t':
			gap++
		default:
			if gap >= 2 {
				out = append(out, c)
			}
			gap = 0
		}
	}
	return out
}

// blocks takes "name: value" or "name = value" lines, a reading each group of them:
// a group ends at a blank line or a ruling, or where its first name comes again.
func blocks(lines []string) []table.Row {
	var names []string
	at := map[string]int{}
	var rows []table.Row
	var row map[string]string
	start, pairs, others := 0, 0, 0
	end := func() {
		if len(row) == 0 {
			return
		}
		cells := make([]string, len(names))
		for name, v := range row {
			cells[at[name]] = v
		}
		rows = append(rows, table.Row{Line: start, Cells: cells})
		row = nil
	}
	for i, line := range lines {
		line = strings.TrimSpace(line)
		if strings.Trim(line, "-=*#_ ") == "" {
			end()
			continue
		}
		name, value, ok := strings.Cut(line, ": ")
		if !ok {
			if name, value, ok = strings.Cut(line, "="); !ok {
				name, value, ok = strings.Cut(line, ":")
			}
		}
		name = strings.TrimSpace(name)
		if !ok || name == "" || len(name) > 60 || strings.ContainsAny(name, ",;\t") {
			others++
			continue
		}
		pairs++
		if _, again := row[name]; again {
			end()
		}
		if row == nil {
			row, start = map[string]string{}, i+1
		}
		if _, known := at[name]; !known {
			if len(names) >= 200 {
				return nil
			}
			at[name] = len(names)
			names = append(names, name)
		}
		row[name] = strings.TrimSpace(value)
	}
	end()
	if len(rows) < 2 || others > pairs/4 || len(names) < 2 {
		return nil
	}
	for i := range rows {
		for len(rows[i].Cells) < len(names) {
			rows[i].Cells = append(rows[i].Cells, "")
		}
	}
	return append([]table.Row{{Line: 1, Cells: names}}, rows...)
}
