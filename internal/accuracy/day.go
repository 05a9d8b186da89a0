package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"time"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/geodesy"
	"tracemap/internal/score"
	"tracemap/internal/simulate"
	"tracemap/internal/survey"
)

// A day is what one invented day came to.
type day struct {
	Preset   string
	Seed     uint64
	Scenario simulate.Scenario
	Score    *score.Score
	Refused  error // why the day gave no map; nil when it gave one
}

// errCrash says that the program under test broke down on a day. The other days
// are measured all the same; the command then fails.
var errCrash = errors.New("the program crashed")

// judge invents a day, converts it and scores it.
func judge(ctx context.Context, p simulate.Preset, seed uint64, knownClock bool, spent *stopwatch) (*day, error) {
	lap := spent.start("inventing the day")
	defer lap("")
	invented := simulate.Invent(p.Scenario(seed))
	out := &day{Preset: p.Name, Seed: seed, Scenario: invented.Scenario}
	located, err := convert(ctx, invented, knownClock, lap)
	lap("scoring")
	switch {
	case errors.Is(err, survey.ErrNoMap), errors.Is(err, errCrash):
		// All that was there to be found is missing from the map.
		out.Refused = err
		out.Score = score.Judge(invented, &fuse.Result{Plane: geodesy.NewLocal(invented.Scenario.Origin)}, nil)
	case err != nil:
		return nil, fmt.Errorf("preset %s seed %d: %w", p.Name, seed, err)
	default:
		out.Score = score.Judge(invented, located.Located, located.Clock)
	}
	return out, nil
}

// convert makes a map of the day's two logs as the command would. lap is told
// each stage as it begins.
func convert(ctx context.Context, d *simulate.Day, knownClock bool, lap func(stage string)) (_ *survey.Day, err error) {
	defer func() { // which day it was is what its finder needs first
		if p := recover(); p != nil {
			err = fmt.Errorf("%w: %v\n%s", errCrash, p, debug.Stack())
		}
	}()
	lap("writing the logs")
	sources, err := logs(d)
	if err != nil {
		return nil, err
	}
	lap("telling the inputs")
	in, err := survey.Open(ctx, sources)
	if err != nil {
		return nil, err
	}
	opt := options(d, knownClock)
	opt.Progress = func(stage string, _, _ int64) { lap(stage) }
	return survey.Run(ctx, in, opt)
}

// logs writes the two logs into memory.
func logs(d *simulate.Day) ([]survey.Source, error) {
	var log, readings bytes.Buffer
	if _, err := d.WriteNMEA(&log); err != nil {
		return nil, err
	}
	if err := d.WriteReadings(&readings); err != nil {
		return nil, err
	}
	return []survey.Source{source("day.nmea", log.Bytes()), source("readings.csv", readings.Bytes())}, nil
}

func source(name string, b []byte) survey.Source {
	return survey.Source{
		Name: name, Size: int64(len(b)),
		Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(b)), nil },
	}
}

// options are what the crew would say on the command line: how the antenna
// stands, and their notes of UTC if they took any.
func options(d *simulate.Day, knownClock bool) survey.Options {
	opt := survey.DefaultOptions()
	m := d.Scenario.Mount
	opt.Fuse.AntennaHeight, opt.Fuse.HeightAssumed = m.Height, false
	opt.Fuse.AntennaForward, opt.Fuse.AntennaRight = m.Forward, m.Right
	if knownClock {
		opt.Clock = clock.Options{Mode: clock.Given, Offset: meanOffset(d)}
		return opt
	}
	locator, utc := d.Marks()
	for i := range locator {
		opt.Clock.Marks = append(opt.Clock.Marks, clock.Mark{Locator: locator[i], UTC: utc[i]})
	}
	return opt
}

// meanOffset is the true offset of the locator's clock, averaged over the
// readings.
func meanOffset(d *simulate.Day) time.Duration {
	var sum float64
	for _, r := range d.Readings {
		sum += d.Stamp(r).Sub(d.Scenario.Start).Seconds() - r.Time
	}
	return time.Duration(sum / float64(len(d.Readings)) * float64(time.Second))
}
