package main

import (
	"context"
	"fmt"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"tracemap/export"
	"tracemap/internal/outdir"
	"tracemap/internal/survey"
)

const convertHelp = `Usage: tracemap convert [flags] FILE...
       tracemap convert [flags] FOLDER...

Turns a day's logs into map files: lines with their 95 % uncertainty width.
FILE is a receiver's NMEA log or a locator's readings log (CSV), in any order
and number, plain or gzip; the kind is told from the content. - is standard
input. The output folder appears whole or not at all.

FOLDER holds the files of one day. Of several, each becomes a map of its own, in
a folder of its name in DIR; a day that fails is told and does not stop the rest.
`

const convertExample = `  tracemap convert rover.nmea readings.csv -o site-map --antenna-height 1.80
  tracemap convert 2026-05-11 2026-05-12 2026-05-13 -o maps
`

// convertFlags are the flags of convert beside those of the day.
type convertFlags struct {
	day       dayFlags
	out       string
	overwrite bool
	format    string
	crs       string
	grid      string
	json      bool
}

func runConvert(ctx context.Context, c *console, args []string) error {
	var f convertFlags
	fs := newFlags("convert")
	fs.StringVarP(&f.out, "out", "o", "", "`DIR` output folder; the first readings file's name, or the folder's, with -map when not given")
	fs.BoolVar(&f.overwrite, "overwrite", false, "replace the output folder if it exists")
	fs.StringVar(&f.format, "format", strings.Join(export.Default, ","), "`LIST` any of "+strings.Join(export.Names(), ","))
	fs.StringVar(&f.crs, "crs", "EPSG:4326", dayUsage("crs"))
	fs.StringVar(&f.grid, "grid", "", "`FILE` correction grid (NTv2, .gsb) of the datum of --crs, where that needs one: EPSG:27700, 28992, 31467, 31370, 21781 and others")
	f.day.register(fs)
	fs.StringVar(&f.day.opt.Scheme, "scheme", "none", dayUsage("scheme"))
	fs.StringVar(&f.day.opt.Job, "job", "", dayUsage("job"))
	fs.StringVar(&f.day.opt.Operator, "operator", "", dayUsage("operator"))
	fs.StringVar(&f.day.opt.Instrument, "instrument", "", dayUsage("instrument"))
	fs.StringVar(&f.day.opt.Note, "note", "", dayUsage("note"))
	fs.BoolVar(&f.json, "json", false, "print the summary as JSON")
	if err := parse(c, fs, args, convertHelp, convertExample); err != nil {
		return err
	}
	if fs.Changed("out") && f.out == "" {
		return &usageError{"the output folder has an empty name", "write -o DIR"}
	}
	opt, err := f.day.options(fs)
	if err != nil {
		return err
	}
	if opt.Formats, err = survey.ParseFormats(f.format); err != nil {
		return &usageError{err.Error(), "write --format geojson,csv, say"}
	}
	grid, err := survey.ReadGrid(f.grid)
	if err != nil {
		return &usageError{err.Error(), "--grid takes a file of the format NTv2 (.gsb), as national mapping agencies publish them"}
	}
	if opt.CRS, err = survey.ParseCRSOn(f.crs, grid); err != nil {
		return &usageError{err.Error(), "write --crs EPSG:25832, say"}
	}
	if !fs.Changed("crs") {
		opt.CRS = survey.FrameCRS(opt.Frame)
	} else {
		if err := survey.RefuseDegrees(opt.Formats, opt.CRS); err != nil {
			return &usageError{err.Error(), "name a map grid such as EPSG:25832, or leave --crs out for the zone of UTM that the day lies in"}
		}
	}
	if err := opt.Check(); err != nil {
		return &usageError{err.Error(), "--frame names the frame of the receiver's corrections, --crs the coordinate system of the map"}
	}
	opt.Progress = c.progress
	jobs, err := jobsOf(fs.Args(), f.out)
	if err != nil {
		return err
	}
	return convertAll(ctx, c, jobs, opt, &f)
}

// collectOften keeps memory small. Most of what a day holds is long rows of numbers,
// which cost a collection nothing to look through; whoever sets GOGC knows better.
func collectOften() {
	const percent = 20 // of what is in use may become waste
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(percent)
	}
}

// convertDay makes the map of one day.
func convertDay(ctx context.Context, c *console, j job, opt survey.Options, f *convertFlags) error {
	started := time.Now()
	collectOften()
	day, dir, err := compute(ctx, c, j, opt, f)
	if err != nil {
		return err
	}
	m := day.Map()
	m.Summary.Elapsed = time.Since(started).Seconds()
	c.progress("writing", 0, 0)
	err = write(ctx, c, dir, func(path string) error {
		return day.Write(ctx, path, m)
	})
	if err != nil {
		return err
	}
	for _, w := range m.Summary.Warnings {
		c.warn(j.prefix() + w)
	}
	if !f.json {
		c.print(resultText(m, dir.path))
		return day.Fault()
	}
	text, err := export.EncodeSummary(m)
	if err != nil {
		return err
	}
	c.print(string(text))
	return day.Fault()
}

// compute reads the files and works out the day. The output folder is checked
// before the work: a refusal should cost no time.
func compute(ctx context.Context, c *console, j job, opt survey.Options, f *convertFlags) (*survey.Day, target, error) {
	in, err := openInputs(ctx, c, "convert", j.files)
	if err != nil {
		return nil, target{}, err
	}
	dir := target{path: j.out, opt: outdir.Options{Overwrite: f.overwrite, Inputs: j.files, Ours: survey.Ours}}
	if dir.path == "" {
		dir.path = in.DefaultOut()
	}
	if in.FirstReadings() != "" { // else Run refuses
		if err := checkTarget(c, dir); err != nil {
			return nil, target{}, err
		}
	}
	day, err := survey.Run(ctx, in, opt)
	return day, dir, err
}

// openInputs opens the files of a command line.
func openInputs(ctx context.Context, c *console, verb string, files []string) (*survey.Inputs, error) {
	if len(files) == 0 {
		return nil, &usageError{"no file given", fmt.Sprintf("tracemap %s rover.nmea readings.csv", verb)}
	}
	if i := slices.Index(files, "-"); i >= 0 && slices.Contains(files[i+1:], "-") {
		return nil, &usageError{"standard input (-) is given twice", "it can be read once: give - once"}
	}
	sources, warnings, err := survey.Paths(files, c.in)
	if err != nil {
		return nil, err
	}
	for _, w := range warnings {
		c.warn(w)
	}
	return survey.Open(ctx, sources)
}
