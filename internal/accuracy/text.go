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

// render writes the table: words separated by blanks, a row a line.
func render(rows []*row) string {
	lines := [][]string{{"preset"}}
	for _, c := range columns {
		lines[0] = append(lines[0], c.name)
	}
	for _, r := range rows {
		line := []string{r.name}
		for _, c := range columns {
			text := c.cell(r)
			if text != "-" && c.misses != nil && c.misses(r) {
				text += missed
			}
			line = append(line, text)
		}
		lines = append(lines, line)
	}
	return strings.Join(aligned(lines, true), "\n") + "\n"
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
	cells map[[2]string]string // by row and column
}

func load(path string) (*saved, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	s := &saved{cells: map[[2]string]string{}}
	s.head, _, _ = strings.Cut(string(b), "\n")
	var names []string
	for _, line := range strings.Split(string(b), "\n") {
		words := strings.Fields(line)
		switch {
		case len(words) == 0 && len(s.cells) > 0:
			return s, nil // the goals follow
		case len(words) > 1 && words[0] == "preset":
			names = words
		case names != nil && len(words) == len(names):
			for i, w := range words {
				s.cells[[2]string{words[0], names[i]}] = strings.TrimSuffix(w, missed)
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
	lines := [][]string{{"preset"}}
	for _, c := range columns {
		lines[0] = append(lines[0], c.name)
	}
	for _, r := range rows {
		if _, ok := s.cells[[2]string{r.name, "preset"}]; !ok {
			continue
		}
		line := []string{r.name}
		for _, c := range columns {
			line = append(line, difference(s.cells[[2]string{r.name, c.name}], c.cell(r)))
		}
		lines = append(lines, line)
	}
	return strings.Join(aligned(lines, true), "\n") + "\n"
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
