package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"golang.org/x/term"

	"tracemap/internal/record"
	"tracemap/internal/survey"
)

const recordHelp = `Usage: tracemap record [flags] SOURCE

Records a live receiver into hourly logs that convert reads. SOURCE is a serial
or Bluetooth port (/dev/ttyACM0, /dev/rfcomm0, COM5), tcp://host:port, or - for
standard input. Logs hold whole lines, are named by their UTC hour and are never
overwritten; a second after a line has come it is on the disk. A lost source is
opened again. Recording ends with q, with an interrupt, after --for, or with
standard input; ending it is no failure.

On a terminal: space makes a sync mark (press it just when the locator's clock
turns over, then type what it showed), n a note, q ends. Marks go into a file
beside the logs. The bell rings when the fix gets worse or stops.
`

const recordExample = `  tracemap record /dev/rfcomm0 -o today
  tracemap record tcp://192.168.42.1:9001 -o today --tee 5017
  tracemap convert today/*.nmea readings.csv
`

// recordFlags are the verb's flags as texts.
type recordFlags struct {
	out, name, baud, tee, expect, zone string
	span, silence                      time.Duration
	wait, noBell, json                 bool
}

// expectations are the words of --expect.
var expectations = []struct {
	word  string
	state record.State
}{
	{"best", record.StateUnknown},
	{"fixed", record.StateFixed},
	{"float", record.StateFloat},
	{"differential", record.StateDifferential},
	{"any", record.StateEstimated},
}

// A keptError ends a verb that keeps what it wrote, also when it is interrupted.
type keptError struct {
	text string
	kind error
}

func (e keptError) Error() string { return e.text }
func (e keptError) Unwrap() error { return e.kind }

func kept(err error) error { return keptError{err.Error(), err} }

func runRecord(ctx context.Context, c *console, args []string) error {
	fs := newFlags("record")
	var f recordFlags
	fs.StringVarP(&f.out, "out", "o", ".", "`DIR` folder for the logs; made if it is not there")
	fs.StringVar(&f.name, "name", "", "`NAME` that the files' names begin with, as rover")
	fs.StringVar(&f.baud, "baud", "auto", "`N` baud rate of a serial port; auto listens for it")
	fs.StringVar(&f.tee, "tee", "", "`ADDR` port on this machine where other programs may read along, as 5017 or 127.0.0.1:5017")
	fs.StringVar(&f.expect, "expect", "best", "`FIX` what is worth a bell when lost: fixed, float, differential, any; best is the best seen so far")
	fs.StringVar(&f.zone, "zone", "UTC", "`NAME` IANA zone of the locator's clock, for sync marks")
	fs.DurationVar(&f.span, "for", 0, "`D` end after this time, as 8h")
	fs.DurationVar(&f.silence, "silence", 15*time.Second, "`D` a source that says nothing for so long is opened again; 0 for never")
	fs.BoolVar(&f.wait, "wait", false, "wait for a source that is not there yet")
	fs.BoolVar(&f.noBell, "no-bell", false, "never ring the bell")
	fs.BoolVar(&f.json, "json", false, "print the summary as JSON")
	if err := parse(c, fs, args, recordHelp, recordExample); err != nil {
		return err
	}
	if fs.NArg() != 1 {
		return &usageError{fmt.Sprintf("record takes one source, got %d", fs.NArg()), "tracemap record SOURCE, where SOURCE is a port, tcp://host:port or -"}
	}
	opt, zone, err := f.options(c, fs.Arg(0))
	if err != nil {
		return err
	}
	if f.span > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, f.span)
		defer cancel()
	}
	sum, err := recordLive(ctx, c, opt, zone, !f.noBell)
	return f.report(c, sum, err)
}

// options reads the flags' texts and opens the port for other programs.
func (f *recordFlags) options(c *console, source string) (record.Options, *time.Location, error) {
	wrong := func(err error) (record.Options, *time.Location, error) {
		return record.Options{}, nil, &usageError{err.Error(), "tracemap record --help explains the flags"}
	}
	baud := 0
	if f.baud != "auto" {
		n, err := strconv.Atoi(f.baud)
		if err != nil || n < 300 || n > 4_000_000 {
			return wrong(fmt.Errorf("--baud %s: must be auto or a number from 300 to 4000000", f.baud))
		}
		baud = n
	}
	if f.name != filepath.Base(f.name) && f.name != "" || strings.HasPrefix(f.name, ".") || strings.ContainsAny(f.name, `/\:*?"<>|`) {
		return wrong(fmt.Errorf("--name %q: must be the beginning of a file's name", f.name))
	}
	if f.span < 0 || f.silence < 0 {
		return wrong(errors.New("--for and --silence must not be negative"))
	}
	zone, err := survey.ParseZone(f.zone)
	if err != nil {
		return wrong(err)
	}
	expect, ok := record.StateUnknown, false
	for _, e := range expectations {
		if e.word == f.expect {
			expect, ok = e.state, true
		}
	}
	if !ok {
		return wrong(fmt.Errorf("--expect %s: there are best, fixed, float, differential, any", f.expect))
	}
	if in, isFile := c.in.(*os.File); source == "-" && isFile && term.IsTerminal(int(in.Fd())) {
		return wrong(errors.New("standard input is the keyboard, not a receiver"))
	}
	src, err := record.NewSource(source, baud, c.in)
	if err != nil {
		return record.Options{}, nil, &usageError{err.Error(), sourceHint(source)}
	}
	opt := record.Options{Source: src, Dir: f.out, Silence: f.silence, Wait: f.wait, Expect: expect}
	if f.name != "" {
		opt.Prefix = f.name + "-"
	}
	if f.tee != "" {
		if opt.Tee, err = record.Listen(f.tee); err != nil {
			return wrong(fmt.Errorf("--tee %s: %w", f.tee, err))
		}
	}
	return opt, zone, nil
}

