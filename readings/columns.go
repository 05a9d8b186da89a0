package readings

import "strings"

// A column is one column of the readings log: its name, what else people call
// it, and where its cells go. Names and synonyms are written as headers are
// compared: lower case, words joined by an underscore, without unit.
type column struct {
	name     string
	synonyms []string

	// For measurements: the quantity, the field, and the range outside which a
	// number is no such measurement at all (implausible ones are kept, and
	// flagged in check.go). inside == nil accepts every number.
	quantity *quantity
	written  string // unit of our own name, where it is not the quantity's first
	field    func(*Reading) *float64
	inside   func(float64) bool
	outside  string // reason given when it is not
	// word takes a cell without figures; known is false for a word it does not
	// know. Nil where only numbers are written.
	word func(rd *rowReader, r *Reading, cell string) (known bool, reason string)

	// For texts: what to do with a cell that is not blank; it returns the reason
	// why the row cannot be read, or "".
	set func(rd *rowReader, r *Reading, cell string) string
}

// The columns of time are read together, and so are not in the table.
var (
	timeNames = []string{"time", "timestamp", "date_time", "datetime", "local_time", "reading_time",
		"time_of_reading", "utc", "utc_time", "time_utc", "timestamp_utc", "datetime_utc", "date_time_utc"}
	dateNames  = []string{"date", "reading_date", "survey_date", "local_date", "date_utc", "utc_date"}
	clockNames = []string{"time_of_day", "clock"} // beside a date
)

// columnTable lists every other column once. A synonym is a term of the trade or of a
// standard, never one product's; "cover" is none for depth, because it is
// measured to the top of the pipe. Words of other languages are in languages.go.
var columnTable = []column{
	{name: "line", synonyms: []string{"line_id", "line_name", "line_no", "line_number", "run", "run_id", "run_name", "run_no"},
		set: func(rd *rowReader, r *Reading, cell string) string { r.Line = rd.intern(cell); return "" }},
	{name: "utility", synonyms: []string{"utility_type", "service", "service_type"}, set: setUtility},
	{name: "method", synonyms: []string{"locate_method", "signal_method", "connection"}, set: setMethod},
	{name: "response", synonyms: []string{"antenna_mode", "coil_mode", "antenna_response"}, set: setResponse},
	{name: "mode", synonyms: []string{"locate_mode", "locator_mode"}, set: setMode},
	{name: "frequency", synonyms: []string{"freq", "signal_frequency", "active_frequency"},
		quantity: frequencies, field: func(r *Reading) *float64 { return &r.Frequency },
		word: passiveWord},
	{name: "depth", synonyms: []string{"depth_to_centre", "depth_to_center", "centre_depth", "center_depth", "line_depth"},
		quantity: lengths, field: func(r *Reading) *float64 { return &r.Depth }},
	{name: "cover", synonyms: []string{"depth_of_cover", "cover_depth", "depth_to_top", "depth_to_top_of_pipe"},
		quantity: lengths, field: func(r *Reading) *float64 { return &r.Cover }},
	{name: "current", synonyms: []string{"signal_current", "line_current", "current_estimate"},
		quantity: currents, field: func(r *Reading) *float64 { return &r.Current }},
	{name: "signal", synonyms: []string{"signal_strength", "signal_level"},
		quantity: percents, field: func(r *Reading) *float64 { return &r.Signal }},
	{name: "gain", synonyms: []string{"receiver_gain"},
		quantity: decibels, field: func(r *Reading) *float64 { return &r.Gain }},
	{name: "compass", synonyms: []string{"compass_angle", "line_direction"},
		quantity: degrees, field: func(r *Reading) *float64 { return &r.Compass },
		inside: within(-360, 360), outside: "not an angle between -360 and 360 degrees"},
	{name: "null_offset", synonyms: []string{"peak_null_offset", "peak_to_null", "null_to_peak_offset"},
		quantity: lengths, field: func(r *Reading) *float64 { return &r.NullOffset }},
	{name: "bottom_coil", synonyms: []string{"lower_coil", "bottom_antenna", "lower_antenna", "bottom_field"},
		quantity: fields, field: func(r *Reading) *float64 { return &r.BottomCoil }},
	{name: "top_coil", synonyms: []string{"upper_coil", "top_antenna", "upper_antenna", "top_field"},
		quantity: fields, field: func(r *Reading) *float64 { return &r.TopCoil }},
	{name: "coil_spacing", synonyms: []string{"coil_separation", "antenna_spacing"},
		quantity: lengths, field: func(r *Reading) *float64 { return &r.CoilSpacing },
		inside: positive, outside: "a coil spacing must be above zero"},
	{name: "diameter", synonyms: []string{"outside_diameter", "outer_diameter", "od"},
		quantity: lengths, written: "mm", field: func(r *Reading) *float64 { return &r.Diameter },
		inside: notNegative, outside: "a diameter cannot be negative"},
	{name: "feature", synonyms: []string{"feature_type", "fitting", "point_type"}, set: setFeature},
	{name: "measured_depth", synonyms: []string{"pothole_depth", "exposed_depth", "trial_hole_depth"},
		quantity: lengths, field: func(r *Reading) *float64 { return &r.MeasuredDepth },
		inside: notNegative, outside: "a depth measured in a hole cannot be negative"},
	{name: "lat", synonyms: []string{"latitude"},
		quantity: geographic, field: func(r *Reading) *float64 { return &r.Lat },
		inside: within(-90, 90), outside: "not a latitude: outside -90 to 90 degrees"},
	{name: "lon", synonyms: []string{"longitude", "long", "lng"},
		quantity: geographic, field: func(r *Reading) *float64 { return &r.Lon },
		inside: within(-180, 180), outside: "not a longitude: outside -180 to 180 degrees"},
	{name: "easting", synonyms: []string{"east", "e_coordinate", "x_coordinate", "grid_east"},
		quantity: lengths, field: func(r *Reading) *float64 { return &r.Easting }},
	{name: "northing", synonyms: []string{"north", "n_coordinate", "y_coordinate", "grid_north"},
		quantity: lengths, field: func(r *Reading) *float64 { return &r.Northing }},
	{name: "hdop", synonyms: []string{"horizontal_dop"},
		quantity: plain, field: func(r *Reading) *float64 { return &r.HDOP },
		inside: notNegative, outside: "an HDOP cannot be negative"},
	{name: "fix", synonyms: []string{"fix_quality", "fix_type", "gnss_fix", "gps_fix"},
		set: func(rd *rowReader, r *Reading, cell string) string { r.Fix = rd.intern(cell); return "" }},
	{name: "instrument", synonyms: []string{"instrument_id", "instrument_no", "instrument_serial", "locator", "locator_id", "locator_serial",
		"device", "device_id", "device_serial", "serial", "serial_no", "serial_number", "receiver_serial"},
		set: func(rd *rowReader, r *Reading, cell string) string { r.Instrument = rd.intern(cell); return "" }},
	{name: "note", synonyms: []string{"notes", "comment", "comments", "remark", "remarks"},
		set: func(rd *rowReader, r *Reading, cell string) string { r.Note = strings.Clone(cell); return "" }},
}

func within(lo, hi float64) func(float64) bool {
	return func(v float64) bool { return v >= lo && v <= hi }
}

func positive(v float64) bool    { return v > 0 }
func notNegative(v float64) bool { return v >= 0 }

// ownName is the column's name as the documentation writes it, with its unit.
func (c *column) ownName() string {
	switch {
	case c.quantity == nil || c.quantity.bare:
		return c.name
	case c.written != "":
		return c.name + "_" + c.written
	}
	return c.name + "_" + c.quantity.units[0].name
}

// columnNamed gives the column of that name or synonym, in whatever language, or nil.
func columnNamed(stem string) *column {
	name, known := headerWords()[unaccent(stem)]
	if !known {
		return nil
	}
	return columnOf(name)
}

// calls reports whether a name, with a unit or without, is the column's own or a synonym
// in English: those that a map may use.
func (c *column) calls(name string) bool {
	for _, n := range append([]string{c.name}, c.synonyms...) {
		if name == n || strings.HasPrefix(name, n+"_") {
			return true
		}
	}
	return false
}

// columnOf gives the column of one of our names, or nil.
func columnOf(name string) *column {
	for i := range columnTable {
		if columnTable[i].name == name {
			return &columnTable[i]
		}
	}
	return nil
}
