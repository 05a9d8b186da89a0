package main

import (
	"context"
	"io"
	"strings"

	"github.com/spf13/pflag"
)

// A helpPage is a verb's help before it is laid out.
type helpPage struct {
	verb
	about   string // begins with a line of usage
	example string
	flags   *pflag.FlagSet
}

// helpPages are those of all verbs, in the order of their table. Each verb tells
// its own flags, so that the manual page and completion cannot fall behind.
func helpPages(verbs []verb) (out []helpPage) {
	for _, v := range verbs {
		if !v.hidden() {
			out = append(out, pageOf(v, verbs))
		}
	}
	return out
}

// pageOf asks a verb for its help.
func pageOf(v verb, verbs []verb) (page helpPage) {
	c := newConsole(nil, io.Discard, io.Discard)
	c.page, c.verbs = &page, verbs
	v.run(context.Background(), c, []string{"--help"})
	page.verb = v
	return page
}

// paragraphs are those of the help below the line of usage.
func (p *helpPage) paragraphs() []string {
	_, text, _ := strings.Cut(strings.TrimSpace(p.about), "\n")
	return strings.Split(strings.TrimSpace(text), "\n\n")
}

// each calls f for every flag in the order in which help lists them.
func (p *helpPage) each(f func(flag *pflag.Flag, value, text string)) {
	p.flags.VisitAll(func(flag *pflag.Flag) {
		value, text := flagUsage(flag)
		f(flag, value, text)
	})
}
