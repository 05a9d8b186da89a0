package survey

import (
	"cmp"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"tracemap/export"
	"tracemap/fuse/clock"
	"tracemap/grade"
	"tracemap/remarks"
	"tracemap/result"
)

// Map gives the day as export writes it. It may be asked of a day of Run only.
func (d *Day) Map() *result.Map {
	m := &result.Map{
		Lines:    d.Located.Lines,
		Points:   d.Located.Points,
		Readings: d.Located.Readings,
		Aside:    d.Readings.Aside,
		Revisit:  d.Revisit(),
		Meta:     d.meta(),
		Clock:    d.Clock,
		Summary:  d.Summary(),
		Fixes:    d.fixes(),
		Place:    d.Located.Plane,
		Geoid:    d.geoid(),

		Throughout: result.FlagsThroughout(d.Located.Lines),
	}
	m.Scheme, _ = grade.Lookup(d.opt.Scheme) // Options.Check has looked it up
	m.Summary.Lines = export.Summaries(m)
	return m
}

func (d *Day) meta() result.Meta {
	o := &d.opt
	meta := result.Meta{
		Tool: Tool, Title: o.Title, Job: o.Job, Operator: o.Operator, Instrument: o.Instrument, Note: o.Note,
		Frame: d.Moved.To.String(), Epoch: d.Moved.Epoch, Scheme: o.Scheme, Source: d.source(), Imperial: o.Imperial,
	}
	meta.Title = cmp.Or(meta.Title, meta.Job, baseName(d.inputs.FirstReadings()))
	meta.From, meta.To = d.span(func(i int, t time.Time) time.Time {
		if cl := d.Clock.Of(i); cl != nil {
			return cl.UTC(t)
		}
		return time.Time{}
	})
	return meta
}

// source joins the inputs' names, receiver's logs first, in alphabetical order,
// so that the order on the command line leaves no trace. Their folders are
// nobody's business.
func (d *Day) source() string {
	var out []string
	for _, inputs := range [][]*input{d.inputs.receiver(), d.inputs.of(Readings)} {
		var names []string
		for _, i := range inputs {
			names = append(names, filepath.Base(i.Name))
		}
		slices.Sort(names)
		out = append(out, names...)
	}
	return strings.Join(out, ", ")
}

// baseName is a file's name without folder, extension and .gz.
func baseName(path string) string {
	if path == "-" {
		return "stdin"
	}
	name := strings.TrimSuffix(filepath.Base(path), ".gz")
	if bare := strings.TrimSuffix(name, filepath.Ext(name)); bare != "" {
		return bare
	}
	return name
}

// DefaultOut is the folder to write to when none was named.
func (in *Inputs) DefaultOut() string { return baseName(in.FirstReadings()) + "-map" }

// Summary counts the stages that were reached; Lines is empty.
func (d *Day) Summary() *result.Summary {
	v := d.verdict()
	return &result.Summary{
		Verdict: &v, Tool: Tool, Inputs: d.inputCounts(), GNSS: d.gnssCounts(), Clock: d.clockSummary(), Clocks: d.clocks(), Frame: d.frameSummary(), CRS: d.crsSummary(), Readings: d.readingCounts(),
		Lines: []result.PartSummary{}, Warnings: d.Warnings(),
	}
}

// sourceOf is the file of a reading whose table is one of several in it.
func sourceOf(file string) string {
	if at := strings.LastIndex(file, " ["); at > 0 && strings.HasSuffix(file, "]") {
		return file[:at]
	}
	return file
}

func (d *Day) inputCounts() []result.Input {
	rows, lines := map[string]int{}, map[string]int{}
	if d.NMEA != nil {
		for _, f := range d.NMEA.Files {
			lines[f.Name] += int(f.Lines)
		}
	}
	if d.Readings != nil {
		for i := range d.Readings.Readings {
			rows[sourceOf(d.Readings.Readings[i].File)]++
		}
		for _, a := range d.Readings.Aside {
			rows[sourceOf(a.File)]++
		}
	}
	out := []result.Input{}
	for _, i := range d.inputs.list {
		if i.tap != nil {
			rows := rows
			if i.kind != Readings {
				rows = lines
			}
			out = append(out, result.Input{File: i.Name, SHA256: i.tap.sum(), Kind: string(i.kind), Rows: rows[i.Name]})
		}
	}
	return out
}

