package readings

import (
	"fmt"
	"strings"
)

// fileNotes collects what is said about whole files; the same remark about
// several files is said once.
type fileNotes struct {
	texts []string
	files map[string][]string
}

func (s *fileNotes) add(file, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if s.files == nil {
		s.files = map[string][]string{}
	}
	if s.files[text] == nil {
		s.texts = append(s.texts, text)
	}
	s.files[text] = append(s.files[text], file)
}

// lines gives each remark once, behind the files that it is about.
func (s *fileNotes) lines() []string {
	var out []string
	for _, text := range s.texts {
		files := s.files[text]
		about := strings.Join(files, ", ")
		if len(files) > 3 {
			about = fmt.Sprintf("%s and %d more", files[0], len(files)-1)
		}
		out = append(out, about+": "+text)
	}
	return out
}

// remark says what a person should know about the file that was read.
func (f *fileReader) remark() {
	l, rd := f.layout, f.rd
	say := func(format string, args ...any) { f.notes.add(f.name, format, args...) }
	if l.header > l.first && f.mapping.headerRow == 0 && len(l.preamble) > 0 {
		say("what stands before the header in line %d is not read%s", l.header, f.takenText())
	}
	if f.form != "" {
		say("read as %s", f.form)
	}
	if t := rd.times; t != nil && t.told != "" {
		say("times in column %q are read as %s", l.plan.headers[l.plan.time], t.told)
	}
	for _, s := range l.plan.skipped {
		say("column %q is not used: %s", s.header, s.why)
	}
	if len(l.plan.extras) > 0 {
		var names []string
		for _, x := range l.plan.extras {
			names = append(names, x.name)
		}
		say("columns not known: %s; what they say is carried into the map files, and not used otherwise", quoteList(names))
	}
	if l.plan.packed {
		say("positions are read as degrees and minutes in one number (4712.345 is 47° 12.345')")
	}
	if rd.covered > 0 {
		say("depths computed from the cover and half the diameter: %d", rd.covered)
	}
	if f.totals > 0 {
		say("rows of totals left out: %d", f.totals)
	}
	if f.text != nil && f.text.latin > 0 {
		say("lines that are not UTF-8, read as Windows-1252: %d; check names and notes", f.text.latin)
	}
	if f.charset != "" {
		say("the text is not UTF-8, read as %s; check names and notes", f.charset)
	}
	if f.again > 0 {
		say("the header stands among the rows again: %d", f.again)
	}
	if f.other > 0 {
		say("line %d is a header unlike the first: nothing below it was read", f.other)
	}
	if f.repeated > 0 {
		say("readings that a log before this one has as well, which count once: %d", f.repeated)
	}
	if f.twice > 0 {
		say("rows that repeat an earlier row of this file, which count once: %d", f.twice)
	}
	if cells := f.log.Cells[f.cellsBefore:]; len(cells) > 0 {
		a := cells[0]
		say("cells that could not be read and are kept in the note: %d; the first, line %d, column %s: %q: %s", len(cells), a.Row, a.Column, a.Found, a.Reason)
	}
	switch n := len(f.log.Aside); {
	case f.count == 0:
		say("no rows below the header")
	case f.count == n-f.asideBefore:
		a := f.log.Aside[f.asideBefore]
		say("none of %d rows could be read; the first, line %d: %q: %s", f.count, a.Row, a.Found, a.Reason)
	}
	if rd.noOffset > 0 {
		say("times carry no offset and no zone was given: taken as UTC; give --zone if the locator shows local time")
	}
	if f.timeless > 0 {
		say("rows without a time: %d", f.timeless)
	}
	if rd.nowhere > 0 {
		say("positions 0, 0 taken as none: %d", rd.nowhere)
	}
	if rd.noFix > 0 {
		say("positions whose fix is none, typed in or simulated not used: %d", rd.noFix)
	}
	if c := rd.folds[livedTwice]; c.n > 0 {
		say("times in an hour that the clocks of %s passed twice, taken as the first pass until they go back: %d, the first %q in line %d", rd.zone.zone, c.n, c.text, c.line)
	}
	if c := rd.folds[skipped]; c.n > 0 {
		say("times in an hour that the clocks of %s skipped: %d, the first %q in line %d; the locator's clock did not follow the change, check --zone", rd.zone.zone, c.n, c.text, c.line)
	}
	if len(rd.unknown) > 0 {
		say("utilities not known and taken as unknown: %s; name them under [words.utility] in --columns", quoteList(rd.unknown))
	}
}

// takenText says what of the preamble holds for every row.
func (f *fileReader) takenText() string {
	var parts []string
	for _, s := range f.taken {
		parts = append(parts, s.name+" = "+shorten(s.value))
	}
	if len(parts) == 0 {
		return ""
	}
	return ", but for what holds for every row: " + strings.Join(parts, ", ")
}
