// Command tracemap turns a receiver's log and a locator's readings log into
// map files of buried utility lines with their uncertainty widths.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"strings"
	"syscall"
	_ "time/tzdata" // --zone must work on machines without a zone database

	"tracemap/internal/parallel"
	"tracemap/internal/survey"
)

// Exit statuses; scripts rely on them.
const (
	statusDone        = 0
	statusFailed      = 1 // input or output, or a defect
	statusUsage       = 2
	statusNoMap       = 3 // the input cannot give a map
	statusInterrupted = 130
)

func main() {
	ignoreSizeLimit()
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run does what the arguments say and gives the exit status. It is the only
// place where an error becomes a status.
func run(args []string, in io.Reader, out, err io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second interrupt ends the process at once
	c := newConsole(in, out, err)
	failure := parallel.Catch("tracemap", func() error { return dispatch(ctx, c, args) })
	c.endProgress()
	if failure == nil || errors.Is(failure, errHelped) {
		failure = c.unsaid
	}
	if failure == nil {
		return statusDone
	}
	var keeps keptError
	if ctx.Err() != nil && !errors.As(failure, &keeps) {
		var some *cutShort
		if !errors.As(failure, &some) {
			failure = errors.New("interrupted; nothing was written")
		}
		c.fail(failure)
		return statusInterrupted
	}
	c.fail(withReport(failure))
	var usage *usageError
	switch {
	case errors.As(failure, &usage):
		return statusUsage
	case errors.Is(failure, survey.ErrNoMap):
		return statusNoMap
	}
	return statusFailed
}

// dispatch finds the verb and runs it.
func dispatch(ctx context.Context, c *console, args []string) error {
	c.verbs = verbs
	if len(args) == 0 {
		return &usageError{"no command given", "tracemap --help lists the commands"}
	}
	name, rest := args[0], args[1:]
	switch name {
	case "-h", "--help":
		c.print(help())
		return nil
	case "help":
		if len(rest) == 0 {
			c.print(help())
			return nil
		}
		name, rest = rest[0], []string{"--help"}
	case "--version":
		name = "version"
	}
	for _, v := range verbs {
		if v.name == name {
			return v.run(ctx, c, rest)
		}
	}
	if strings.HasPrefix(name, "-") {
		return &usageError{fmt.Sprintf("flag %s before the verb", name), "write tracemap VERB [flags] FILE...; tracemap --help lists the verbs"}
	}
	if _, err := os.Stat(name); err == nil {
		return &usageError{fmt.Sprintf("%q is a file, not a verb", name), "write tracemap convert " + strings.Join(args, " ")}
	}
	return &usageError{fmt.Sprintf("unknown command %q", name), "tracemap --help lists the commands"}
}

// withReport writes what is known of a defect into a file of its own and says where
// it is; other errors stay as they are.
func withReport(failure error) error {
	var fault *parallel.Fault
	if !errors.As(failure, &fault) {
		return failure
	}
	f, err := os.CreateTemp("", "tracemap-fault-*.txt")
	if err != nil {
		return fmt.Errorf("%w; no report of it could be written: %v", failure, err)
	}
	_, err = fmt.Fprintf(f, "%s, %s, %s/%s\n%s", survey.Tool, runtime.Version(), runtime.GOOS, runtime.GOARCH, fault.Report())
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("%w; no report of it could be written: %v", failure, err)
	}
	return fmt.Errorf("%w; please report it, with the file %s", failure, f.Name())
}
