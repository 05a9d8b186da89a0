package main

import (
	"fmt"
	"math"

	"tracemap/internal/score"
	"tracemap/internal/simulate"
	"tracemap/nmea"
)

// A row is a set of days, or what lies on fixes of one quality on all days.
type row struct {
	name    string
	kind    kind
	lateral []score.Extent // a day each
	score   *score.Score   // of the days together; nil for a quality
	days    []*day
}

// A kind says which goals a row can be held against.
type kind uint8

const (
	ofPreset kind = iota
	ofQuality
	ofAll
)

// qualities are the rows by fix quality, from the best.
var qualities = []struct {
	name string
	q    nmea.Quality
}{
	{"fix:rtk", nmea.QualityRTKFixed},
	{"fix:float", nmea.QualityRTKFloat},
	{"fix:dgps", nmea.QualityDGPS},
	{"fix:autonomous", nmea.QualityAutonomous},
	{"fix:other", nmea.QualityUnknown},
}

// pools are rows of days of a kind, whatever their preset.
var pools = []struct {
	name string
	of   func(*day) bool
}{
	{"stop-and-go", func(d *day) bool { return d.Scenario.Work.Style == simulate.StopAndGo }},
	{"walked", func(d *day) bool { return d.Scenario.Work.Style == simulate.Walking }},
	{"clock:known", knownClock},
	{"clock:unknown", func(d *day) bool { return d.Refused == nil && !d.Score.Clocks[0].Determined }},
}

func knownClock(d *day) bool { return d.Refused == nil && d.Score.Clocks[0].Determined }

// table makes the rows: a preset or a day each, days of a kind, the fix
// qualities, all.
func table(o *order, days []*day) []*row {
	var rows []*row
	if o.byDay {
		for _, d := range days {
			rows = append(rows, rowOf(fmt.Sprintf("%s/%d", d.Preset, d.Seed), ofPreset, []*day{d}))
		}
	} else {
		for i, p := range o.presets {
			rows = append(rows, rowOf(p.Name, ofPreset, days[i*o.seeds:(i+1)*o.seeds]))
		}
	}
	for _, p := range pools {
		if some := chosen(days, p.of); len(some) > 0 {
			rows = append(rows, rowOf(p.name, ofPreset, some))
		}
	}
	for _, k := range qualities {
		if r := qualityRow(k.name, k.q, days); total(r.lateral).Length > 0 {
			rows = append(rows, r)
		}
	}
	return append(rows, rowOf("all", ofAll, days))
}

func chosen(days []*day, of func(*day) bool) []*day {
	var out []*day
	for _, d := range days {
		if of(d) {
			out = append(out, d)
		}
	}
	return out
}

// refused is the number of days that gave no map.
func (r *row) refused() int {
	return len(chosen(r.days, func(d *day) bool { return d.Refused != nil }))
}

func rowOf(name string, k kind, days []*day) *row {
	r := &row{name: name, kind: k, score: &score.Score{}, days: days}
	for _, d := range days {
		r.score.Add(d.Score)
		r.lateral = append(r.lateral, d.Score.Lateral)
	}
	return r
}

// qualityRow gathers what rests on one quality; the row of the unknown quality
// gathers all that have none of their own.
func qualityRow(name string, quality nmea.Quality, days []*day) *row {
	r := &row{name: name, kind: ofQuality}
	for _, d := range days {
		var sum score.Extent
		for _, q := range nmeaQualities {
			if rowQuality(q) == quality {
				sum.Add(d.Score.ByQuality[q])
			}
		}
		if sum.Length > 0 {
			r.lateral = append(r.lateral, sum)
		}
	}
	return r
}

var nmeaQualities = []nmea.Quality{
	nmea.QualityRTKFixed, nmea.QualityRTKFloat, nmea.QualityDGPS, nmea.QualityPPS,
	nmea.QualityAutonomous, nmea.QualityEstimated, nmea.QualityUnknown,
}

func rowQuality(q nmea.Quality) nmea.Quality {
	for _, k := range qualities {
		if k.q == q {
			return q
		}
	}
	return nmea.QualityUnknown
}

func total(es []score.Extent) (sum score.Extent) {
	for _, e := range es {
		sum.Add(e)
	}
	return sum
}

// spread is one standard error of a coverage over days: what lies on one day
// shares its errors, so that the day is the unit and not the metre (ratio
// estimator, Cochran, Sampling Techniques, 3rd ed., eq. 6.9). NaN for one day.
func spread(es []score.Extent) float64 {
	sum := total(es)
	n := float64(len(es))
	var square float64
	for _, e := range es {
		d := e.Inside - sum.Coverage()*e.Length
		square += d * d
	}
	return math.Sqrt(n/(n-1)*square) / sum.Length
}

// The kinds of work that the goals tell apart.

func stopAndGo(s *simulate.Scenario) bool {
	return s.Work.Style == simulate.StopAndGo && estimated(s)
}

func returning(s *simulate.Scenario) bool {
	return s.Work.Style == simulate.Walking && s.Work.Returns != simulate.NoReturn && estimated(s)
}

// estimated tells days whose clock must be found from the day's pattern.
func estimated(s *simulate.Scenario) bool { return s.Log.Own == simulate.OwnNone && s.Work.Marks == 0 }

func fixed(s *simulate.Scenario) bool { return s.GNSS.Profile == simulate.RTKFixed }

// every reports whether all days of a row are of a kind of work.
func (r *row) every(is func(*simulate.Scenario) bool) bool {
	for _, d := range r.days {
		if !is(&d.Scenario) {
			return false
		}
	}
	return len(r.days) > 0
}

// clocks sums up how well the clocks were found.
type clocks struct {
	days, determined    int
	worst, rms          float64 // s, of the determined ones
	ratio               float64 // largest |error| ÷ σ of the determined ones
	wrong               int     // determined and off by more than 1 s
	beyond, undetBeyond int     // off by more than 3 σ: determined, undetermined
}

func clocksOf(cs []score.Clock) clocks {
	out := clocks{days: len(cs), worst: math.NaN(), rms: math.NaN(), ratio: math.NaN()}
	var square float64
	for _, c := range cs {
		e := math.Abs(c.Error)
		switch {
		case !c.Determined && !c.Within(3):
			out.undetBeyond++
		case !c.Determined:
		default:
			out.determined++
			square += e * e
			if !(e <= out.worst) {
				out.worst = e
			}
			if z := e / c.Sigma; !(z <= out.ratio) {
				out.ratio = z
			}
			if e > 1 {
				out.wrong++
			}
			if !c.Within(3) {
				out.beyond++
			}
		}
	}
	if out.determined > 0 {
		out.rms = math.Sqrt(square / float64(out.determined))
	}
	return out
}
