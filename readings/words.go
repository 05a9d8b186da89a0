package readings

import (
	"slices"
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

// UtilityWords returns the words for each kind of utility, ours first in each row,
// lower case, joined by one underscore.
func UtilityWords() [][]string { return slices.Clone(utilityWords) }

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

// fixFigures are the qualities of NMEA 0183's GGA, and words for them (common
// practice, no source). "RTK" alone may mean either solution and counts as the wider.
var fixFigures = map[string]int{
	"0": 0, "none": 0, "no_fix": 0, "nofix": 0, "invalid": 0,
	"1": 1, "gps": 1, "gnss": 1, "autonomous": 1, "single": 1,
	"2": 2, "dgps": 2, "dgnss": 2, "sbas": 2, "differential": 2,
	"3": 3, "pps": 3,
	"4": 4, "rtk_fixed": 4, "rtk_fix": 4, "fixed": 4,
	"5": 5, "float": 5, "rtk_float": 5, "rtk": 5,
	"6": 6, "estimated": 6, "dead_reckoning": 6,
	"7": 7, "manual": 7,
	"8": 8, "simulator": 8, "simulated": 8,
}

// FixQuality gives GGA's figure of a fix as it was logged, where it is known. One that
// gives a position is believed only where it is written plainly: "RTK??" is not.
func FixQuality(fix string) (gga int, known bool) {
	gga, known = fixFigures[normalise(fix)]
	plain := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune(" _-", r) }
	if known && !givesNoPosition(gga) && strings.ContainsFunc(fix, func(r rune) bool { return !plain(r) }) {
		return 0, false
	}
	return gga, known
}

// givesNoPosition reports whether GGA's figure stands for none, or for one that was
// typed in or simulated.
func givesNoPosition(gga int) bool { return gga == 0 || gga > 6 }
