package simulate

import (
	"math"
	"time"
)

// Day is an invented day: the truth, and what is needed to write the logs.
type Day struct {
	Scenario Scenario
	Lines    []*Line
	Tracks   []Track    // a session each, in order of time
	Readings []*Reading // in order of time
	Spells   []Spell    // outages, jumps, false fixes …, in order of time
	// Differences are what the owner's record says otherwise than the ground.
	Differences []Difference
	dug         []*Line
}

// Invent makes the day of a scenario. It costs memory for the track only: 2 MB
// an hour.
func Invent(s Scenario) *Day {
	d := &Day{Scenario: s, Lines: build(s)}
	rng := stream(s.Seed, "crew")
	for i := range min(s.Work.Potholes, len(d.Lines)) {
		d.dug = append(d.dug, d.Lines[i])
	}
	c := &crew{s: s, day: d, rng: rng, finder: newFinder(s, d.Lines)}
	c.work()
	d.Spells = spells(s, d)
	_, d.Differences = d.record()
	return d
}

// utc is the instant of a time since the scenario's start.
func (d *Day) utc(t float64) time.Time {
	return d.Scenario.Start.Add(time.Duration(math.Round(t * 1e9)))
}

// Stamp is the reading's time as the locator wrote it.
func (d *Day) Stamp(r *Reading) time.Time {
	c := d.Scenario.Clock
	t := r.Time + c.Offset + c.Drift*1e-6*r.Time
	if c.Step > 0 {
		n := t / c.Step
		if c.Cut {
			n = math.Floor(n)
		} else {
			n = math.Round(n)
		}
		t = n * c.Step
	}
	return d.utc(t)
}
