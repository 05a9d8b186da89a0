package clock

import (
	"context"
	"errors"
	"math"
	"slices"
	"time"

	"tracemap/fuse/track"
	"tracemap/geodesy/plane"
	"tracemap/internal/parallel"
	"tracemap/readings"
	"tracemap/remarks"
)

// ErrNoOverlap says that no believable offset puts the readings into the log.
var ErrNoOverlap = errors.New("the readings' times and the receiver's log do not overlap")

// σ of offsets that a person states, s: of a number given, of a clock said to be
// right, of one sync mark pressed by hand. Common practice, no source.
const (
	sigmaGiven = 0.2
	sigmaTrust = 0.5
	sigmaMark  = 0.5
	sigmaDrift = 20e-6 // of a quartz clock, s/s
)

// Advice says what can be done where the day does not settle the offset: today first,
// when the work is over, and then the next time.
const Advice = "if you know how far the locator's clock was off, give that with --clock-offset; if you know one moment by both clocks, give it with --sync; next time, note the locator's clock against UTC at the start and at the end of the day"

// A day is what the estimators work on.
type day struct {
	tr    *track.Track
	rs    []readings.Reading
	index []int     // readings with a time
	times []float64 // their times on the locator's clock, s since the track's start
	mid   float64   // middle of the times
	lo    float64   // offsets below put the readings after the log
	hi    float64
	path  []plane.Pt // the track every gridStep from its start; NaN where it has nothing
	from  float64

	lost     bool // the clock lost its date: the offset may be of years
	standing bool // the crew stops for its readings

	walk    []passReading // on lines with a name, line by line
	lines   []walkedLine  // of the walk, in the order in which the readings name them
	triples [][3]float64  // times of three readings in a row on one line
}

// gridStep, s, of the path that the search looks at: between its points a walker
// goes straight to within a centimetre.
const gridStep = 0.25

// lay fills the path, as far as any offset that is looked for can ask: a log may
// hold another day's work, months away.
func (d *day) lay() {
	const reach = 60.0 // s, of motion about a reading
	from, to := d.tr.Span()
	if late := slices.Min(d.times) - d.hi - reach - from; late > 0 {
		from += math.Floor(late/gridStep) * gridStep
	}
	to = min(to, slices.Max(d.times)-d.lo+reach)
	d.from = from
	n := int(math.Floor((to+gridStep-from)/gridStep)) + 1
	d.path = d.tr.Sample(from, gridStep, max(n, 0))
}

// where the track is at time t; E is NaN where it has nothing.
func (d *day) where(t float64) plane.Pt {
	x := (t - d.from) / gridStep
	k := int(math.Floor(x))
	if k < 0 || k+1 >= len(d.path) {
		return plane.Pt{E: math.NaN(), N: math.NaN()}
	}
	return d.path[k].Lerp(d.path[k+1], x-float64(k))
}

// Align finds the offset; readings that a person set aside have no say. It fails
// only when the readings and the log cannot overlap at all; a day that does not
// tell gives a result with Determined false.
func Align(ctx context.Context, tr *track.Track, rs []readings.Reading, opt Options) (_ *Result, err error) {
	defer parallel.Recover("the clock", &err)
	parallel.Trip("the clock")
	d := newDay(tr, rs)
	if len(d.times) == 0 {
		return nil, ErrNoOverlap
	}
	together, stated, err := d.together(ctx, opt)
	if err != nil && (stated || !errors.Is(err, ErrNoOverlap)) {
		return nil, err
	}
	if each, e := alignSeveral(ctx, tr, rs, together, stated); each != nil || e != nil {
		return each, e
	}
	return together, err
}

// together finds one offset for all readings, and says whether a person stated it.
func (d *day) together(ctx context.Context, opt Options) (r *Result, stated bool, err error) {
	switch {
	case opt.Mode == Given:
		r, err = d.stated("given", opt.Offset.Seconds(), sigmaGiven)
		return r, true, err
	case opt.Mode == Trust:
		r, err = d.stated("none", 0, sigmaTrust)
		return r, true, err
	case len(opt.Marks) > 0:
		r, err = d.fromMarks(opt.Marks)
		return r, true, err
	}
	r, err = d.estimate(ctx)
	return r, false, err
}

