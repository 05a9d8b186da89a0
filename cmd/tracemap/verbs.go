package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"tracemap/present"

	"github.com/spf13/pflag"
)

// A verb is a row of the table of verbs: to add one, add a row and a file.
type verb struct {
	name string
	args string // as usage shows them
	does string // one line; empty when people have no use for it
	run  func(ctx context.Context, c *console, args []string) error
}

// hidden reports whether help leaves the verb out.
func (v *verb) hidden() bool { return v.does == "" }

// verbs are shown by help in this order.
var verbs = []verb{
	{"convert", "FILE...", "logs in, map files out", runConvert},
	{"inspect", "FILE...", "what is in these logs, and is it good enough", runInspect},
	{"compare", "LOCATED ASBUILT", "as-located against as-built: what agrees, what differs", runCompare},
	{"record", "SOURCE", "record a live receiver into hourly logs", runRecord},
	{"serve", "", "the web page: upload, review, hand on the files", runServe},
	{"account", "ACTION [NAME]", "who may log in to the page of a data folder", runAccount},
	{"backup", "DIR", "copy the page's data folder, also while it is served", runBackup},
	{"demo", "DIR", "write an invented day with known truth", runDemo},
	{"completion", "SHELL", "print a shell's completion script", runCompletion},
	{"man", "", "print the manual page", runMan},
	{"version", "", "print the version", runVersion},
	{"__offer", "WORD...", "", runOffer},
}

// help is what tracemap --help prints.
func help() string {
	var b strings.Builder
	b.WriteString("Usage: tracemap VERB [flags] FILE...\n\nVerbs:\n")
	for _, v := range verbs {
		if v.hidden() {
			continue
		}
		fmt.Fprintf(&b, "  %-10s %s\n", v.name, v.does)
	}
	b.WriteString(`
tracemap VERB --help explains a verb and shows an example.

Exit status: 0 done; 1 failed; 2 wrong usage; 3 the input cannot give a map;
130 interrupted. Results go to standard output, messages to standard error.

`)
	b.WriteString(present.Caution + "\n")
	return b.String()
}

// errHelped ends a verb that has printed its help.
var errHelped = errors.New("help was printed")

// usageError is a wrong command line: what is wrong, and what to type instead.
type usageError struct{ wrong, hint string }

func (e *usageError) Error() string { return e.wrong }

// Hint is what to type instead.
func (e *usageError) Hint() string { return e.hint }

// newFlags gives a verb's empty flag set. Flags may stand after files.
func newFlags(name string) *pflag.FlagSet {
	fs := pflag.NewFlagSet(name, pflag.ContinueOnError)
	fs.SortFlags = false
	fs.Usage = func() {}
	return fs
}

// parse reads the command line of a verb. about is its help up to the flags,
// example what follows them.
func parse(c *console, fs *pflag.FlagSet, args []string, about, example string) error {
	err := fs.Parse(args)
	switch {
	case errors.Is(err, pflag.ErrHelp) && c.page != nil:
		*c.page = helpPage{about: about, example: example, flags: fs}
		return errHelped
	case errors.Is(err, pflag.ErrHelp):
		c.print(strings.TrimLeft(about, "\n"))
		if fs.HasFlags() {
			c.print("\nFlags:\n" + flagHelp(fs, c.width()))
		}
		c.print("\nExample:\n" + example)
		return errHelped
	case err != nil:
		return &usageError{err.Error(), fmt.Sprintf("tracemap %s --help lists the flags", fs.Name())}
	}
	return nil
}
