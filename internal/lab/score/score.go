package score

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"tracemap/nmea"
)

// k95 is the half-width of 95 % in units of σ, one coordinate.
const k95 = 1.96

// An Extent adds up errors along lines.
type Extent struct {
	Length float64 // m of located line
	Inside float64 // m of it whose error is at most 1.96 σ
	Square float64 // ∫ error² along it, m³
	Half   float64 // ∫ 1.96 σ along it, m²
	Half2  float64 // ∫ (1.96 σ)² along it, m³
	Lean   float64 // of depths: ∫ error ÷ true depth along it, m
	// Ratio is the length, m, by |error| ÷ half-width in steps of ratioStep; the
	// last holds all beyond.
	Ratio [120]float64
}

const ratioStep = 0.025

// Add adds the length of another extent.
func (e *Extent) Add(o Extent) {
	e.Length += o.Length
	e.Inside += o.Inside
	e.Square += o.Square
	e.Half += o.Half
	e.Half2 += o.Half2
	e.Lean += o.Lean
	for i, m := range o.Ratio {
		e.Ratio[i] += m
	}
}

// Sample adds a piece of located line, m, with its error and its σ, m.
func (e *Extent) Sample(length, err, sigma float64) {
	e.Length += length
	e.Square += length * err * err
	e.Half += length * k95 * sigma
	e.Half2 += length * k95 * k95 * sigma * sigma
	if math.Abs(err) <= k95*sigma {
		e.Inside += length
	}
	i := len(e.Ratio) - 1
	if ratio := math.Abs(err) / (k95 * sigma) / ratioStep; ratio < float64(i) { // false for 0 ÷ 0
		i = int(ratio)
	}
	e.Ratio[i] += length
}

// Coverage is the share of the length that lies inside its half-width; NaN
// without any.
func (e Extent) Coverage() float64 { return e.Inside / e.Length }

// RMSE is the root mean square error, m.
func (e Extent) RMSE() float64 { return math.Sqrt(e.Square / e.Length) }

// MeanHalf is the mean half-width, m.
func (e Extent) MeanHalf() float64 { return e.Half / e.Length }

// Sharpness is the root mean square half-width ÷ (1.96 RMSE): 1 for a width that
// is as large as the errors, and more for one that is too careful.
func (e Extent) Sharpness() float64 { return math.Sqrt(e.Half2/e.Length) / (k95 * e.RMSE()) }

// Bias is the mean error of depths, as a share of the true depth.
func (e Extent) Bias() float64 { return e.Lean / e.Length }

// Factor is what all half-widths would have to be multiplied by to hold 95 % of
// the length: above 1 they are too narrow, below 1 too wide. Unlike Sharpness it
// does not hang on a few gross errors. NaN without any length, +Inf when not even
// three times the widths would do.
func (e Extent) Factor() float64 {
	if e.Length == 0 {
		return math.NaN()
	}
	left := 0.95 * e.Length
	for i, m := range e.Ratio[:len(e.Ratio)-1] {
		if m >= left {
			return ratioStep * (float64(i) + left/m)
		}
		left -= m
	}
	return math.Inf(1)
}

// A Fit is how true the places and the depths of some located line are.
type Fit struct{ Lateral, Depth Extent }

// Add adds the length of another fit.
func (f *Fit) Add(o Fit) {
	f.Lateral.Add(o.Lateral)
	f.Depth.Add(o.Depth)
}

// Density is a class of parts by how many readings they rest on.
type Density int

const (
	Sparse    Density = iota // fewer than 0.3 readings a metre
	Usual                    // up to one a metre
	Dense                    // more
	densities                // how many classes there are
)

// Score is what one or more days were worth.
type Score struct {
	Days      int
	Lateral   Extent
	Depth     Extent
	ByQuality map[nmea.Quality]Fit // by the weakest fix that the place rests on
	ByDensity [densities]Fit
	Lines     []Extent // lateral, a located line each: for statistics, whose unit is the line

	// Raw is the lateral error of joining the readings by straights in the order
	// of their true stations, each placed where the receiver said it was at the
	// reading's true time. Its σ is 0.
	Raw Extent
	// Corners are the errors at fittings of 80° and more, m: the larger of how far
	// the located line passes the true corner, and how far it strays from the true
	// line within 2 m of it.
	Corners []float64

	Surveyed float64 // m of true line between its first and its last reading
	Covered  float64 // m of that within reach of a located part

	Locks     int // readings that were on a neighbour
	Known     int // of these, flagged as such
	Aside     int // of these, not used in a fit, whatever the flag
	Wronged   int // readings on the line that were flagged as on a neighbour
	WrongedBy int // readings on the line that were not used in a fit

	Steps      int // true steps of the current, with readings on both sides
	StepsFound int
	StepsFalse int // steps that were told where there is none

	Plain        int // located lines whose current never steps
	PlainStepped int // of these, lines of which a step was told

	SteadyHours float64 // h of receivers that never jumped
	JumpsFalse  int     // jumps that were told of them

	Clocks []Clock // a day each; of a day with several, each of them
}

