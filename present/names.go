package present

import (
	"strings"

	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
)

// Caution is printed on everything that a person reads.
const Caution = "Estimate from electromagnetic locating; not a clearance to dig. Ask the one-call or records service first, expose by hand or vacuum, follow local codes; a licensed professional decides."

// RemarkWord is a remark's name in words.
func RemarkWord(name string) string { return strings.ReplaceAll(name, "_", " ") }

// RemarkWords lists remarks in words.
func RemarkWords(s remarks.Set) string { return RemarkWord(strings.Join(s.Names(), ", ")) }

// MethodName says how the signal came onto the line.
func MethodName(m readings.Method) string {
	switch m {
	case readings.Direct:
		return "direct connection"
	case readings.Induction:
		return "induction"
	case readings.Passive:
		return "passive signal"
	case readings.Sonde:
		return "sonde"
	}
	return "not given"
}

// FixName is a fix quality before people.
func FixName(q nmea.Quality) string {
	switch q {
	case nmea.QualityRTKFixed:
		return "RTK fixed"
	case nmea.QualityRTKFloat:
		return "RTK float"
	case nmea.QualityDGPS:
		return "differential"
	case nmea.QualityPPS:
		return "PPS"
	case nmea.QualityNone:
		return "no fix"
	}
	return q.String()
}
