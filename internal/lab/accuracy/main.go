// Command accuracy measures how true the widths are: it invents many days,
// converts each through the same library as the command, scores the result
// against the truth and prints a table with the goals beside it.
//
//	go run ./internal/lab/accuracy -seeds 20 -o docs/accuracy-table.txt
//	go run ./internal/lab/accuracy -presets rtk-bends,rtk-walk -against docs/accuracy-table.txt
//	go run ./internal/lab/accuracy -logs ../shared/nmea
//
// The table depends on the program and the seeds alone; what was slow is told on
// standard error. docs/accuracy.md explains every column.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"

	"tracemap/internal/lab/fieldlogs"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout, os.Stderr); err != nil {
		if err != flag.ErrHelp {
			fmt.Fprintln(os.Stderr, "accuracy:", err)
		}
		os.Exit(1)
	}
}

// An order is what the flags ask for.
type order struct {
	presets    []preset
	seeds      int
	first      uint64
	knownClock bool
	byDay      bool
	out        string
	against    string
	logs       string
}

func parse(args []string, stderr io.Writer) (*order, error) {
	var o order
	var names string
	fs := flag.NewFlagSet("accuracy", flag.ContinueOnError)
	fs.SetOutput(stderr)
	fs.IntVar(&o.seeds, "seeds", 20, "days a preset")
	fs.Uint64Var(&o.first, "first", 1, "first seed")
	fs.StringVar(&names, "presets", "", "presets, separated by commas; simulate or otherdays for all of one generator; all without")
	fs.BoolVar(&o.knownClock, "known-clock", false, "give the true clock offset instead of estimating it")
	fs.BoolVar(&o.byDay, "days", false, "a row a day instead of a row a preset")
	fs.StringVar(&o.out, "o", "", "write the table into this file as well")
	fs.StringVar(&o.against, "against", "", "print the change from a saved table as well")
	fs.StringVar(&o.logs, "logs", "", "instead of inventing days, measure the real receivers' logs in this folder")
	if err := fs.Parse(args); err != nil {
		return nil, err
	}
	if fs.NArg() > 0 {
		return nil, fmt.Errorf("%q is no flag", fs.Arg(0))
	}
	if o.seeds < 1 {
		return nil, fmt.Errorf("-seeds %d: must be at least 1", o.seeds)
	}
	o.presets = presets()
	if names != "" {
		o.presets = nil
		for _, n := range strings.Split(names, ",") {
			p := named(n)
			if len(p) == 0 {
				return nil, fmt.Errorf("no preset %q", n)
			}
			o.presets = append(o.presets, p...)
		}
	}
	return &o, nil
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	o, err := parse(args, stderr)
	if err != nil {
		return err
	}
	if o.logs != "" {
		return measureLogs(ctx, o.logs, stdout)
	}
	var before *saved
	if o.against != "" { // read first: -o may name the same file
		if before, err = load(o.against); err != nil {
			return err
		}
	}
	spent := &stopwatch{}
	days, err := measure(ctx, o, spent)
	if err != nil {
		return err
	}
	fmt.Fprint(stderr, spent)
	rows := table(o, days)
	text := head(o) + "\n\n" + render(rows) + renderGoals(days)
	fmt.Fprint(stdout, text)
	if before != nil {
		fmt.Fprintf(stdout, "\nchange from %s:\n", o.against)
		if before.head != head(o) {
			fmt.Fprintf(stdout, "beware, other days: %s\n", before.head)
		}
		fmt.Fprint(stdout, before.change(rows))
	}
	crashed := 0
	for _, d := range days {
		if d.Refused != nil {
			fmt.Fprintf(stderr, "no map: %v seed %d: %v\n", d.Preset, d.Seed, d.Refused)
		}
		if errors.Is(d.Refused, errCrash) {
			crashed++
		}
	}
	if crashed > 0 {
		return fmt.Errorf("%w on %d of %d days: nothing is saved", errCrash, crashed, len(days))
	}
	if o.out == "" {
		return nil
	}
	return os.WriteFile(o.out, []byte(text), 0o644)
}

// measureLogs prints what real logs say: docs/gnss-noise.md explains it.
func measureLogs(ctx context.Context, dir string, stdout io.Writer) error {
	noise, err := fieldlogs.Measure(ctx, dir)
	if err != nil {
		return err
	}
	laid, err := fieldlogs.Lay(ctx, dir)
	if err != nil {
		return err
	}
	jumps, err := fieldlogs.WalkedJumps(ctx, dir)
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%s\n%s\n%s", fieldlogs.RenderNoise(noise), fieldlogs.RenderLaid(laid), fieldlogs.RenderJumps(jumps))
	return nil
}

func head(o *order) string {
	clock := "clock estimated"
	if o.knownClock {
		clock = "clock given"
	}
	return fmt.Sprintf("%d presets, %d days each, seeds from %d, %s. Columns: docs/accuracy.md. ! = beyond the goal.",
		len(o.presets), o.seeds, o.first, clock)
}
