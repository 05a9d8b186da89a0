package export

import (
	"math"
	"path/filepath"

	"tracemap/present"
	"tracemap/readings"
)

// readingColumns are the fields of the layer readings: the columns of the
// readings log in SI, then where each reading came to lie. The log's own lat and
// lon are called logged_lat and logged_lon, for lon and lat are tracemap's.
var readingColumns = []column[readingRow]{
	{Name: "time", DBF: "time", Kind: timeKind, Decimals: 3, Unit: "UTC of the locator's clock", Meaning: "When the reading was taken by the locator's own clock, in its zone; not corrected.", Get: logged(func(r *readings.Reading) cell { return moment(r.Time) })},
	{Name: "line", DBF: "line", Meaning: "Line or run name that the locator gave.", Get: logged(func(r *readings.Reading) cell { return text(r.Line) })},
	{Name: "utility", DBF: "utility", Meaning: "Kind of utility.", Standard: "MUDDI utilityType (by a table of words)", Get: logged(func(r *readings.Reading) cell { return text(r.Utility) })},
	{Name: "method", DBF: "method", Meaning: "How the signal came onto the line: direct, induction, passive, sonde.", Get: logged(func(r *readings.Reading) cell { return text(r.Method) })},
	{Name: "response", DBF: "response", Meaning: "Response that pointed at the line: peak, null, omni, single.", Get: logged(func(r *readings.Reading) cell { return text(r.Response) })},
	{Name: "frequency_hz", DBF: "freq_hz", Kind: realKind, Decimals: 1, Unit: "Hz", Meaning: "Frequency of the signal.", Get: logged(func(r *readings.Reading) cell { return number(r.Frequency) })},
	{Name: "depth_m", DBF: "depth_m", Kind: realKind, Decimals: 4, Unit: "m", Meaning: "Depth as logged, ground surface to electrical centre.", Get: logged(func(r *readings.Reading) cell { return number(r.Depth) })},
	{Name: "current_ma", DBF: "current_ma", Kind: realKind, Decimals: 3, Unit: "mA", Meaning: "Current as logged.", Get: logged(func(r *readings.Reading) cell { return number(r.Current) })},
	{Name: "signal_pct", DBF: "signal_pct", Kind: realKind, Decimals: 2, Unit: "%", Meaning: "Signal as shown.", Get: logged(func(r *readings.Reading) cell { return number(r.Signal) })},
	{Name: "gain_db", DBF: "gain_db", Kind: realKind, Decimals: 2, Unit: "dB", Meaning: "Gain as shown.", Get: logged(func(r *readings.Reading) cell { return number(r.Gain) })},
	{Name: "compass_deg", DBF: "compas_deg", Kind: realKind, Decimals: 2, Unit: "°", Meaning: "Direction of the line as shown.", Get: logged(func(r *readings.Reading) cell { return number(r.Compass) })},
	{Name: "null_offset_m", DBF: "null_off_m", Kind: realKind, Decimals: 4, Unit: "m", Meaning: "Signed distance across the line from the peak's place to the null's.", Get: logged(func(r *readings.Reading) cell { return number(r.NullOffset) })},
	{Name: "bottom_coil", DBF: "bot_coil", Kind: realKind, Decimals: 6, Unit: "as logged", Meaning: "Raw field at the lower coil.", Get: logged(func(r *readings.Reading) cell { return number(r.BottomCoil) })},
	{Name: "top_coil", DBF: "top_coil", Kind: realKind, Decimals: 6, Unit: "as logged", Meaning: "Raw field at the upper coil, in the same unit.", Get: logged(func(r *readings.Reading) cell { return number(r.TopCoil) })},
	{Name: "coil_spacing_m", DBF: "coil_sp_m", Kind: realKind, Decimals: 4, Unit: "m", Meaning: "Distance between the two coils.", Get: logged(func(r *readings.Reading) cell { return number(r.CoilSpacing) })},
	{Name: "diameter_mm", DBF: "diam_mm", Kind: realKind, Decimals: 1, Unit: "mm", Meaning: "Outside diameter.", Standard: "INSPIRE pipeDiameter; MUDDI outsideWidth", Get: logged(func(r *readings.Reading) cell { return number(r.Diameter * 1000) })},
	{Name: "feature", DBF: "feature", Meaning: "Empty for a reading on a line; else what the point is: valve, tee, bend, end, marker, fault, pothole, sync or another.", Get: logged(func(r *readings.Reading) cell { return text(r.Feature) })},
	{Name: "measured_depth_m", DBF: "meas_dep_m", Kind: realKind, Decimals: 4, Unit: "m", Meaning: "Depth seen with the eyes in a pothole.", Get: logged(func(r *readings.Reading) cell { return number(r.MeasuredDepth) })},
	{Name: "logged_lat", DBF: "log_lat", Kind: realKind, Decimals: 9, Unit: "°", Meaning: "The reading's own latitude, where the locator logged one (lat in the log).", Get: logged(func(r *readings.Reading) cell { return number(r.Lat) })},
	{Name: "logged_lon", DBF: "log_lon", Kind: realKind, Decimals: 9, Unit: "°", Meaning: "The reading's own longitude (lon in the log).", Get: logged(func(r *readings.Reading) cell { return number(r.Lon) })},
	{Name: "hdop", DBF: "hdop", Kind: realKind, Decimals: 2, Meaning: "Dilution of precision, as logged.", Get: logged(func(r *readings.Reading) cell { return number(r.HDOP) })},
	{Name: "fix", DBF: "fix", Meaning: "Kind of fix, as logged.", Get: logged(func(r *readings.Reading) cell { return text(r.Fix) })},
	{Name: "note", DBF: "note", Meaning: "Free text, as logged.", Get: logged(func(r *readings.Reading) cell { return text(r.Note) })},
	{Name: "utc", DBF: "utc", Kind: timeKind, Decimals: 3, Unit: "UTC", Meaning: "The reading's time with the offset of the locator's clock taken off.", Get: func(r *readingRow) cell {
		if r.aside != nil {
			return cell{}
		}
		return moment(r.placed.UTC)
	}},
	{Name: "lon", DBF: "lon", Kind: realKind, Decimals: 9, Unit: "°", Meaning: "Longitude of the ground under the locator, east positive.", Get: located(func(r *readingRow) cell { return number(r.ground.Lon) })},
	{Name: "lat", DBF: "lat", Kind: realKind, Decimals: 9, Unit: "°", Meaning: "Latitude likewise, north positive.", Get: located(func(r *readingRow) cell { return number(r.ground.Lat) })},
	{Name: "ground_height_m", DBF: "ground_h_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Ellipsoidal height of the ground.", Get: located(func(r *readingRow) cell { return number(r.ground.H) })},
	{Name: "radius_95_m", DBF: "rad_95_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Radius of the circle that holds the located point 95 % of the time, GNSS, pin-pointing and clock together (2.448 σ of the worse axis).",
		Standard: "MUDDI horizontalAccuracy (95 % circular error)", Get: located(func(r *readingRow) cell { return number(present.Radius95(r.placed.Radius)) })},
	{Name: "line_id", DBF: "line_id", Meaning: "Line that the reading was grouped to, or that the point lies on.", Get: func(r *readingRow) cell { return text(r.lineID) }},
	{Name: "part", DBF: "part", Kind: intKind, Meaning: "Part of that line.", Get: func(r *readingRow) cell {
		if r.part == 0 {
			return number(math.NaN())
		}
		return integer(r.part)
	}},
	{Name: "station_m", DBF: "station_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Distance along the part to the reading.", Get: located(func(r *readingRow) cell { return onPart(r, r.placed.Station) })},
	{Name: "offset_m", DBF: "offset_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Distance of the reading from the fitted line, positive left of its drawn direction.", Get: located(func(r *readingRow) cell { return onPart(r, r.placed.Offset) })},
	{Name: "placed", DBF: "placed", Kind: boolKind, Meaning: "Whether the reading got a position.", Get: func(r *readingRow) cell { return truth(r.aside == nil && r.placed.OK) }},
	{Name: "flags", DBF: "flags", Empty: true, Meaning: "Remarks on the reading, joined by semicolons.", Get: func(r *readingRow) cell { return text(r.flagsOf().String()) }},
	{Name: "used", DBF: "used", Kind: boolKind, Meaning: "Whether the reading took part in the fit of its line.", Get: func(r *readingRow) cell { return truth(r.aside == nil && r.placed.Used) }},
	{Name: "gnss_fix", DBF: "gnss_fix", Meaning: "Kind of fix that the position rests on.", Get: located(func(r *readingRow) cell { return text(r.placed.Quality.String()) })},
	{Name: "coil_depth_m", DBF: "coil_dep_m", Kind: realKind, Decimals: 4, Unit: "m", Meaning: "Depth computed from the two coils.", Get: logged(func(r *readings.Reading) cell { return number(r.CoilDepth) })},
	{Name: "coil_current_ma", DBF: "coil_cu_ma", Kind: realKind, Decimals: 3, Unit: "mA", Meaning: "Current computed from the two coils, where their unit is known.", Get: logged(func(r *readings.Reading) cell { return number(r.CoilCurrent) })},
	{Name: "file", DBF: "file", Meaning: "Readings log that the row came from.", Get: func(r *readingRow) cell { return text(filepath.Base(r.file())) }},
	{Name: "row", DBF: "row", Kind: intKind, Meaning: "Line of that file on which the row starts, from 1.", Get: func(r *readingRow) cell { return integer(r.row()) }},
	{Name: "remark", DBF: "remark", Meaning: "Why the row could not be read: column, what was found, reason.", Get: func(r *readingRow) cell { return text(asideRemark(r.aside)) }},
	{Name: "class", DBF: "class", Meaning: "Accuracy class suggested for this reading by itself under the scheme asked for; blank for what was set aside and for points that are no reading of a line. A licensed professional decides.",
		Standard: "MUDDI qualityLevel, where the scheme is one of its lists", Get: func(r *readingRow) cell { return text(r.class()) }},
	{Name: "scheme", DBF: "scheme", Meaning: "Scheme of the accuracy classes: pas128, as5488, fr2012, none.", Get: func(r *readingRow) cell { return text(r.m.Meta.Scheme) }},
	{Name: "cover_m", DBF: "cover_m", Kind: realKind, Decimals: 4, Unit: "m", Meaning: "Depth to the top by this reading: depth_m − half the outside diameter; blank where either is not known.",
		Standard: "MUDDI depth", Get: logged(func(r *readings.Reading) cell { return number(r.Depth - r.Diameter/2) })},
	{Name: "ground_orthometric_m", DBF: "ground_o_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Height of the ground above the receiver's own geoid (near to sea level): ground_height_m − geoid_separation_m.",
		Get: located(func(r *readingRow) cell { return number(r.placed.Geo.H - r.geoid) })},
	{Name: "geoid_separation_m", DBF: "geoid_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Height of the receiver's own geoid above the ellipsoid, as the receiver told it.",
		Get: located(func(r *readingRow) cell { return number(r.geoid + r.ground.H - r.placed.Geo.H) })},
	{Name: "instrument", DBF: "instrument", Meaning: "Instrument that wrote the row, as logged.", Get: logged(func(r *readings.Reading) cell { return text(r.Instrument) })},
	{Name: "frame", DBF: "frame", Meaning: "Reference frame of lon, lat and ground_height_m, as in lines.", Get: func(r *readingRow) cell { return text(r.to.frameName(r.m)) }},
}

// onPart is a value that only a reading on a part has.
func onPart(r *readingRow, v float64) cell {
	if r.placed.Part == 0 {
		return number(math.NaN())
	}
	return number(v)
}

// asideRemark says in one line what was wrong with a row.
func asideRemark(a *readings.SetAside) string {
	switch {
	case a == nil:
		return ""
	case a.Column == "":
		return a.Reason
	}
	return a.Column + ": found \"" + a.Found + "\": " + a.Reason
}
