package main

import (
	"context"
	"fmt"
	"runtime"

	"tracemap/internal/survey"
)

// revision is the source's commit, set by the linker in releases.
var revision string

func runVersion(_ context.Context, c *console, args []string) error {
	fs := newFlags("version")
	if err := parse(c, fs, args, "Usage: tracemap version\n\nPrints the version.\n", "  tracemap version\n"); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		return &usageError{fmt.Sprintf("version takes no argument, got %q", fs.Arg(0)), "tracemap version"}
	}
	built := fmt.Sprintf("%s, %s/%s", runtime.Version(), runtime.GOOS, runtime.GOARCH)
	if revision != "" {
		built = "revision " + revision + ", " + built
	}
	c.print(fmt.Sprintf("%s (%s)\n", survey.Tool, built))
	return nil
}