// Clock is how well a locator's clock was tied to UTC on one day.
type Clock struct {
	Error      float64 // s: mean over the readings of the time found − the true time
	Worst      float64 // s: the largest, without sign
	Sigma      float64 // s, as told
	Determined bool
	Method     string
}

// Within reports whether the error is at most n σ.
func (c Clock) Within(n float64) bool { return math.Abs(c.Error) <= n*c.Sigma }

// Add adds the days of another score.
func (s *Score) Add(o *Score) {
	s.Days += o.Days
	s.Lateral.Add(o.Lateral)
	s.Depth.Add(o.Depth)
	if s.ByQuality == nil {
		s.ByQuality = map[nmea.Quality]Fit{}
	}
	for i, f := range o.ByDensity {
		s.ByDensity[i].Add(f)
	}
	for q, e := range o.ByQuality {
		sum := s.ByQuality[q]
		sum.Add(e)
		s.ByQuality[q] = sum
	}
	s.Lines = append(s.Lines, o.Lines...)
	s.Raw.Add(o.Raw)
	s.Corners = append(s.Corners, o.Corners...)
	s.Surveyed += o.Surveyed
	s.Covered += o.Covered
	s.Locks += o.Locks
	s.Known += o.Known
	s.Aside += o.Aside
	s.Wronged += o.Wronged
	s.WrongedBy += o.WrongedBy
	s.Steps += o.Steps
	s.StepsFound += o.StepsFound
	s.StepsFalse += o.StepsFalse
	s.Plain += o.Plain
	s.PlainStepped += o.PlainStepped
	s.SteadyHours += o.SteadyHours
	s.JumpsFalse += o.JumpsFalse
	s.Clocks = append(s.Clocks, o.Clocks...)
}

// Completeness is the share of the surveyed true length within reach of a
// located part.
func (s *Score) Completeness() float64 { return s.Covered / s.Surveyed }

// Gain is the lateral RMSE ÷ that of joining the raw dots.
func (s *Score) Gain() float64 { return s.Lateral.RMSE() / s.Raw.RMSE() }

// Corner is the quantile p of the corners' errors, m; NaN without corners.
func (s *Score) Corner(p float64) float64 {
	if len(s.Corners) == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(s.Corners))
	return sorted[min(int(p*float64(len(sorted))), len(sorted)-1)]
}

// ConfidentlyWrong counts the days whose clock was called determined and is off
// by more than so many seconds.
func (s *Score) ConfidentlyWrong(seconds float64) int {
	n := 0
	for _, c := range s.Clocks {
		if c.Determined && math.Abs(c.Error) > seconds {
			n++
		}
	}
	return n
}

// String is a report of a few lines.
func (s *Score) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d days, %.0f m: coverage %.3f, RMSE %.3f m, half-width %.3f m, sharpness %.2f, ÷ raw dots %.2f (%.3f m)\n",
		s.Days, s.Lateral.Length, s.Lateral.Coverage(), s.Lateral.RMSE(), s.Lateral.MeanHalf(), s.Lateral.Sharpness(),
		s.Gain(), s.Raw.RMSE())
	fmt.Fprintf(&b, "depth: coverage %.3f, RMSE %.3f m, half-width %.3f m, sharpness %.2f\n",
		s.Depth.Coverage(), s.Depth.RMSE(), s.Depth.MeanHalf(), s.Depth.Sharpness())
	for _, q := range slices.Sorted(maps.Keys(s.ByQuality)) {
		e := s.ByQuality[q].Lateral
		fmt.Fprintf(&b, "  %s: %.0f m, coverage %.3f, sharpness %.2f\n", q, e.Length, e.Coverage(), e.Sharpness())
	}
	fmt.Fprintf(&b, "corners: %d, median %.3f m, 95 %% %.3f m; completeness %.3f\n",
		len(s.Corners), s.Corner(0.5), s.Corner(0.95), s.Completeness())
	fmt.Fprintf(&b, "locks: %d, flagged %d, not used %d; on the line: %d flagged, %d not used\n",
		s.Locks, s.Known, s.Aside, s.Wronged, s.WrongedBy)
	fmt.Fprintf(&b, "current steps: %d, found %d, false %d\n", s.Steps, s.StepsFound, s.StepsFalse)
	b.WriteString(s.clocks())
	return b.String()
}

func (s *Score) clocks() string {
	determined, three := 0, 0
	var errs []float64
	for _, c := range s.Clocks {
		if c.Determined {
			determined++
			errs = append(errs, math.Abs(c.Error))
			if c.Within(3) {
				three++
			}
		}
	}
	slices.SortFunc(errs, cmp.Compare)
	worst := math.NaN()
	if len(errs) > 0 {
		worst = errs[len(errs)-1]
	}
	return fmt.Sprintf("clock: determined on %d of %d days, within 3 σ on %d of them, worst error %.2f s, off by over 1 s on %d\n",
		determined, len(s.Clocks), three, worst, s.ConfidentlyWrong(1))
}
