package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"tracemap/internal/outdir"
	"tracemap/testdata"
)

const demoHelp = `Usage: tracemap demo [flags] DIR

Writes an invented day with known truth into a new folder: a receiver's log, a
readings log, a record of what was built, and the truth. Everything in it is
invented; it is always the same day.
`

const demoExample = `  tracemap demo demo-day
`

func runDemo(ctx context.Context, c *console, args []string) error {
	fs := newFlags("demo")
	overwrite := fs.Bool("overwrite", false, "replace the folder if it exists")
	if err := parse(c, fs, args, demoHelp, demoExample); err != nil {
		return err
	}
	if fs.NArg() != 1 || fs.Arg(0) == "" {
		return &usageError{fmt.Sprintf("demo takes one folder, got %d", fs.NArg()), "tracemap demo DIR"}
	}
	dir := target{path: fs.Arg(0), opt: outdir.Options{Overwrite: *overwrite, Ours: isDemoFile}}
	if err := checkTarget(c, dir); err != nil {
		return err
	}
	if err := write(ctx, c, dir, writeDemo); err != nil {
		return err
	}
	c.print(fmt.Sprintf("%s holds an invented day. Make its map with:\n  tracemap convert %s %s -o %s\n", dir.path,
		filepath.Join(dir.path, "day.nmea"), filepath.Join(dir.path, "readings.csv"), dir.path+"-map"))
	return nil
}

// writeDemo writes the demo's files into an existing folder.
func writeDemo(dir string) error {
	for _, name := range demoFiles {
		b, err := testdata.Demo.ReadFile("demo/" + name)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o666); err != nil {
			return err
		}
	}
	return nil
}

// demoFiles are the files of the demo's folder.
var demoFiles = []string{"day.nmea", "readings.csv", "as-built.geojson", "truth.json", "README.about"}

func isDemoFile(name string) bool { return slices.Contains(demoFiles, name) }
