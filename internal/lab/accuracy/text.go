package main

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"unicode/utf8"
)

// missed marks a figure beyond its goal.
const missed = "!"

// render writes a table for each generator: words separated by blanks, a row a
// line, an empty line behind each.
func render(rows []*row) string {
	return tables(rows, func(r *row, c column) string {
		text := c.cell(r)
		if text != "-" && c.misses != nil && c.misses(r) {
			text += missed
		}
		return text
	})
}

// tables writes the rows of each generator under its name.
func tables(rows []*row, cell func(*row, column) string) string {
	var b strings.Builder
	for len(rows) > 0 {
		lines := [][]string{{"preset"}}
		for _, c := range columns {
			lines[0] = append(lines[0], c.name)
		}
		g := rows[0].generator
		for ; len(rows) > 0 && rows[0].generator == g; rows = rows[1:] {
			line := []string{rows[0].name}
			for _, c := range columns {
				line = append(line, cell(rows[0], c))
			}
			lines = append(lines, line)
		}
		fmt.Fprintf(&b, "generator: internal/%s\n%s\n\n", g, strings.Join(aligned(lines, true), "\n"))
	}
	return b.String()
}

// aligned pads the columns; numbers to the right, or words to the left.
func aligned(lines [][]string, right bool) []string {
	width := make([]int, len(lines[0]))
	for _, l := range lines {
		for i, w := range l {
			width[i] = max(width[i], utf8.RuneCountInString(w))
		}
	}
	var out []string
	for _, l := range lines {
		var b strings.Builder
		for i, w := range l {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(w))
			switch {
			case i == 0:
				b.WriteString(w + pad)
			case right:
				b.WriteString("  " + pad + w)
			default:
				b.WriteString("  " + w + pad)
			}
		}
		out = append(out, strings.TrimRight(b.String(), " "))
	}
	return out
}

// saved is a table as it was written.
type saved struct {
	head  string               // its first line: which days
	cells map[[3]string]string // by generator, row and column
}

func load(path string) (*saved, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	s := &saved{cells: map[[3]string]string{}}
	s.head, _, _ = strings.Cut(string(b), "\n")
	generator := simulated // a table of before there were two
	var names []string
	for _, line := range strings.Split(string(b), "\n") {
		words := strings.Fields(line)
		switch {
		case len(words) == 0:
			names = nil
		case len(words) == 2 && words[0] == "generator:":
			generator = strings.TrimPrefix(words[1], "internal/")
		case len(words) > 1 && words[0] == "preset":
			names = words
		case names != nil && len(words) == len(names):
			for i, w := range words {
				s.cells[[3]string{generator, words[0], names[i]}] = strings.TrimSuffix(w, missed)
			}
		}
	}
	if len(s.cells) == 0 {
		return nil, fmt.Errorf("%s holds no table that begins with the word preset", path)
	}
	return s, nil
}

// change writes by how much the figures of each row differ from the saved ones;
// rows that the saved table lacks are left out.
func (s *saved) change(rows []*row) string {
	var there []*row
	for _, r := range rows {
		if _, ok := s.cells[[3]string{r.generator, r.name, "preset"}]; ok {
			there = append(there, r)
		}
	}
	return tables(there, func(r *row, c column) string {
		return difference(s.cells[[3]string{r.generator, r.name, c.name}], c.cell(r))
	})
}

// difference is new − old for numbers, old→new for other words, "." when nothing
// changed.
func difference(before, now string) string {
	if before == now {
		return "."
	}
	if before == "" {
		return "new"
	}
	a, err1 := strconv.ParseFloat(before, 64)
	b, err2 := strconv.ParseFloat(now, 64)
	if err1 != nil || err2 != nil {
		return before + "→" + now
	}
	_, decimals, _ := strings.Cut(now, ".")
	return fmt.Sprintf("%+.*f", len(decimals), b-a)
}
