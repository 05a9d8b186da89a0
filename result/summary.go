package result

import (
	"encoding/json"
	"math"

	"tracemap/present"
)

// Summary is summary.json: everything counted and estimated.
type Summary struct {
	Verdict  *Verdict      `json:"verdict"` // null only before the day was judged
	Tool     string        `json:"tool"`
	Inputs   []Input       `json:"inputs"`
	GNSS     GNSS          `json:"gnss"`
	Clock    ClockSummary  `json:"clock"`
	Clocks   []OwnClock    `json:"clocks,omitempty"` // of a day that has several, the one of Clock first
	Frame    *FrameSummary `json:"frame"`            // null where no position was read
	CRS      *CRSSummary   `json:"crs"`              // null for longitude and latitude of WGS 84
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
	Unit  string `json:"unit"`           // of the horizontal coordinates
	Grid  string `json:"grid,omitempty"` // the correction grid between datum and frame, where there is one
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

// Fill puts empty lists and tables for absent ones, so that programs need not
// ask, and takes numbers out that JSON cannot hold.
func (s *Summary) Fill() {
	if s.Verdict != nil {
		v := *s.Verdict
		v.Reasons, v.NotTold = append([]string{}, v.Reasons...), append([]string{}, v.NotTold...)
		s.Verdict = &v
	}
	if s.Inputs == nil {
		s.Inputs = []Input{}
	}
	if s.Warnings == nil {
		s.Warnings = []string{}
	}
	if s.GNSS.Gaps == nil {
		s.GNSS.Gaps = []GapSummary{}
	}
	for _, table := range []*map[string]int{&s.GNSS.Sentences, &s.GNSS.Fix, &s.Readings.ByFlag} {
		if *table == nil {
			*table = map[string]int{}
		}
	}
	s.Elapsed = orZero(s.Elapsed)
}

func orZero(v float64) float64 {
	if !present.Known(v) {
		return 0
	}
	return present.Round(v, 3)
}

// MarshalJSON writes what is not known as null.
func (c ClockSummary) MarshalJSON() ([]byte, error) {
	runnerUp := math.NaN()
	if c.RunnerUp != nil {
		runnerUp = *c.RunnerUp
	}
	return json.Marshal(struct {
		Offset     *float64 `json:"offset_s"`
		Sigma      *float64 `json:"sigma_s"`
		Drift      *float64 `json:"drift_ppm"`
		Method     string   `json:"method"`
		State      string   `json:"state"`
		Determined bool     `json:"determined"`
		WidthAdded *float64 `json:"width_added_m"`
		RunnerUp   *float64 `json:"runner_up_s"`
	}{orNull(c.Offset, 4), orNull(c.Sigma, 4), orNull(c.Drift, 3), c.Method, c.State, c.Determined, orNull(c.WidthAdded, 3), orNull(runnerUp, 4)})
}

// MarshalJSON writes a height that is not known as null.
func (f FrameSummary) MarshalJSON() ([]byte, error) {
	f.Epoch = present.Round(f.Epoch, 4)
	type plain FrameSummary
	return json.Marshal(struct {
		plain
		shiftJSON
	}{plain(f), f.Shift.json()})
}

// MarshalJSON writes a height that is not known as null.
func (c CRSSummary) MarshalJSON() ([]byte, error) {
	type plain CRSSummary
	return json.Marshal(struct {
		plain
		shiftJSON
	}{plain(c), c.Shift.json()})
}

type shiftJSON struct {
	East  *float64 `json:"east_m"`
	North *float64 `json:"north_m"`
	Up    *float64 `json:"up_m"`
}

func (s Shift) json() shiftJSON {
	return shiftJSON{orNull(s.East, 4), orNull(s.North, 4), orNull(s.Up, 4)}
}

func orNull(v float64, decimals int) *float64 {
	if !present.Known(v) {
		return nil
	}
	v = present.Round(v, decimals)
	return &v
}
