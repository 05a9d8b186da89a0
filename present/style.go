package present

import (
	_ "embed"
	"strings"
)

// style is what the printable pages have in common.
//
//go:embed style.css
var style string

// Style returns the style sheet of a printable page: what all have in common, with
// the page's own rules behind it, in general, on narrow screens and in print. own has
// these three in that order: plain rules, then an @media block each.
func Style(own string) string {
	ours, theirs := sections(style), sections(own)
	var b strings.Builder
	b.WriteString(ours[0] + theirs[0])
	for i := 1; i < len(ours); i++ {
		_, rules, _ := strings.Cut(theirs[i], "{\n")
		b.WriteString(strings.TrimSuffix(ours[i], "}\n") + rules)
	}
	return b.String()
}

// sections cuts a style sheet before each @media.
func sections(css string) [3]string {
	var out [3]string
	n := 0
	for line := range strings.Lines(css) {
		if strings.HasPrefix(line, "@media") {
			n++
		}
		out[n] += line
	}
	return out
}
