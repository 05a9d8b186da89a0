package clock

import "time"

// A Candidate is an offset with the evidence for it.
type Candidate struct {
	Offset        float64 // locator's clock minus UTC, s
	LogLikelihood float64 // relative to the best, ≤ 0
}

// State says how well the offset is known.
type State int

// The states of a clock.
const (
	Unknown   State = iota // the day leaves several offsets, or all, possible
	Estimated              // one offset explains the day, but is known only within its σ
	Known                  // the same, to a second
)

// String returns the state as summary.json has it.
func (s State) String() string { return [...]string{"unknown", "estimated", "known"}[s] }

// Result says how the locator's clock was tied to UTC: UTC = locator's time −
// OffsetAt(locator's time).
type Result struct {
	Offset     float64   // locator's clock minus UTC at Ref, s
	Drift      float64   // growth of the offset, ppm
	Ref        time.Time // on the locator's clock
	Sigma      float64   // one σ of the offset, s, from Earliest to Latest reading
	Method     string    // "given", "none", "positions", "marks", or the evidence that decided: "stops", "passes", "stops+passes", …
	State      State
	Determined bool        // State is Known
	RunnerUp   float64     // next best offset, s; NaN when there is none
	Evidence   []Candidate // in the order of the offset, for the report's picture
	Advice     string      // what to do today and the next time; "" when known
	// Several holds the clocks of a day that has more than one, the main one first;
	// the fields above are the main one's. Of returns that of a reading.
	Several []Own
	of      []int // into Several, by reading
}

// OffsetAt is the offset at an instant of the locator's clock, s.
func (r *Result) OffsetAt(t time.Time) float64 {
	return r.Offset + r.Drift*1e-6*t.Sub(r.Ref).Seconds()
}

// Narrow reports whether the offset is known well enough to go through the fit as an
// error of a second or so; else what it may do to a line has
// to be looked for along the whole track.
func (r *Result) Narrow() bool { return r.State != Unknown || r.Determined }

// UTC turns an instant of the locator's clock into UTC.
func (r *Result) UTC(t time.Time) time.Time {
	return t.Add(-time.Duration(r.OffsetAt(t) * float64(time.Second)))
}
