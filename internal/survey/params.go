package survey

import (
	"fmt"
	"math"
	"strings"
)

// A Param is one thing that people may state about a day. The command's flags with
// their help, man page and completion, the bounds of lengths, and the page's words
// for what messages name come from this table; the page's settings carry the keys.
type Param struct {
	Flag  string   // of the command, without dashes
	Key   string   // in the page's settings
	Value string   // placeholder of its value in help
	Help  string   // what it is; begins in lower case, no full stop
	Page  string   // what the page calls it within a sentence
	Words []string // that it knows; nil for any
	// Length is where a length, m, is kept; nil for what is none. Low and High are the
	// bounds beyond which it is a slip of the keyboard.
	Length    func(*Options) *float64
	Low, High float64
}

// The bounds are those of an antenna on a vehicle's mast and a trench crossed by a
// motorway.
const (
	maxAntennaHeight = 30
	maxLever         = 30
	maxGap           = 10_000
)

// Params lists what may be stated, in the order of help.
var Params = []Param{
	{Flag: "crs", Key: "crs", Value: "EPSG:N", Page: "the coordinate system in the settings",
		Help: "coordinate system of the formats that can carry one; with a --frame fixed to a plate its own geographic system, EPSG:4258 for ETRS89, unless given; GeoJSON and KML stay WGS 84"},
	{Flag: "clock-offset", Key: "clock_offset", Value: "D", Words: []string{"auto", "none"}, Page: "the clock offset in the settings",
		Help: "locator's clock minus UTC, for example 37.4s; auto estimates it, none trusts the clock"},
	{Flag: "sync", Key: "sync", Value: "L=U", Page: "a sync mark in the settings",
		Help: "sync mark: the locator's clock read L when UTC was U, both RFC 3339; repeatable"},
	{Flag: "zone", Key: "zone", Value: "NAME", Page: "the time zone in the settings",
		Help: "IANA zone of reading times that carry no offset; UTC when not given"},
	{Flag: "antenna-height", Key: "antenna_height_m", Value: "M", Page: "the antenna height in the settings",
		Help:   "antenna phase centre above ground, metres",
		Length: func(o *Options) *float64 { return &o.Fuse.AntennaHeight }, Low: 0, High: maxAntennaHeight},
	{Flag: "antenna-forward", Key: "antenna_forward_m", Value: "M", Page: "the antenna's place in the settings",
		Help:   "antenna ahead of the locator in walking direction, metres",
		Length: func(o *Options) *float64 { return &o.Fuse.AntennaForward }, Low: -maxLever, High: maxLever},
	{Flag: "antenna-right", Key: "antenna_right_m", Value: "M", Page: "the antenna's place in the settings",
		Help:   "antenna right of the locator, metres",
		Length: func(o *Options) *float64 { return &o.Fuse.AntennaRight }, Low: -maxLever, High: maxLever},
	{Flag: "frame", Key: "frame", Value: "NAME", Page: "the frame in the settings",
		Help: "reference frame of the receiver's corrections, as NAD83(2011); WGS84 when not given"},
	{Flag: "max-gap", Key: "max_gap_m", Value: "M", Page: "the largest gap in the settings",
		Help:   "readings further apart are not joined, metres",
		Length: func(o *Options) *float64 { return &o.Fuse.MaxGap }, Low: 0, High: maxGap},
	{Flag: "units", Key: "units", Value: "NAME", Words: []string{"metric", "imperial"}, Page: "the units in the settings",
		Help: "units shown to people, metric or imperial; files keep SI"},
	{Flag: "scheme", Key: "scheme", Value: "NAME", Words: append([]string{"none"}, Schemes()...), Page: "the accuracy scheme in the settings",
		Help: "accuracy classes to suggest: " + strings.Join(Schemes(), ", ") + "; a licensed professional decides"},
	{Flag: "job", Key: "job", Value: "TEXT", Page: "the job in the settings", Help: "job, carried into every output"},
	{Flag: "operator", Key: "operator", Value: "TEXT", Page: "the operator in the settings", Help: "who located, carried into every output"},
	{Flag: "instrument", Key: "instrument", Value: "TEXT", Page: "the instrument in the settings", Help: "instrument, carried into every output"},
	{Flag: "note", Key: "note", Value: "TEXT", Page: "the note in the settings", Help: "note on the job, carried into every output"},
}

// ParamOf returns the row of a flag, nil for what is none of these.
func ParamOf(flag string) *Param {
	for i := range Params {
		if Params[i].Flag == flag {
			return &Params[i]
		}
	}
	return nil
}

// check refuses a length outside its bounds, in words: "max gap -1 m: …".
func (p *Param) check(v float64) error {
	if math.IsNaN(v) || v < p.Low || v > p.High {
		return fmt.Errorf("%s %v m: must be between %v and %v m", strings.ReplaceAll(p.Flag, "-", " "), v, p.Low, p.High)
	}
	return nil
}
