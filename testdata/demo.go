// Package testdata holds the invented day that the program gives away.
package testdata

import "embed"

// Demo is the folder demo: an invented day's logs, record and truth, as
// internal/lab/simulate wrote them.
//
//go:embed demo
var Demo embed.FS
