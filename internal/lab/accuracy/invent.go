package main

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"tracemap/fuse/clock"
	"tracemap/internal/lab/otherdays"
	"tracemap/internal/lab/score"
	"tracemap/internal/lab/simulate"
	"tracemap/internal/survey"
)

// A preset is a kind of day of one of the two generators.
type preset struct {
	generator string // simulated or other
	name      string
	invent    func(seed uint64) *invented
}

// The two generators of days, which know nothing of each other.
const (
	simulated = "simulate"
	other     = "otherdays"
)

// invented is a day before it is converted.
type invented struct {
	logs   []survey.Source
	opt    survey.Options // what the crew would say on the command line
	truth  *score.Truth
	traits traits
}

// traits are what goals and rows tell days apart by.
type traits struct {
	walked    bool // else stop-and-go
	returning bool // lines were walked a second time
	estimated bool // the clock must be found from the day's pattern
	fixed     bool // RTK fixed all day, but for spells that ail it
}

// presets lists all kinds of days, generator by generator.
func presets() []preset {
	var out []preset
	for _, p := range simulate.Presets() {
		out = append(out, preset{simulated, p.Name, func(seed uint64) *invented { return fromSimulated(simulate.Invent(p.Scenario(seed))) }})
	}
	for _, name := range otherdays.Kinds() {
		out = append(out, preset{other, name, func(seed uint64) *invented { return fromOther(name, seed) }})
	}
	return out
}

// named returns the presets that a name stands for: one, or all of a generator.
func named(name string) []preset {
	var out []preset
	for _, p := range presets() {
		if p.name == name || p.generator == name {
			out = append(out, p)
		}
	}
	return out
}

func fromSimulated(d *simulate.Day) *invented {
	var log, readings bytes.Buffer
	if _, err := d.WriteNMEA(&log); err != nil {
		panic(err) // a buffer takes what it gets
	}
	if err := d.WriteReadings(&readings); err != nil {
		panic(err)
	}
	opt := survey.DefaultOptions()
	m := d.Scenario.Mount
	opt.Fuse.AntennaHeight = m.Height
	opt.Fuse.AntennaForward, opt.Fuse.AntennaRight = m.Forward, m.Right
	locator, utc := d.Marks()
	for i := range locator {
		opt.Clock.Marks = append(opt.Clock.Marks, clock.Mark{Locator: locator[i], UTC: utc[i]})
	}
	return &invented{
		logs: sources(log.Bytes(), readings.Bytes()), opt: opt, truth: score.Simulated(d), traits: traitsOf(&d.Scenario),
	}
}

func traitsOf(s *simulate.Scenario) traits {
	walked := s.Work.Style == simulate.Walking
	return traits{
		walked: walked, returning: walked && s.Work.Returns != simulate.NoReturn,
		estimated: s.Log.Own == simulate.OwnNone && s.Work.Marks == 0, fixed: s.GNSS.Profile == simulate.RTKFixed,
	}
}

func fromOther(name string, seed uint64) *invented {
	d, err := otherdays.Make(name, seed)
	if err != nil {
		panic(err) // the names are the generator's own
	}
	opt := survey.DefaultOptions()
	opt.Fuse.AntennaHeight = d.Antenna
	return &invented{
		logs: sources(d.NMEA, d.Readings), opt: opt, truth: score.Other(d),
		traits: traits{walked: d.Walked, returning: d.Walked && d.Passes > 1, estimated: true, fixed: d.Fixed},
	}
}

func sources(log, readings []byte) []survey.Source {
	return []survey.Source{source("day.nmea", log), source("readings.csv", readings)}
}

func source(name string, b []byte) survey.Source {
	return survey.Source{
		Name: name, Size: int64(len(b)),
		Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(b)), nil },
	}
}

// tellClock adds the true offset of the locator's clock, averaged over the
// readings, to what the crew says.
func (d *invented) tellClock() {
	var sum float64
	for _, r := range d.truth.Rows {
		sum += r.Stamp.Sub(r.Time).Seconds()
	}
	mean := time.Duration(sum / float64(len(d.truth.Rows)) * float64(time.Second))
	d.opt.Clock = clock.Options{Mode: clock.Given, Offset: mean}
}

func (p preset) String() string { return fmt.Sprintf("%s %s", p.generator, p.name) }
