package main

import (
	"fmt"
	"math"

	"tracemap/internal/lab/score"
	"tracemap/nmea"
)

// A row is a set of days, or what of all days rests on fixes of one quality or on
// so many readings a metre.
type row struct {
	generator string
	name      string
	kind      kind
	fits      []score.Fit  // a day each
	score     *score.Score // of the days together; nil for a part of each day
	days      []*day
}

// A kind says which goals a row can be held against.
type kind uint8

const (
	ofPreset kind = iota
	ofPool        // days of a kind, or parts of all days
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

// densities are the rows by readings a metre of a part.
var densities = []struct {
	name string
	d    score.Density
}{
	{"readings:<0.3/m", score.Sparse},
	{"readings:0.3-1/m", score.Usual},
	{"readings:>1/m", score.Dense},
}

// pools are rows of days of a kind, whatever their preset.
var pools = []struct {
	name string
	of   func(*day) bool
}{
	{"stop-and-go", func(d *day) bool { return !d.Traits.walked }},
	{"walked", func(d *day) bool { return d.Traits.walked }},
	{"clock:known", func(d *day) bool { return d.Clock == "known" }},
	{"clock:estimated", func(d *day) bool { return d.Clock == "estimated" }},
	{"clock:unknown", func(d *day) bool { return d.Clock == "unknown" }},
}

// table makes the rows of each generator: a preset or a day each, then pooled.
func table(o *order, days []*day) []*row {
	var rows []*row
	for _, g := range []string{simulated, other} {
		own := chosen(days, func(d *day) bool { return d.Preset.generator == g })
		if len(own) == 0 {
			continue
		}
		if o.byDay {
			for _, d := range own {
				rows = append(rows, rowOf(fmt.Sprintf("%s/%d", d.Preset.name, d.Seed), ofPreset, []*day{d}))
			}
		} else {
			for _, p := range o.presets {
				if p.generator == g {
					rows = append(rows, rowOf(p.name, ofPreset, chosen(own, func(d *day) bool { return d.Preset.name == p.name })))
				}
			}
		}
		rows = append(rows, pooled(own)...)
		rows = append(rows, rowOf("all", ofAll, own))
	}
	return rows
}

// pooled makes the rows of days of a kind, of fix qualities and of densities.
func pooled(days []*day) []*row {
	var rows []*row
	add := func(r *row) {
		if total(r.fits).Lateral.Length > 0 {
			rows = append(rows, r)
		}
	}
	for _, p := range pools {
		add(rowOf(p.name, ofPool, chosen(days, p.of)))
	}
	for _, k := range densities {
		add(partRow(k.name, days, func(s *score.Score) score.Fit { return s.ByDensity[k.d] }))
	}
	for _, k := range qualities {
		add(qualityRow(k.name, k.q, days))
	}
	return rows
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
		r.generator = d.Preset.generator
		r.score.Add(d.Score)
		r.fits = append(r.fits, score.Fit{Lateral: d.Score.Lateral, Depth: d.Score.Depth})
	}
	return r
}

// partRow gathers a part of each day.
func partRow(name string, days []*day, of func(*score.Score) score.Fit) *row {
	r := &row{name: name, kind: ofPool}
	for _, d := range days {
		r.generator = d.Preset.generator
		if f := of(d.Score); f.Lateral.Length > 0 {
			r.fits = append(r.fits, f)
		}
	}
	return r
}

// qualityRow gathers what rests on one quality; the row of the unknown quality
// gathers all that have none of their own.
func qualityRow(name string, quality nmea.Quality, days []*day) *row {
	return partRow(name, days, func(s *score.Score) (sum score.Fit) {
		for _, q := range nmeaQualities {
			if rowQuality(q) == quality {
				sum.Add(s.ByQuality[q])
			}
		}
		return sum
	})
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

func total(fits []score.Fit) (sum score.Fit) {
	for _, f := range fits {
		sum.Add(f)
	}
	return sum
}

// laterals and depths are the two halves of fits.
func laterals(fits []score.Fit) (out []score.Extent) {
	for _, f := range fits {
		out = append(out, f.Lateral)
	}
	return out
}

func depths(fits []score.Fit) (out []score.Extent) {
	for _, f := range fits {
		if f.Depth.Length > 0 {
			out = append(out, f.Depth)
		}
	}
	return out
}

// spread is one standard error of a coverage over days: what lies on one day
// shares its errors, so that the day is the unit and not the metre (ratio
// estimator, Cochran, Sampling Techniques, 3rd ed., eq. 6.9). NaN for one day.
func spread(es []score.Extent) float64 {
	all := sum(es)
	n := float64(len(es))
	var square float64
	for _, e := range es {
		d := e.Inside - all.Coverage()*e.Length
		square += d * d
	}
	return math.Sqrt(n/(n-1)*square) / all.Length
}

func sum(es []score.Extent) (all score.Extent) {
	for _, e := range es {
		all.Add(e)
	}
	return all
}

// The kinds of work that the goals tell apart.

func stopAndGo(d *day) bool { return !d.Traits.walked && d.Traits.estimated }
func returning(d *day) bool { return d.Traits.returning && d.Traits.estimated }
func fixed(d *day) bool     { return d.Traits.fixed }

// every reports whether all days of a row are of a kind of work.
func (r *row) every(is func(*day) bool) bool {
	return len(r.days) > 0 && len(chosen(r.days, is)) == len(r.days)
}

// clocks sums up how well the clocks were found.
type clocks struct {
	all, determined int
	worst, rms      float64 // s, of the determined ones
	ratio           float64 // largest |error| ÷ σ of the determined ones
	wrong           int     // determined and off by more than 1 s
	beyond          int     // off by more than 3 σ, whatever it was called
}

func clocksOf(cs []score.Clock) clocks {
	out := clocks{all: len(cs), worst: math.NaN(), rms: math.NaN(), ratio: math.NaN()}
	var square float64
	for _, c := range cs {
		e := math.Abs(c.Error)
		if !c.Within(3) {
			out.beyond++
		}
		if !c.Determined {
			continue
		}
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
	}
	if out.determined > 0 {
		out.rms = math.Sqrt(square / float64(out.determined))
	}
	return out
}
