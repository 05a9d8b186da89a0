package record

import (
	"bytes"
	"context"
	"math"
	"slices"
	"time"

	"tracemap/nmea"
)

const (
	// silentFor is the least time without a byte that counts as silence; slow
	// receivers get three of their own steps.
	silentFor = 3 * time.Second
	// settled is how long nothing must have come for an epoch to be complete before
	// the next one begins.
	settled = 250 * time.Millisecond
	// remembered is how many epochs the rate is counted from.
	remembered = 50
	// read is how many epochs are looked into: a GST may come an epoch late.
	looked = 3
)

// A View is what the receiver does at the moment. Numbers that it does not tell
// are NaN.
type View struct {
	State State
	Sats  int     // in use
	Sigma float64 // one standard deviation of the position along one direction, m, as the receiver tells it
	Age   float64 // of the corrections, s
	Rate  float64 // epochs a second
}

// An epoch's sentences as they came.
type burst struct {
	utc   time.Time
	at    time.Time // when its first sentence came
	lines []byte
}

// watch follows the stream for the eye.
type watch struct {
	begun    time.Time
	bursts   []burst // the last is still growing
	data     time.Time
	sentence time.Time // when the last with a right checksum came
	tag      time.Time // when the last time tag came
}

// see takes a line that came at a time. utc is that of its time tag, if timed.
func (w *watch) see(line []byte, t told, utc time.Time, timed bool, at time.Time) {
	w.data = at
	if t.right {
		w.sentence = at
	}
	if timed {
		w.tag = at
		if n := len(w.bursts); n == 0 || !w.bursts[n-1].utc.Equal(utc) {
			w.bursts = append(w.bursts, burst{utc: utc, at: at})
			if len(w.bursts) > remembered {
				w.bursts = slices.Delete(w.bursts, 0, 1)
			}
		}
	}
	n := len(w.bursts)
	if n == 0 {
		return
	}
	last := &w.bursts[n-1]
	if len(last.lines)+len(line) <= maxLine {
		last.lines = append(last.lines, line...)
	}
	if n > looked+1 {
		w.bursts[n-looked-2].lines = nil
	}
}

// interval is the receiver's usual step, by the arrival of its epochs.
func (w *watch) interval() time.Duration {
	n := len(w.bursts)
	if n < 2 {
		return 0
	}
	return w.bursts[n-1].at.Sub(w.bursts[0].at) / time.Duration(n-1)
}

// look says what the receiver does.
func (w *watch) look(now time.Time) View {
	v := View{Sigma: math.NaN(), Age: math.NaN(), Rate: math.NaN()}
	limit := max(silentFor, 3*w.interval())
	since := func(t time.Time) time.Duration {
		if t.IsZero() {
			t = w.begun
		}
		return now.Sub(t)
	}
	switch {
	case since(w.data) > limit:
		v.State = StateSilent
	case since(w.sentence) > limit:
		v.State = StateUnreadable
	case since(w.tag) > limit:
		v.State = StateNoFix
	case len(w.bursts) > 0:
		w.read(&v, now)
	}
	return v
}

// read looks into the last epochs that are complete.
func (w *watch) read(v *View, now time.Time) {
	done := w.bursts
	if now.Sub(w.data) < settled && now.Sub(done[0].at) > 0 {
		done = done[:len(done)-1]
	}
	if len(done) == 0 {
		return
	}
	v.Rate = rate(done)
	done = done[max(0, len(done)-looked):]
	var lines []byte
	for _, b := range done {
		lines = append(lines, b.lines...)
	}
	log, err := nmea.Read(context.Background(), []nmea.Source{{Name: "live", R: bytes.NewReader(lines)}}, nmea.Options{})
	if err != nil || len(log.Epochs) == 0 {
		v.State = StateNoFix
		return
	}
	e := &log.Epochs[len(log.Epochs)-1]
	// A receiver may tell a time between its positions.
	if last := done[max(0, len(done)-2):]; !slices.ContainsFunc(last, func(b burst) bool { return sameTimeOfDay(b.utc, e.UTC()) }) {
		v.State = StateNoFix
		return
	}
	v.State, v.Sats, v.Age = stateOf(e.Quality), int(e.Sats), float64(e.Age)
	for i := len(log.Epochs) - 1; i >= 0 && math.IsNaN(v.Sigma); i-- {
		n, s := float64(log.Epochs[i].SigmaN), float64(log.Epochs[i].SigmaE)
		v.Sigma = math.Sqrt((n*n + s*s) / 2)
	}
}

// rate is epochs a second: the usual step between the receiver's own times,
// whatever gaps and jumps there are among them.
func rate(done []burst) float64 {
	var steps []float64
	for i := 1; i < len(done); i++ {
		if step := done[i].utc.Sub(done[i-1].utc).Seconds(); step > 0 {
			steps = append(steps, step)
		}
	}
	if len(steps) == 0 {
		return math.NaN()
	}
	slices.Sort(steps)
	return 1 / steps[len(steps)/2]
}

func sameTimeOfDay(a, b time.Time) bool { return a.Sub(b)%dayLong == 0 }

// ahead is how far the machine's clock is ahead of the receiver's times, the way
// of the sentences included; false where none came.
func (w *watch) ahead() (time.Duration, bool) {
	var all []time.Duration
	for _, b := range w.bursts {
		all = append(all, b.at.Sub(b.utc))
	}
	if len(all) == 0 {
		return 0, false
	}
	slices.Sort(all)
	return all[len(all)/2], true
}
