//go:build unix

package main

import (
	"os/signal"
	"syscall"
)

// ignoreSizeLimit makes a limit on the size of files (ulimit -f) an error of
// writing, as a full disk is, instead of the end of the process.
func ignoreSizeLimit() { signal.Ignore(syscall.SIGXFSZ) }
