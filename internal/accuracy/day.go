package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
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

// judge invents a day, converts its logs as the command would, and scores it.
func judge(ctx context.Context, p simulate.Preset, seed uint64, knownClock bool, spent *stopwatch) (*day, error) {
	lap := spent.start("inventing the day")
	invented := simulate.Invent(p.Scenario(seed))
	lap("writing the logs")
	sources, err := logs(invented)
	if err != nil {
		return nil, err
	}
	opt := options(invented, knownClock)
	opt.Progress = func(stage string, _, _ int64) { lap(stage) }
	lap("telling the inputs")
	out := &day{Preset: p.Name, Seed: seed, Scenario: invented.Scenario}
	in, err := survey.Open(ctx, sources)
	if err != nil {
		return nil, err
	}
	located, err := survey.Run(ctx, in, opt)
	lap("scoring")
	defer lap("")
	switch {
	case errors.Is(err, survey.ErrNoMap):
		// All that was there to be found is missing from the map.
		out.Refused = err
		out.Score = score.Judge(invented, &fuse.Result{Plane: geodesy.NewLocal(invented.Scenario.Origin)}, nil)
	case err != nil:
		return nil, fmt.Errorf("%s seed %d: %w", p.Name, seed, err)
	default:
		out.Score = score.Judge(invented, located.Located, located.Clock)
	}
	return out, nil
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