func sourceHint(source string) string {
	if info, err := os.Stat(source); err == nil && info.Mode().IsRegular() {
		return "a log that is there already: tracemap convert " + source
	}
	return "SOURCE is a serial or Bluetooth port, tcp://host:port, or - for standard input"
}

// recordLive records, with a line that shows the state and with keys where there
// is a terminal.
func recordLive(ctx context.Context, c *console, opt record.Options, zone *time.Location, bell bool) (record.Summary, error) {
	ctx, end := context.WithCancel(ctx)
	defer end()
	l := &live{console: c, source: opt.Source.Name, zone: zone, bell: bell, end: end}
	opt.Notify, opt.Show = l.notify, l.show
	l.rec = record.New(opt)
	in, ok := c.in.(*os.File)
	switch keyboard := ok && term.IsTerminal(int(in.Fd())); {
	case keyboard && !c.terminal:
		c.warn("no keys for marks: standard error is no terminal")
	case keyboard:
		restore, err := rawTerminal(c, in)
		if err != nil {
			c.warn(fmt.Sprintf("no keys: %v", err))
			break
		}
		defer restore()
		l.keys = true
		c.say("note", "36", "keys: space makes a sync mark, n a note, q ends")
		go l.readKeys(in)
	}
	sum, err := l.rec.Run(ctx)
	l.close()
	return sum, err
}

// rawTerminal makes single keys readable. Line ends then need a carriage return.
func rawTerminal(c *console, in *os.File) (restore func(), err error) {
	old, err := term.MakeRaw(int(in.Fd()))
	if err != nil {
		return nil, err
	}
	plain := c.err
	c.err = returning{plain}
	return func() {
		c.endProgress()
		c.err = plain
		term.Restore(int(in.Fd()), old)
	}, nil
}

// returning writes a carriage return before every line feed.
type returning struct{ io.Writer }

func (w returning) Write(b []byte) (int, error) {
	if _, err := io.WriteString(w.Writer, strings.ReplaceAll(string(b), "\n", "\r\n")); err != nil {
		return 0, err
	}
	return len(b), nil
}

// report prints what the recording came to.
func (f *recordFlags) report(c *console, sum record.Summary, err error) error {
	if errors.Is(err, record.ErrNotOpened) || err != nil && sum.Source == "" {
		return kept(err)
	}
	if f.json {
		text, jsonErr := json.MarshalIndent(sum, "", "  ")
		if jsonErr != nil {
			return jsonErr
		}
		c.print(string(text) + "\n")
	} else {
		c.print(summaryText(sum))
	}
	for _, text := range remarks(sum) {
		c.warn(text)
	}
	switch {
	case err != nil:
		return kept(err)
	case sum.Lines == 0:
		return keptError{fmt.Sprintf("no line came from %s: is the receiver switched on, and does it send NMEA on this port", sum.Source), survey.ErrNoMap}
	case sum.Sentences == 0:
		return keptError{fmt.Sprintf("no sentence with a right checksum came from %s: check the baud rate, and that the receiver sends NMEA on this port", sum.Source), survey.ErrNoMap}
	}
	return nil
}

// summaryText is the result for people: the files, the marks, and the command
// that goes on from there.
func summaryText(sum record.Summary) string {
	var b strings.Builder
	if len(sum.Files) == 0 {
		return ""
	}
	fmt.Fprintf(&b, "%d lines, %s", sum.Lines, size(sum.Bytes))
	if !sum.From.IsZero() {
		fmt.Fprintf(&b, ", %s to %s", sum.From.Format("2006-01-02T15:04:05Z"), sum.To.Format("2006-01-02T15:04:05Z"))
	}
	b.WriteString("\n")
	for _, path := range sum.Files {
		fmt.Fprintf(&b, "  %s\n", path)
	}
	if sum.MarksFile != "" {
		fmt.Fprintf(&b, "  %s (%d)\n", sum.MarksFile, sum.Marks)
	}
	fmt.Fprintf(&b, "Convert with:\n  tracemap convert %s readings.csv", strings.Join(sum.Files, " "))
	for _, mark := range sum.Syncs {
		b.WriteString(" --sync " + mark)
	}
	b.WriteString("\n")
	return b.String()
}

// remarks are what a person should know about a recording.
func remarks(sum record.Summary) []string {
	var out []string
	if sum.BadChecksum > 0 {
		out = append(out, fmt.Sprintf("%d lines have a wrong checksum and will not be used", sum.BadChecksum))
	}
	if sum.Opened > 1 {
		out = append(out, fmt.Sprintf("the connection was lost %d times", sum.Opened-1))
	}
	if sum.HalfLines > 0 {
		out = append(out, fmt.Sprintf("%d lines were dropped because their end never came (%d bytes)", sum.HalfLines, sum.HalfBytes))
	}
	if sum.ClockAhead != nil && (*sum.ClockAhead > 2 || *sum.ClockAhead < -2) {
		out = append(out, fmt.Sprintf("this machine's clock is %+.1f s off the receiver's UTC", *sum.ClockAhead))
	}
	return out
}

// size writes a number of bytes for people.
func size(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.1f GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	case n >= 1e3:
		return fmt.Sprintf("%.1f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%d bytes", n)
}
