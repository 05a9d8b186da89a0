package main

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/internal/lab/score"
	"tracemap/internal/survey"
)

// A day is what one invented day came to.
type day struct {
	Preset preset
	Seed   uint64
	Traits traits
	Score  *score.Score
	Clock  string // state of the clock, as told; of several, of the one known least
	// Refused says why the day gave no map; nil when it gave one.
	Refused error
}

// errCrash says that the program under test broke down on a day. The other days
// are measured all the same; the command then fails.
var errCrash = errors.New("the program crashed")

// judge invents a day, converts it and scores it.
func judge(ctx context.Context, p preset, seed uint64, knownClock bool, spent *stopwatch) (*day, error) {
	lap := spent.start("inventing the day")
	defer lap("")
	invented := p.invent(seed)
	if knownClock {
		invented.tellClock()
	}
	out := &day{Preset: p, Seed: seed, Traits: invented.traits}
	located, err := convert(ctx, invented, lap)
	lap("scoring")
	switch {
	case errors.Is(err, survey.ErrNoMap), errors.Is(err, errCrash):
		// All that was there to be found is missing from the map.
		out.Refused = err
		out.Score = score.Judge(invented.truth, &fuse.Result{Plane: geodesy.NewLocal(invented.truth.Origin)}, nil)
	case err != nil:
		return nil, fmt.Errorf("%v seed %d: %w", p, seed, err)
	default:
		out.Score = score.Judge(invented.truth, located.Located, located.Clock)
		out.Score.Receiver(invented.truth, located.Track)
		out.Clock = located.Clock.Worst().State.String()
	}
	return out, nil
}

// convert makes a map of the day's two logs as the command would. lap is told
// each stage as it begins.
func convert(ctx context.Context, d *invented, lap func(stage string)) (_ *survey.Day, err error) {
	defer func() { // which day it was is what its finder needs first
		if p := recover(); p != nil {
			err = fmt.Errorf("%w: %v\n%s", errCrash, p, debug.Stack())
		}
	}()
	lap("telling the inputs")
	in, err := survey.Open(ctx, d.logs)
	if err != nil {
		return nil, err
	}
	opt := d.opt
	opt.Progress = func(stage string, _, _ int64) { lap(stage) }
	return survey.Run(ctx, in, opt)
}
