// Package formula keeps spreadsheets from running what a log's text says.
package formula

import "strings"

// starts are the characters with which a spreadsheet's formula begins, and those
// that it skips before one.
const starts = "=+-@\t\r"

// separators part the cells of a table. A program that expects semicolons, as
// spreadsheets of half the world do, sees a new cell behind each, also within a
// text that stands between commas.
const separators = ";\t|\n\r"

// Guard returns a text with an apostrophe before each place where a spreadsheet
// would see a formula begin: at its start, and behind anything that parts cells,
// with or without blanks and quotes between (OWASP, CSV injection, names both).
func Guard(s string) string {
	if !strings.ContainsAny(s, "=+-@\t\r") {
		return s
	}
	var b strings.Builder
	begins := true // a cell may begin here
	for _, r := range s {
		if begins && strings.ContainsRune(starts, r) {
			b.WriteByte('\'')
			begins = false
		}
		b.WriteRune(r)
		switch {
		case strings.ContainsRune(separators, r):
			begins = true
		case r != ' ' && r != '"':
			begins = false
		}
	}
	return b.String()
}

// Bare returns a guarded text without the apostrophe at its start. Those within it
// stay: they cannot be told from the text's own.
func Bare(s string) string {
	if len(s) > 1 && s[0] == '\'' && strings.IndexByte(starts, s[1]) >= 0 {
		return s[1:]
	}
	return s
}
