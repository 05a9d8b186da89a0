package clock_test

import (
	"bytes"
	"context"
	"math"
	"sync"
	"testing"
	"time"

	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/internal/lab/simulate"
	"tracemap/nmea"
	"tracemap/readings"
)

var nan = math.NaN()

// A worked day is an invented one with its track and its readings as read from
// its logs.
type worked struct {
	day    *simulate.Day
	epochs []nmea.Epoch
	tr     *track.Track
	rs     []readings.Reading
}

func workedDay(t testing.TB, preset string, seed uint64) worked {
	t.Helper()
	p, ok := simulate.Named(preset)
	if !ok {
		t.Fatalf("no preset %s", preset)
	}
	return workedOut(t, p.Scenario(seed))
}

func workedOut(t testing.TB, s simulate.Scenario) worked {
	t.Helper()
	d := simulate.Invent(s)
	var a, b bytes.Buffer
	if _, err := d.WriteNMEA(&a); err != nil {
		t.Fatal(err)
	}
	if err := d.WriteReadings(&b); err != nil {
		t.Fatal(err)
	}
	log, err := nmea.Read(context.Background(), []nmea.Source{{Name: "day.nmea", R: &a}}, nmea.Options{})
	if err != nil {
		t.Fatal(err)
	}
	rs, err := readings.Read(context.Background(), []readings.Source{{Name: "day.csv", R: &b}}, readings.Options{})
	if err != nil {
		t.Fatal(err)
	}
	tr, err := track.Build(context.Background(), log.Epochs)
	if err != nil {
		t.Fatal(err)
	}
	return worked{d, log.Epochs, tr, rs.Readings}
}

func (w *worked) align(t testing.TB, opt clock.Options) *clock.Result {
	t.Helper()
	r, err := clock.Align(context.Background(), w.tr, w.rs, opt)
	if err != nil {
		t.Fatalf("%s seed %d: %v", w.day.Scenario.Name, w.day.Scenario.Seed, err)
	}
	return r
}

// errorOf is by how much the times found are late, s: the mean over the readings
// and the worst.
func (w *worked) errorOf(r *clock.Result) (mean, worst float64) {
	for _, x := range w.day.Readings {
		e := r.UTC(w.day.Stamp(x)).Sub(w.day.Scenario.Start).Seconds() - x.Time
		mean += e / float64(len(w.day.Readings))
		worst = max(worst, math.Abs(e))
	}
	return mean, worst
}

// aligned makes and aligns n days of a preset, side by side; the seeds are apart
// from those that accuracy is measured on.
func aligned(t testing.TB, preset string, n int) ([]worked, []*clock.Result) {
	t.Helper()
	if testing.Short() {
		t.Skip("many days of one kind, a matter of numbers: left to the run without the race detector")
	}
	days, results := make([]worked, n), make([]*clock.Result, n)
	var wait sync.WaitGroup
	lanes := make(chan struct{}, 4) // days in memory at a time
	for k := range n {
		wait.Go(func() {
			lanes <- struct{}{}
			defer func() { <-lanes }()
			days[k] = workedDay(t, preset, uint64(8_000_000+k))
			results[k] = days[k].align(t, clock.Options{})
			days[k].epochs, days[k].tr, days[k].rs = nil, nil, nil
		})
	}
	wait.Wait()
	return days, results
}

// bare is a reading with a time and nothing else.
func bare(at time.Time) readings.Reading {
	return readings.Reading{
		Time: at, Line: "W1", Method: readings.Direct, Frequency: nan, Depth: nan, Current: nan, Signal: nan, Gain: nan,
		Compass: nan, NullOffset: nan, BottomCoil: nan, TopCoil: nan, CoilSpacing: nan, CoilDepth: nan, CoilCurrent: nan,
		Diameter: nan, MeasuredDepth: nan, Lat: nan, Lon: nan, HDOP: nan,
	}
}
