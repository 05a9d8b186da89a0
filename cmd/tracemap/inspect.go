package main

import (
	"cmp"
	"context"
	"time"

	"tracemap/export"
	"tracemap/internal/survey"
	"tracemap/result"
)

const inspectHelp = `Usage: tracemap inspect [flags] FILE...

Tells what is in these logs and whether they are good enough for a map. Writes
no map. One kind of log alone may be given. FILE is as for convert.
`

const inspectExample = `  tracemap inspect rover.nmea readings.csv
`

func runInspect(ctx context.Context, c *console, args []string) error {
	started := time.Now()
	var f dayFlags
	asJSON := false
	fs := newFlags("inspect")
	f.register(fs)
	fs.BoolVar(&asJSON, "json", false, "print the summary as JSON, with lines empty")
	if err := parse(c, fs, args, inspectHelp, inspectExample); err != nil {
		return err
	}
	opt, err := f.options(fs)
	if err != nil {
		return err
	}
	opt.Progress = c.progress
	in, err := openInputs(ctx, c, "inspect", fs.Args())
	if err != nil {
		return err
	}
	day, refusal := survey.Inspect(ctx, in, opt)
	if day == nil {
		return refusal
	}
	summary := day.Summary()
	for _, w := range summary.Warnings {
		c.warn(w)
	}
	if !asJSON {
		c.print(overview(day, summary))
		return cmp.Or(refusal, day.Fault())
	}
	summary.Elapsed = time.Since(started).Seconds()
	text, err := export.EncodeSummary(&result.Map{Summary: summary})
	if err != nil {
		return err
	}
	c.print(string(text))
	return cmp.Or(refusal, day.Fault())
}