func (d *Day) gnssCounts() result.GNSS {
	if d.NMEA == nil {
		return result.GNSS{}
	}
	s := &d.NMEA.Stats
	g := result.GNSS{
		Sentences: s.Sentences, BadChecksum: s.BadChecksum, NoChecksum: s.NoChecksum, Malformed: s.Malformed,
		Epochs: s.Epochs, From: rfc3339(s.From), To: rfc3339(s.To), Fix: s.Fix,
	}
	for _, gap := range d.NMEA.Gaps {
		g.Gaps = append(g.Gaps, result.GapSummary{From: rfc3339(gap.From), To: rfc3339(gap.To), Seconds: gap.Seconds()})
	}
	return g
}

// fixes gives the stretches of the receiver's log with one kind of fix, cut
// where the log has a gap.
func (d *Day) fixes() []result.FixSpan {
	var out []result.FixSpan
	gaps := d.NMEA.Gaps
	for i := range d.NMEA.Epochs {
		e := &d.NMEA.Epochs[i]
		at := e.UTC()
		cut := len(gaps) > 0 && !at.Before(gaps[0].To)
		if cut {
			gaps = gaps[1:]
		}
		if n := len(out); n > 0 && !cut && out[n-1].Quality == e.Quality {
			out[n-1].To = at
			continue
		}
		out = append(out, result.FixSpan{From: at, To: at, Quality: e.Quality})
	}
	return out
}

func rfc3339(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02T15:04:05.999999999Z07:00")
}

func (d *Day) clockSummary() result.ClockSummary {
	if d.Clock == nil {
		nan := math.NaN()
		return result.ClockSummary{Offset: nan, Sigma: nan, Drift: nan, State: clock.Unknown.String(), WidthAdded: nan}
	}
	c := result.ClockSummary{
		Offset: d.Clock.Offset, Sigma: d.Clock.Sigma, Drift: d.Clock.Drift, Method: d.Clock.Method,
		State: d.Clock.State.String(), Determined: d.Clock.Determined, WidthAdded: math.NaN(),
	}
	if d.Located != nil {
		c.WidthAdded, _ = d.clockWidth()
	}
	if !math.IsNaN(d.Clock.RunnerUp) {
		c.RunnerUp = &d.Clock.RunnerUp
	}
	return c
}

// clocks lists the clocks of a day that has several; nil for one.
func (d *Day) clocks() []result.OwnClock {
	if d.Clock == nil {
		return nil
	}
	var out []result.OwnClock
	for _, own := range d.Clock.Several {
		c := result.OwnClock{Name: own.Name, From: rfc3339(own.From), To: rfc3339(own.To), Readings: own.Readings, Offset: math.NaN(), Sigma: math.NaN(), Drift: math.NaN(), State: clock.Unknown.String()}
		if own.Result != nil {
			c.Offset, c.Sigma, c.Drift, c.Method, c.State = own.Offset, own.Sigma, own.Drift, own.Method, own.State.String()
		}
		out = append(out, c)
	}
	return out
}

// readingCounts adds up: every row is placed or not, and a row that could not
// be read is not.
func (d *Day) readingCounts() result.ReadingCounts {
	c := result.ReadingCounts{ByFlag: map[string]int{}}
	if d.Readings == nil {
		return c
	}
	c.Total, c.Malformed = d.Readings.Rows, len(d.Readings.Aside)
	count := func(s remarks.Set) {
		for _, name := range s.Names() {
			c.ByFlag[name]++
		}
	}
	if c.Malformed > 0 {
		c.ByFlag[remarks.BadRow.String()] = c.Malformed
	}
	if d.Located == nil {
		for i := range d.Readings.Readings {
			count(d.Readings.Readings[i].Flags)
		}
	} else {
		for i := range d.Located.Readings {
			count(d.Located.Readings[i].Flags)
		}
		c.Placed = d.placed()
	}
	c.Unplaced = c.Total - c.Placed
	return c
}

// Warnings are what a person should know before relying on the map, each once,
// in the order of the stages.
func (d *Day) Warnings() []string {
	all := slices.Clone(d.notes)
	if d.Readings != nil {
		all = append(all, d.Readings.Warnings...)
		all = append(all, asideWarnings(d.Readings.Aside)...)
		all = append(all, d.gridWarning()...)
	}
	if d.NMEA != nil {
		all = append(all, d.NMEA.Warnings...)
		all = append(all, d.frameWarnings()...)
		all = append(all, d.crsWarnings()...)
	}
	if d.Located != nil {
		all = append(all, d.severalClocks()...)
		all = append(all, d.clockWarnings()...)
		all = append(all, d.gridWarnings()...)
		all = append(all, d.antennaWarnings()...)
		all = append(all, d.timeStepWarnings()...)
		all = append(all, d.unplacedWarnings()...)
		all = append(all, d.Located.Warnings...)
	}
	out := []string{}
	for _, w := range all {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}
