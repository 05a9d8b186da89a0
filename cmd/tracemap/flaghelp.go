package main

import (
	"fmt"
	"strings"

	"github.com/spf13/pflag"
)

// flagHelp lists a verb's flags for help. A flag's usage text begins with the
// name of its value in back quotes; a flag without one is a switch.
func flagHelp(fs *pflag.FlagSet, width int) string {
	type row struct{ left, right string }
	var rows []row
	widest := 0
	fs.VisitAll(func(f *pflag.Flag) {
		left := "      --" + f.Name
		if f.Shorthand != "" {
			left = "  -" + f.Shorthand + ", --" + f.Name
		}
		value, right := flagUsage(f)
		if value != "" {
			left += " " + value
		}
		if hasDefault(f) {
			right += fmt.Sprintf(" (default %s)", f.DefValue)
		}
		rows = append(rows, row{left, right})
		widest = max(widest, len(left))
	})
	var b strings.Builder
	for _, r := range rows {
		lines := wrap(r.right, width-widest-3)
		for i, line := range lines {
			if i > 0 {
				r.left = ""
			}
			fmt.Fprintf(&b, "%-*s   %s\n", widest, r.left, line)
		}
	}
	return b.String()
}

// flagUsage gives the name of a flag's value, "" for a switch, and what it means.
func flagUsage(f *pflag.Flag) (value, text string) {
	if _, rest, ok := strings.Cut(f.Usage, "`"); ok {
		value, text, _ = strings.Cut(rest, "` ")
		return value, text
	}
	return "", f.Usage
}

// hasDefault reports whether a flag's default is worth telling.
func hasDefault(f *pflag.Flag) bool {
	switch f.DefValue {
	case "", "0", "0s", "false", "[]":
		return false
	}
	return true
}

// wrap breaks a text into lines of at most width characters at blanks; a longer
// word stands alone.
func wrap(text string, width int) []string {
	lines := []string{""}
	for word := range strings.FieldsSeq(text) {
		last := &lines[len(lines)-1]
		switch {
		case *last == "":
			*last = word
		case len(*last)+1+len(word) <= width:
			*last += " " + word
		default:
			lines = append(lines, word)
		}
	}
	return lines
}
