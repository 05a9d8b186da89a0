package export

import (
	"time"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/geodesy"
	"tracemap/grade"
	"tracemap/nmea"
	"tracemap/readings"
)

// Caution is printed on everything that a person reads.
const Caution = "Estimate from electromagnetic locating; not a clearance to dig. Ask the one-call or records service first, expose by hand or vacuum, follow local codes; a licensed professional decides."

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
}

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
	Station float64 // m along the part; NaN off the line
	Geo     geodesy.Geo
	Reason  string // short: "no fix", "depth missing", …
	Advice  string
	Worth   float64 // larger is more worth the walk
}

// Summary is summary.json: everything counted and estimated.
type Summary struct {
	Verdict  *Verdict      `json:"verdict"` // null only before the day was judged
	Tool     string        `json:"tool"`
	Inputs   []Input       `json:"inputs"`
	GNSS     GNSS          `json:"gnss"`
	Clock    ClockSummary  `json:"clock"`
	Frame    *FrameSummary `json:"frame"` // null where no position was read
	CRS      *CRSSummary   `json:"crs"`   // null for longitude and latitude of WGS 84
	Readings ReadingCounts `json:"readings"`
	Lines    []PartSummary `json:"lines"`
	Warnings []string      `json:"warnings"`
	Elapsed  float64       `json:"elapsed_s"`
}

// Input is one file that was read.
type Input struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
	Kind   string `json:"kind"` // "nmea" or "readings"
	Rows   int    `json:"rows"`
}

// GNSS counts what the receiver's log holds.
type GNSS struct {
	Sentences   map[string]int `json:"sentences"`
	BadChecksum int            `json:"bad_checksum"`
	NoChecksum  int            `json:"no_checksum"`
	Malformed   int            `json:"malformed"`
	Epochs      int            `json:"epochs"`
	From        string         `json:"from"` // RFC 3339; "" when none
	To          string         `json:"to"`
	Fix         map[string]int `json:"fix"`
	Gaps        []GapSummary   `json:"gaps"`
}

// GapSummary is an outage of the receiver's log.
type GapSummary struct {
	From    string  `json:"from"`
	To      string  `json:"to"`
	Seconds float64 `json:"seconds"`
}

// ClockSummary says how the locator's clock was tied to UTC.
type ClockSummary struct {
	Offset     float64  `json:"offset_s"`
	Sigma      float64  `json:"sigma_s"`
	Drift      float64  `json:"drift_ppm"`
	Method     string   `json:"method"`
	State      string   `json:"state"` // known, estimated or unknown
	Determined bool     `json:"determined"`
	WidthAdded float64  `json:"width_added_m"` // the most that the clock adds to a half-width, 95 %
	RunnerUp   *float64 `json:"runner_up_s"`   // next best offset; null when none
}

// FrameSummary says how positions came from the frame of the receiver's
// corrections into that of the map, at the middle of the day.
type FrameSummary struct {
	Given bool    `json:"given"` // false when nobody said and From was assumed
	From  string  `json:"from"`
	To    string  `json:"to"`
	Epoch float64 `json:"epoch"` // as a year with fraction
	Shift `json:"-"`
}

// CRSSummary says how positions came from the map's frame into that of the
// coordinate system of the formats that can carry one.
type CRSSummary struct {
	Code  int    `json:"code"` // EPSG
	Name  string `json:"name"`
	Frame string `json:"frame"`
	Unit  string `json:"unit"` // of the horizontal coordinates
	Shift `json:"-"`
}

// Shift is how far a change of frame moves positions, m; Up is NaN where no
// height is known.
type Shift struct{ East, North, Up float64 }

// ReadingCounts adds up: Total = Placed + Unplaced. Rows that could not be read
// are among Unplaced.
type ReadingCounts struct {
	Total     int            `json:"total"`
	Placed    int            `json:"placed"`
	Unplaced  int            `json:"unplaced"`
	Malformed int            `json:"malformed"`
	ByFlag    map[string]int `json:"by_flag"`
}

// PartSummary repeats a part's attributes, for programs.
type PartSummary map[string]any
