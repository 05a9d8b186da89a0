package result

import (
	"math"
	"slices"
	"time"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/geodesy"
	"tracemap/grade"
	"tracemap/nmea"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/remarks"
)

// A Map is a day ready to be written: what survey computed and what it was
// computed from. Writers read it and change nothing.
type Map struct {
	Lines    []fuse.Line
	Points   []fuse.Point
	Readings []fuse.Placed // every row that could be read, in the order of the log
	// Aside are the rows that could not be read, so that readings.csv has a row
	// for everything that came in.
	Aside   []readings.SetAside
	Revisit []Revisit
	Meta    Meta
	Clock   *clock.Result // how the locator's clock was tied to UTC, with the evidence
	Summary *Summary
	// Fixes are the stretches of the receiver's log with one kind of fix, in the
	// order of time, for the report's picture of the day; may be empty.
	Fixes []FixSpan
	// Place turns a place in the day's plane into geodetic coordinates of the
	// map's frame, WGS 84 unless Meta says otherwise.
	Place *geodesy.Local
	// Scheme suggests accuracy classes; nil when none was asked for.
	Scheme *grade.Scheme
	// Geoid holds the receiver's own geoid separations; nil when it told none.
	Geoid *Geoid
	// Throughout are the flags of every vertex of every line: a day whose clock is
	// uncertain from beginning to end.
	Throughout remarks.Set
}

// Doubts returns those of some flags that make a stretch doubtful beside others.
// What holds all day is no difference between stretches, unless it contradicts the
// line itself.
func (m *Map) Doubts(flags remarks.Set) remarks.Set {
	const contradicts = remarks.Distorted | remarks.PotholeContradicts | remarks.PeakNullApart | remarks.SinglePoint | remarks.TwoPoints
	return flags & present.Doubtful &^ (m.Throughout &^ contradicts)
}

// FlagsThroughout returns the flags that all vertices of a map have, one way or the other.
func FlagsThroughout(lines []fuse.Line) remarks.Set {
	all := ^remarks.Set(0)
	none := true
	for i := range lines {
		for j := range lines[i].Parts {
			part := &lines[i].Parts[j]
			wide := PartWide(&lines[i], part)
			for k := range part.Vertices {
				all &= part.Vertices[k].Flags | wide
				none = false
			}
		}
	}
	if none {
		return 0
	}
	return all
}

// Units returns the units that people read the map in.
func (m *Map) Units() present.Units { return present.Units{Imperial: m.Meta.Imperial} }

// Geoid is by how much the receiver's geoid lies above the ellipsoid, m, NaN
// where it is not known. Taken off a height above the ellipsoid it gives the
// height above that geoid, as the receiver shows it.
type Geoid struct {
	Readings []float64                // one for each of Map.Readings
	Vertices map[*fuse.Part][]float64 // one for each of the part's vertices
}

// Meta is what every output carries about its origin.
type Meta struct {
	Tool                            string // "tracemap 0.1.0"
	Title                           string
	Job, Operator, Instrument, Note string
	Frame                           string  // reference frame of the positions
	Epoch                           float64 // to which they refer, as a year with fraction; 0 when not known
	Scheme                          string  // accuracy classes, "none" when not asked for
	Source                          string  // input files' names, joined
	From, To                        time.Time
	Imperial                        bool // units that reports show to people
}

// A FixSpan is a stretch of the receiver's log with one kind of fix.
type FixSpan struct {
	From, To time.Time
	Quality  nmea.Quality
}

// Revisit is a place to go back to while the crew is near.
type Revisit struct {
	LineID  string
	Part    int     // number of the part; 0 where it lies on none
	Station float64 // m along the part; NaN off the line
	Geo     geodesy.Geo
	Reason  string // short: "no fix", "depth missing", …
	Advice  string
	Worth   float64 // larger is more worth the walk
}

// Vertex returns the separation at a part's vertex k, m; NaN where it is not known.
func (g *Geoid) Vertex(p *fuse.Part, k int) float64 {
	if g == nil || k >= len(g.Vertices[p]) {
		return math.NaN()
	}
	return g.Vertices[p][k]
}

// Reading returns the separation at the map's reading i, m; NaN where it is not known.
func (g *Geoid) Reading(i int) float64 {
	if g == nil || i >= len(g.Readings) {
		return math.NaN()
	}
	return g.Readings[i]
}

// Year is the decimal year that positions refer to: as said, else the middle of
// the survey; 2020 when neither is known.
func (t *Meta) Year() float64 {
	if t.Epoch != 0 {
		return t.Epoch
	}
	from, to := t.From, t.To
	if from.IsZero() {
		from = to
	}
	if to.IsZero() {
		to = from
	}
	if from.IsZero() {
		return 2020
	}
	middle := from.Add(to.Sub(from) / 2).UTC()
	begin := time.Date(middle.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	return float64(middle.Year()) + middle.Sub(begin).Hours()/begin.AddDate(1, 0, 0).Sub(begin).Hours()
}

// SortedRevisit gives the places to go back to, the most worthwhile first, equal
// ones in the order of the map.
func SortedRevisit(m *Map) []Revisit {
	out := slices.Clone(m.Revisit)
	slices.SortStableFunc(out, func(a, b Revisit) int {
		switch {
		case a.Worth > b.Worth:
			return -1
		case a.Worth < b.Worth:
			return 1
		}
		return 0
	})
	return out
}
