package tracks

import (
	"math"
	"strconv"
	"strings"

	"tracemap/nmea"
)

// Radii of a circular normal error as multiples of its σ: √(−2 ln(1 − p)).
var (
	radius68 = math.Sqrt(-2 * math.Log(1-0.68)) // 1.51
	radius95 = math.Sqrt(-2 * math.Log(1-0.95)) // 2.45
	radius50 = math.Sqrt(-2 * math.Log(1-0.50)) // 1.18
)

// carrierSigma is the σ, m, below which a position cannot rest on codes alone, so that
// its kind is at least a float solution where it is not said. Common practice, no source:
// differential codes give some decimetres at best.
const carrierSigma = 0.15

var nan32 = float32(math.NaN())

// epochOf makes an epoch of a record. zoned is false where its time leaves the zone
// open; a reason says why it gives none.
func epochOf(r *record) (e nmea.Epoch, zoned bool, reason string) {
	e = nmea.Epoch{Alt: math.NaN(), Sep: nan32, SigmaN: nan32, SigmaE: nan32, SigmaU: nan32, HDOP: nan32, VDOP: nan32, Age: nan32,
		Speed: nan32, Course: nan32, Heading: nan32, Quality: nmea.QualityUnknown}
	t, zoned, reason := when(r)
	if reason != "" {
		return e, zoned, reason
	}
	e.Nanos = t.UnixNano()
	if e.Lat, reason = angle(r[colLat], r[colLatE7], 90, "latitude"); reason != "" {
		return e, zoned, reason
	}
	if e.Lon, reason = angle(r[colLon], r[colLonE7], 180, "longitude"); reason != "" {
		return e, zoned, reason
	}
	if e.Lat == 0 && e.Lon == 0 {
		return e, zoned, "zeros for latitude and longitude are no place"
	}
	quality, known := fixQuality(r[colFix])
	switch {
	case !known:
	case quality == nmea.QualityNone || quality == nmea.QualityManual || quality == nmea.QualitySimulator:
		return e, zoned, "not a measured position: " + shorten(r[colFix])
	default:
		e.Quality = quality
	}
	if v, ok := value(r[colAlt]); ok {
		e.Alt = v
	}
	if v, ok := value(r[colGeoid]); ok {
		e.Sep = float32(v)
	}
	if v, ok := value(r[colEllipsoid]); ok {
		e.Alt, e.Sep = v, 0
	}
	e.HDOP, e.VDOP, e.SigmaU = positive(r[colHDOP]), positive(r[colVDOP]), positive(r[colSigmaU])
	if v, ok := value(r[colSats]); ok && v >= 0 && v < 100 {
		e.Sats = uint8(v)
	}
	e.SigmaN, e.SigmaE = sigmas(r)
	switch {
	case e.Quality != nmea.QualityUnknown:
	case e.SigmaN < carrierSigma && e.SigmaE < carrierSigma:
		e.Quality = nmea.QualityRTKFloat
	case strings.EqualFold(r[colProvider], "network") || strings.EqualFold(r[colProvider], "cell") || strings.EqualFold(r[colProvider], "wifi"):
		e.Quality = nmea.QualityEstimated // from masts and access points
	}
	return e, zoned, ""
}

// sigmas gives σ towards north and east, m; NaN where nothing is said.
func sigmas(r *record) (n, e float32) {
	n, e = positive(r[colSigmaN]), positive(r[colSigmaE])
	if n == n && e == e {
		return n, e
	}
	for _, c := range []struct {
		col column
		k   float64
	}{{colSigma, 1}, {colRadius95, radius95}, {colRadius68, radius68}, {colCEP, radius50}} {
		if v := positive(r[c.col]); v == v {
			v /= float32(c.k)
			return v, v
		}
	}
	return nan32, nan32
}

// angle reads degrees, with a hemisphere's letter or none, or 10⁻⁷ degrees.
func angle(text, e7 string, limit float64, what string) (float64, string) {
	scale := 1.0
	if text == "" && e7 != "" {
		text, scale = e7, 1e-7
	}
	text = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "°"))
	if text == "" {
		return 0, "no " + what
	}
	switch text[len(text)-1] {
	case 'S', 'W', 's', 'w':
		scale = -scale
		fallthrough
	case 'N', 'E', 'n', 'e':
		text = strings.TrimRight(text[:len(text)-1], " °")
	}
	v, bad := number(text)
	if v *= scale; bad || math.Abs(v) > limit || scale < 0 && v > 0 {
		return 0, "not a " + what + " in degrees: " + strconv.Quote(shorten(text))
	}
	return v, ""
}

// number reads a decimal number, with a comma or a point.
func number(text string) (v float64, bad bool) {
	text = strings.TrimSpace(text)
	if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err != nil || math.IsInf(v, 0) || math.IsNaN(v) || strings.ContainsAny(text, "xXpP_")
}

func value(text string) (float64, bool) {
	if text == "" {
		return 0, false
	}
	v, bad := number(text)
	return v, !bad
}

// positive gives a number above 0; NaN for anything else, for who has no σ and no DOP
// writes 0 or -1.
func positive(text string) float32 {
	if v, ok := value(text); ok && v > 0 && v < 1e6 {
		return float32(v)
	}
	return nan32
}

// fixes are the words for the kind of fix: those of GPX 1.1, the qualities of NMEA
// 0183's GGA, and what the trade says. "rtk" alone leaves open whether integers are fixed.
var fixes = map[string]nmea.Quality{
	"none": nmea.QualityNone, "no": nmea.QualityNone, "no_fix": nmea.QualityNone, "nofix": nmea.QualityNone, "invalid": nmea.QualityNone, "0": nmea.QualityNone,
	"2d": nmea.QualityAutonomous, "3d": nmea.QualityAutonomous, "gps": nmea.QualityAutonomous, "gnss": nmea.QualityAutonomous, "single": nmea.QualityAutonomous,
	"autonomous": nmea.QualityAutonomous, "standalone": nmea.QualityAutonomous, "sps": nmea.QualityAutonomous, "1": nmea.QualityAutonomous,
	"dgps": nmea.QualityDGPS, "dgnss": nmea.QualityDGPS, "differential": nmea.QualityDGPS, "sbas": nmea.QualityDGPS, "2": nmea.QualityDGPS,
	"pps": nmea.QualityPPS, "3": nmea.QualityPPS,
	"rtk_fixed": nmea.QualityRTKFixed, "rtk_fix": nmea.QualityRTKFixed, "fixed": nmea.QualityRTKFixed, "rtkfixed": nmea.QualityRTKFixed, "4": nmea.QualityRTKFixed,
	"rtk_float": nmea.QualityRTKFloat, "float": nmea.QualityRTKFloat, "rtk": nmea.QualityRTKFloat, "rtkfloat": nmea.QualityRTKFloat, "5": nmea.QualityRTKFloat,
	"estimated": nmea.QualityEstimated, "dead_reckoning": nmea.QualityEstimated, "dr": nmea.QualityEstimated, "6": nmea.QualityEstimated,
	"manual": nmea.QualityManual, "7": nmea.QualityManual, "simulator": nmea.QualitySimulator, "simulated": nmea.QualitySimulator, "8": nmea.QualitySimulator,
}

func fixQuality(text string) (q nmea.Quality, known bool) {
	if text == "" {
		return 0, false
	}
	q, known = fixes[normalise(text)]
	return q, known
}
