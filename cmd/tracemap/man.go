package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tracemap/internal/survey"
	"tracemap/present"
)

const manHelp = `Usage: tracemap man

Prints the manual page, made of the help of all verbs, for man(1).
`

const manExample = `  tracemap man > tracemap.1 && man ./tracemap.1
`

func runMan(_ context.Context, c *console, args []string) error {
	fs := newFlags("man")
	if err := parse(c, fs, args, manHelp, manExample); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		return &usageError{fmt.Sprintf("man takes no argument, got %q", fs.Arg(0)), "tracemap man"}
	}
	c.print(manPage(c.verbs))
	return nil
}

// ofMachine are flags whose default depends on the machine: the page, which must
// be the same everywhere, does not tell it.
var ofMachine = []string{"workers"}

// manPage is the manual page in the macros of man(7), in plain ASCII.
func manPage(verbs []verb) string {
	var m roff
	m.macro(".TH", "TRACEMAP", "1", "", survey.Tool, "User Commands")
	m.macro(".SH", "NAME")
	m.text("tracemap - a map of buried utilities out of a receiver's log and a locator's readings")
	m.macro(".SH", "SYNOPSIS")
	pages := helpPages(verbs)
	for i := range pages {
		if i > 0 {
			m.macro(".br")
		}
		usage, _, _ := strings.Cut(strings.TrimSpace(pages[i].about), "\n")
		m.text(strings.TrimPrefix(usage, "Usage: "))
	}
	m.macro(".SH", "DESCRIPTION")
	m.text("tracemap aligns the log of a satellite receiver and the readings log of an electromagnetic locator in time, smooths the track, " +
		"places every reading, fits lines to them, and writes map files in which every line carries a 95 % uncertainty width.")
	m.macro(".PP")
	m.text("Results go to standard output, messages to standard error. Flags may stand after files; -- ends flags; - is standard input.")
	for i := range pages {
		m.verb(&pages[i])
	}
	m.end()
	return m.String()
}

// verb writes the section of a verb.
func (m *roff) verb(p *helpPage) {
	m.macro(".SH", strings.ToUpper(p.name))
	for i, text := range p.paragraphs() {
		if i > 0 {
			m.macro(".PP")
		}
		m.text(text)
	}
	p.each(func(flag *pflag.Flag, value, text string) {
		name := "--" + flag.Name
		if flag.Shorthand != "" {
			name = "-" + flag.Shorthand + ", " + name
		}
		m.macro(".TP")
		if value == "" {
			m.line(`\fB` + escape(name) + `\fR`)
		} else {
			m.line(`\fB` + escape(name) + `\fR \fI` + escape(value) + `\fR`)
		}
		if hasDefault(flag) && !slices.Contains(ofMachine, flag.Name) {
			text += fmt.Sprintf(" (default %s)", flag.DefValue)
		}
		m.text(text)
	})
	m.macro(".PP")
	m.text("Example:")
	m.macro(".PP")
	m.macro(".nf")
	for line := range strings.Lines(p.example) {
		m.text(strings.TrimRight(line, "\n"))
	}
	m.macro(".fi")
}

// end writes what holds for all verbs.
func (m *roff) end() {
	m.macro(".SH", "EXIT STATUS")
	for _, s := range []struct {
		status int
		means  string
	}{
		{statusDone, "Done; warnings may have been printed."},
		{statusFailed, "It failed: a file cannot be read, the disk is full, the folder exists."},
		{statusUsage, "Wrong usage."},
		{statusNoMap, "The input cannot give a map: no readable sentence, no valid fix, no readings, no overlap in time."},
		{statusInterrupted, "Interrupted; nothing was written."},
	} {
		m.macro(".TP")
		m.line(fmt.Sprintf(`\fB%d\fR`, s.status))
		m.text(s.means)
	}
	m.macro(".SH", "ENVIRONMENT")
	m.macro(".TP")
	m.line(`\fBNO_COLOR\fR`)
	m.text("When not empty, messages have no colour.")
	m.macro(".SH", "CAUTION")
	m.text(present.Caution)
}

// roff is a page that is being written.
type roff struct{ strings.Builder }

// macro writes a request or macro with its arguments.
func (m *roff) macro(name string, args ...string) {
	m.WriteString(name)
	for _, a := range args {
		m.WriteString(` "` + strings.ReplaceAll(escape(a), `"`, `\(dq`) + `"`)
	}
	m.WriteString("\n")
}

// line writes a line that is roff already.
func (m *roff) line(text string) { m.WriteString(text + "\n") }

// text writes plain text; a line that roff would take for a request is guarded.
func (m *roff) text(text string) {
	for line := range strings.Lines(text) {
		line = escape(strings.TrimSuffix(line, "\n"))
		if strings.HasPrefix(line, ".") || strings.HasPrefix(line, "'") {
			line = `\&` + line
		}
		m.line(line)
	}
}

// escape writes text so that roff shows it as it is: a hyphen that can be copied
// into a shell, and other than ASCII by code point.
func escape(text string) string {
	var b strings.Builder
	for _, r := range text {
		switch {
		case r == '\\':
			b.WriteString(`\e`)
		case r == '-':
			b.WriteString(`\-`)
		case r == '\'':
			b.WriteString(`\(aq`)
		case r > '~':
			fmt.Fprintf(&b, `\[u%04X]`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
