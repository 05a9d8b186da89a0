package main

import (
	"context"
	"fmt"
	"runtime"

	"tracemap/internal/survey"
)

func runVersion(_ context.Context, c *console, args []string) error {
	fs := newFlags("version")
	if err := parse(c, fs, args, "Usage: tracemap version\n\nPrints the version.\n", "  tracemap version\n"); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		return &usageError{fmt.Sprintf("version takes no argument, got %q", fs.Arg(0)), "tracemap version"}
	}
	c.print(fmt.Sprintf("%s (%s, %s/%s)\n", survey.Tool, runtime.Version(), runtime.GOOS, runtime.GOARCH))
	return nil
}
