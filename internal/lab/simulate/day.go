package simulate

import (
	"math"
	"slices"
	"strconv"
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
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
	d.surveyed()
	d.Spells = spells(s, d)
	if s.Log.Own != OwnNone {
		d.ownPositions()
	}
	_, d.Differences = d.record()
	return d
}

// surveyed notes how far each line was worked, and leaves out lines that were
// never reached.
func (d *Day) surveyed() {
	for _, l := range d.Lines {
		l.Surveyed = Range{math.Inf(1), math.Inf(-1)}
	}
	for _, r := range d.Readings {
		if r.Line != nil && r.Feature == "" && !r.Lock {
			r.Line.Surveyed[0] = min(r.Line.Surveyed[0], r.Station)
			r.Line.Surveyed[1] = max(r.Line.Surveyed[1], r.Station)
		}
	}
	d.Lines = slices.DeleteFunc(d.Lines, func(l *Line) bool { return l.Surveyed[0] > l.Surveyed[1] })
}

// ownPositions gives the readings positions of their own: of the same receiver
// at the nearest epoch, or of a phone, whose error is metres and lasts minutes.
func (d *Day) ownPositions() {
	rng := stream(d.Scenario.Seed, "own")
	p := geodesy.NewLocal(d.Scenario.Origin)
	phone := [2]process{newMarkov(150, rng), newMarkov(150, rng)}
	var last float64
	next := 0
	for e := range d.Epochs() {
		for next < len(d.Readings) && d.Readings[next].Time < e.Time+0.5/float64(d.Scenario.GNSS.Rate) {
			r := d.Readings[next]
			next++
			if d.Scenario.Log.Own == OwnReceiver {
				if e.Quality != qNone {
					r.Own, r.OwnHDOP, r.OwnFix = e.Geo, e.Told*e.HDOP, strconv.Itoa(e.Quality)
				}
				continue
			}
			const sigma = 2.5 // m an axis: a phone among houses; common practice, no source
			at := plane.Pt{E: phone[0].step(r.Time - last), N: phone[1].step(r.Time - last)}.Mul(sigma).Add(r.At)
			last = r.Time
			r.Own, r.OwnHDOP, r.OwnFix = p.Inverse(at), 1.2, strconv.Itoa(qAutonomous)
		}
	}
}

// Marks are the notes of UTC against the locator's clock, as the operator took
// them.
func (d *Day) Marks() (locator, utc []time.Time) {
	for _, r := range d.Readings {
		if r.Feature == "sync" {
			locator, utc = append(locator, d.Stamp(r)), append(utc, d.utc(r.Time))
		}
	}
	return locator, utc
}

// utc is the instant of a time since the scenario's start.
func (d *Day) utc(t float64) time.Time {
	return d.Scenario.Start.Add(time.Duration(math.Round(t * 1e9)))
}

// bySecond reports whether the second locator took a reading.
func (d *Day) bySecond(r *Reading) bool {
	return d.Scenario.Second != nil && slices.Index(d.Lines, r.Line)%2 == 1
}

// Stamp is the reading's time as the locator wrote it.
func (d *Day) Stamp(r *Reading) time.Time {
	c := d.Scenario.Clock
	if d.bySecond(r) {
		c = *d.Scenario.Second
	}
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