func newDay(tr *track.Track, rs []readings.Reading) *day {
	d := &day{tr: tr, rs: rs}
	var all []float64
	for i := range rs {
		if !rs[i].Time.IsZero() && !rs[i].Flags.Has(remarks.SetAsideByHand) {
			all = append(all, tr.Seconds(rs[i].Time))
		}
	}
	if len(all) == 0 {
		return d
	}
	slices.Sort(all)
	d.mid = all[len(all)/2]
	crowd := map[instantOfLine]int{}
	for i := range rs {
		// A few rows with a wild time must not stretch the day over years.
		t := tr.Seconds(rs[i].Time)
		if !rs[i].Time.IsZero() && !rs[i].Flags.Has(remarks.SetAsideByHand) && math.Abs(t-d.mid) < longestJob {
			at := instantOfLine{rs[i].Line, math.Floor(t / instant)}
			if crowd[at]++; crowd[at] > mostAtInstant {
				continue
			}
			d.index = append(d.index, i)
			d.times = append(d.times, t)
		}
	}
	s := slices.Clone(d.times)
	slices.Sort(s)
	n := len(s)
	from, to := tr.Span()
	d.lo, d.hi = s[n/4]-to, s[n-1-n/4]-from
	return d
}

// An instantOfLine is a name and a number of instants since the track's start.
type instantOfLine struct {
	line string
	at   float64
}

// Of the readings of one name within an instant, s, so many have a say: nobody takes
// them faster, and a row that is written a thousand times tells the offset no better.
const (
	instant       = 0.5
	mostAtInstant = 3
)

const (
	// longestJob, s, is how far from the median time a row may lie.
	longestJob = 15 * 86400.0
	// widestOffset, s, is the largest offset that is looked for: a clock in the
	// wrong zone. A wrong day needs positions or a word from the user.
	widestOffset = 14 * 3600.0
	// widestSearch, s, is over how long a log positions may look for a wrong day.
	widestSearch = 60 * 86400.0
)

// inside is the share of the readings that an offset puts into the log.
func (d *day) inside(offset float64) float64 {
	from, to := d.tr.Span()
	n := 0
	for _, t := range d.times {
		if u := t - offset; u >= from && u <= to {
			n++
		}
	}
	return float64(n) / float64(len(d.times))
}

func (d *day) result(method string, offset, sigma float64) *Result {
	return &Result{
		Offset: offset, Sigma: sigma, Method: method, State: Known, Determined: true,
		Ref: d.tr.Start.Add(seconds(d.mid)), RunnerUp: math.NaN(),
	}
}

func (d *day) stated(method string, offset, sigma float64) (*Result, error) {
	if d.inside(offset) == 0 {
		return nil, ErrNoOverlap
	}
	return d.result(method, offset, sigma), nil
}

// fromMarks fits offset and drift to the sync marks: a quartz clock's drift is
// small beforehand, so one mark gives the offset and its σ grows with the time
// from the mark.
func (d *day) fromMarks(marks []Mark) (*Result, error) {
	// Weighted least squares for (offset at mid, drift) with a prior on the drift.
	var w, wx, wxx, wy, wxy float64
	k := 1 / (sigmaMark * sigmaMark)
	for _, m := range marks {
		x := d.tr.Seconds(m.Locator) - d.mid
		y := m.Locator.Sub(m.UTC).Seconds()
		w, wx, wxx, wy, wxy = w+k, wx+k*x, wxx+k*x*x, wy+k*y, wxy+k*x*y
	}
	wxx += 1 / (sigmaDrift * sigmaDrift)
	det := w*wxx - wx*wx
	offset := (wy*wxx - wxy*wx) / det
	drift := (w*wxy - wx*wy) / det
	// The worst σ over the day.
	var worst float64
	for _, t := range d.times {
		x := t - d.mid
		worst = max(worst, (wxx-2*wx*x+w*x*x)/det)
	}
	if d.inside(offset) == 0 {
		return nil, ErrNoOverlap
	}
	r := d.result("marks", offset, math.Sqrt(worst))
	r.Drift = drift * 1e6
	return r, nil
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }
