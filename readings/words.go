package readings

import (
	"strings"
	"unicode"
)

// The words of the log's four vocabularies and what the trade also calls them.
// The first word of a row is ours. Colour groups follow the uniform colour code
// (APWA/ANSI Z535.1: sewer and drain lines green, and so on); a clamp couples
// by induction, and so counts as induction.
var (
	utilityWords = [][]string{
		{"water", "potable_water", "potable", "drinking_water", "water_main", "watermain", "fire_main", "fire_water"},
		{"reclaimed_water", "reclaimed", "recycled_water", "irrigation", "slurry"},
		{"sewer", "sewage", "foul", "foul_sewer", "foul_water", "sanitary", "sanitary_sewer", "wastewater", "waste_water",
			"combined_sewer", "rising_main", "force_main"},
		{"storm", "storm_water", "stormwater", "storm_sewer", "storm_drain", "surface_water"},
		{"gas", "natural_gas", "gas_main"},
		{"oil", "petroleum", "fuel", "crude_oil"},
		{"steam", "heating", "district_heating"},
		{"electric", "electricity", "electrical", "power", "power_cable", "hv", "mv", "lv", "high_voltage", "low_voltage"},
		{"lighting", "street_light", "street_lights", "street_lighting", "streetlight", "streetlighting"},
		{"communications", "communication", "comms", "telecom", "telecoms", "telecommunication", "telecommunications",
			"telephone", "phone", "fibre", "fiber", "fibre_optic", "fiber_optic", "optical_fibre", "catv", "cable_tv", "data"},
		{"unknown", "unidentified", "other", "none"},
	}
	methodWords = [][]string{
		{"direct", "direct_connection", "direct_connect", "connected", "conductive", "galvanic"},
		{"induction", "inductive", "induced", "clamp", "signal_clamp", "inductive_clamp", "coupler"},
		{"passive", "power", "mains", "radio", "passive_power", "passive_radio", "cp", "cathodic_protection",
			"50hz", "60hz", "50_hz", "60_hz"},
		{"sonde", "duct_sonde", "beacon"},
	}
	responseWords = [][]string{
		{"peak", "maximum", "max", "differential", "differential_peak", "twin_coil", "twin_coil_peak"},
		{"null", "minimum", "min"},
		{"omni", "omnidirectional", "total_field", "total"},
		{"single", "single_coil", "single_coil_peak", "single_antenna", "broad_peak"},
	}
	// Features outside this table are kept as written, in lower case.
	featureWords = [][]string{
		{"", "none", "line", "reading", "no"},
		{"valve", "gate_valve", "stop_valve", "stopcock"},
		{"tee", "t", "t_piece", "branch"},
		{"bend", "elbow", "corner"},
		{"end", "end_cap", "cap", "stop_end"},
		{"marker", "marker_ball", "buried_marker", "electronic_marker"},
		{"fault", "fault_find", "coating_defect"},
		{"pothole", "pot_hole", "trial_hole", "trial_pit", "test_hole", "vacuum_hole", "daylight"},
		{"sync", "sync_mark", "time_mark", "clock_mark"},
	}
	// frequencyWords are what a locator shows instead of a figure in passive
	// modes.
	frequencyWords = [][]string{
		{"passive", "power", "mains", "radio"},
	}
)

// normalise writes a header or a word as it is compared: lower case, and one
// underscore for everything that is neither letter nor figure, so that
// "Depth (m)", "DEPTH_M" and "depth m" are one. The signs % and ° are the units
// pct and deg.
func normalise(s string) string {
	var b strings.Builder
	gap := false
	write := func(word string) {
		if gap && b.Len() > 0 {
			b.WriteByte('_')
		}
		gap = false
		b.WriteString(word)
	}
	for _, r := range s {
		switch {
		case r == '%':
			gap = true
			write("pct")
			gap = true
		case r == '°':
			gap = true
			write("deg")
			gap = true
		case r == 'µ' || r == 'μ': // micro sign and Greek mu
			write("u")
		case unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r):
			write(string(unicode.ToLower(r)))
		default:
			gap = true
		}
	}
	return b.String()
}

// saysNoFix reports whether a fix, as logged, says that its position is none of a
// receiver's: the qualities 0, 7 (manual input) and 8 (simulator) of NMEA 0183's GGA,
// or words for them (common practice, no source).
func saysNoFix(fix string) bool {
	switch normalise(fix) {
	case "0", "none", "no_fix", "nofix", "invalid", "7", "manual", "8", "simulator", "simulated":
		return true
	}
	return false
}
