// Package readings reads the locator's log: a delimited text with a row for each
// reading, in our own columns or in those of a foreign log by a Mapping, into
// Readings in SI units with flags. Rows that cannot be read are set aside with
// file, line, column and reason; none is dropped, and none is mended.
//
//	log, err := readings.Read(ctx, []readings.Source{{Name: "day.csv", R: f}}, readings.Options{Zone: zone})
//
// docs/readings-log.md describes the format for users.
package readings

import (
	"math"
	"time"

	"tracemap/remarks"
)

// Method says how the signal came onto the line.
type Method string

// The methods of the readings log; the empty method is unknown.
const (
	Direct    Method = "direct"
	Induction Method = "induction"
	Passive   Method = "passive"
	Sonde     Method = "sonde"
)

// Response says which arrangement of coils pointed at the line.
type Response string

// The responses of the readings log; the empty response is unknown.
const (
	Peak   Response = "peak"
	Null   Response = "null"
	Omni   Response = "omni"
	Single Response = "single"
)

// Utility is the kind of plant by the names of docs/readings-log.md ("water",
// "gas", …); "unknown" where the row gives none.
type Utility string

// Reading is one row of the locator's log in SI units. Measurements that the
// row does not give are NaN, texts empty. Nothing here is mended: what looks
// implausible keeps its value and gets a flag.
type Reading struct {
	File string    // source, as given
	Row  int       // line in the source on which the row starts, from 1 (the header is a line)
	Time time.Time // locator's clock read in its zone, as UTC; zero when the row has none

	Line      string
	Utility   Utility
	Method    Method
	Response  Response
	Feature   string  // "" for a reading on a line; else "valve", "tee", "pothole", "sync", …
	Frequency float64 // Hz
	Depth     float64 // m, ground surface to electrical centre, as logged
	Cover     float64 // m, ground surface to the top, as logged
	Current   float64 // mA, as logged
	Signal    float64 // %
	Gain      float64 // dB
	Compass   float64 // degrees
	// NullOffset is the signed distance from the peak position to the null
	// position, m.
	NullOffset float64
	// BottomCoil and TopCoil are raw fields: nT where the log states a unit, else
	// any one unit. CoilSpacing is in metres.
	BottomCoil, TopCoil, CoilSpacing float64
	// CoilDepth and CoilCurrent are computed from the coils (see LineDepth); NaN
	// without them. CoilCurrent is NaN unless the unit is known to be nT.
	CoilDepth, CoilCurrent float64
	Diameter               float64 // outside diameter, m
	MeasuredDepth          float64 // m, seen with the eyes in a pothole
	Lat, Lon, HDOP         float64 // the reading's own position: degrees; NaN when none
	// Easting and Northing are its own position in a grid that the log does not name, m.
	Easting, Northing float64
	Fix               string // its fix quality as logged
	Note              string // free text; also the text of cells that could not be read
	Instrument        string // whose clock the time is from, as logged; "" when the log has one instrument

	Extra []Field // what columns that are none of ours say, in the log's order

	Flags remarks.Set

	genuine bool // the map of columns calls a value that may look like a code a measurement
}

// BestDepth is the depth to work with: computed from the coils where they were
// logged, else as logged; NaN when neither.
func (r *Reading) BestDepth() float64 {
	if math.IsNaN(r.CoilDepth) {
		return r.Depth
	}
	return r.CoilDepth
}

// OnLine reports whether the reading belongs to a line rather than being a
// point of its own.
func (r *Reading) OnLine() bool { return r.Feature == "" && r.Method != Sonde }

// A SetAside is a row that could not be read.
type SetAside struct {
	File   string
	Row    int    // line in the source
	Column string // "" when the whole row is meant
	Found  string // the text found there, shortened
	Reason string
}

// Log is everything read from one or more readings logs.
type Log struct {
	Readings []Reading
	Aside    []SetAside // rows that could not be read; len(Readings)+len(Aside) = Rows
	Cells    []SetAside // cells that could not be read, in rows that were
	Rows     int        // data rows seen
	Warnings []string   // remarks about whole files: columns not used, zone assumed, …
}
