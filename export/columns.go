package export

import (
	"math"

	"tracemap/fuse"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/result"
)

// partColumns are the fields of the layer lines. Names are a promise to those
// who build on the files: add rows at the end, rename none.
var partColumns = []column[partRow]{
	{Name: "line_id", DBF: "line_id", Meaning: "Name of the line, as the locator gave it or as grouped by attributes and place.",
		Standard: "MUDDI objectID; INSPIRE inspireId (local part)", Get: func(r *partRow) cell { return text(r.line.ID) }},
	{Name: "part", DBF: "part", Kind: intKind, Meaning: "Number of the part within the line, from 1. A line is cut into parts where readings are too far apart to be joined.",
		Get: func(r *partRow) cell { return integer(r.part.Number) }},
	{Name: "utility", DBF: "utility", Meaning: "Kind of utility: water, reclaimed_water, sewer, storm, gas, oil, steam, electric, lighting, communications, unknown.",
		Standard: "MUDDI utilityType; INSPIRE utilityNetworkType (both by a table of words)", Get: func(r *partRow) cell { return text(r.line.Utility) }},
	{Name: "method", DBF: "method", Meaning: "How the signal came onto the line: direct, induction, passive, sonde.",
		Get: func(r *partRow) cell { return text(r.line.Method) }},
	{Name: "frequency_hz", DBF: "freq_hz", Kind: realKind, Decimals: 1, Unit: "Hz", Meaning: "Frequency of the signal; blank when mixed or unknown.",
		Get: func(r *partRow) cell { return number(r.line.Frequency) }},
	{Name: "readings", DBF: "readings", Kind: intKind, Meaning: "Readings that took part in the fit of this part.",
		Get: func(r *partRow) cell { return integer(r.part.Readings) }},
	{Name: "length_m", DBF: "length_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Length along the part in plan, on the ellipsoid.",
		Get: func(r *partRow) cell { return number(r.part.Length()) }},
	{Name: "depth_min_m", DBF: "dep_min_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Smallest fitted depth from the surface of that day to the utility's electrical centre.",
		Standard: "none: MUDDI's depth goes to the top of the asset, this one to its centre", Get: func(r *partRow) cell { return number(r.DepthMin) }},
	{Name: "depth_max_m", DBF: "dep_max_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Largest fitted depth, likewise.",
		Standard: "none, as depth_min_m", Get: func(r *partRow) cell { return number(r.DepthMax) }},
	{Name: "half_width_mean_m", DBF: "hw_mean_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Mean along the part of half_width_m (see vertices).",
		Get: func(r *partRow) cell { return number(r.HalfMean) }},
	{Name: "half_width_max_m", DBF: "hw_max_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Largest half_width_m on the part.",
		Standard: "near to MUDDI horizontalAccuracy, which is a 95 % circle; this one is measured across the line only", Get: func(r *partRow) cell { return number(r.HalfMax) }},
	{Name: "depth_95_max_m", DBF: "dep95max_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Largest depth_95_m on the part: 95 % bound of the depth.",
		Standard: "MUDDI verticalAccuracy (95 % linear error), of the depth and not of the height", Get: func(r *partRow) cell { return number(r.Depth95Max) }},
	{Name: "class", DBF: "class", Meaning: "Accuracy class suggested under the scheme asked for; a licensed professional decides.",
		Standard: "MUDDI qualityLevel, where the scheme is one of its lists", Get: func(r *partRow) cell { return text(r.Class) }},
	{Name: "scheme", DBF: "scheme", Meaning: "Scheme of the accuracy classes: pas128, as5488, fr2012, none.",
		Get: func(r *partRow) cell { return text(r.m.Meta.Scheme) }},
	{Name: "surveyed_from", DBF: "surv_from", Kind: timeKind, Unit: "UTC", Meaning: "Time of the part's first reading, the locator's clock corrected.",
		Standard: "MUDDI dateDataCollected; INSPIRE validFrom is something else", Get: func(r *partRow) cell { return moment(r.part.From) }},
	{Name: "surveyed_to", DBF: "surv_to", Kind: timeKind, Unit: "UTC", Meaning: "Time of the part's last reading.",
		Get: func(r *partRow) cell { return moment(r.part.To) }},
	{Name: "frame", DBF: "frame", Meaning: "Reference frame of all that is in the file: coordinates, heights, and longitudes, latitudes and heights in fields. Positions were brought into it from the frame of the receiver's corrections.",
		Standard: "MUDDI horizontalCRS", Get: func(r *partRow) cell { return text(r.to.frameName(r.m)) }},
	{Name: "flags", DBF: "flags", Empty: true, Meaning: "Remarks on the line, the part and its vertices, joined by semicolons; see the table of flags.",
		Get: func(r *partRow) cell { return text(r.Flags.String()) }},
	{Name: "job", DBF: "job", Meaning: "Job, as given.", Get: func(r *partRow) cell { return text(r.m.Meta.Job) }},
	{Name: "operator", DBF: "operator", Meaning: "Who located, as given.", Get: func(r *partRow) cell { return text(r.m.Meta.Operator) }},
	{Name: "source", DBF: "source", Meaning: "Input files.", Get: func(r *partRow) cell { return text(r.m.Meta.Source) }},
	{Name: "caution", DBF: "caution", Meaning: "The caution that goes with every estimate.", Get: func(*partRow) cell { return text(present.Caution) }},
	{Name: "gnss_fix", DBF: "gnss_fix", Meaning: "Weakest kind of fix that the part rests on: rtk_fixed, rtk_float, pps, differential, autonomous, estimated, manual, simulator, none, unknown.",
		Get: func(r *partRow) cell { return text(r.Weakest.String()) }},
	{Name: "current_min_ma", DBF: "cur_min_ma", Kind: realKind, Decimals: 2, Unit: "mA", Meaning: "Smallest fitted current.",
		Get: func(r *partRow) cell { return number(r.CurrentMin) }},
	{Name: "current_max_ma", DBF: "cur_max_ma", Kind: realKind, Decimals: 2, Unit: "mA", Meaning: "Largest fitted current.",
		Get: func(r *partRow) cell { return number(r.CurrentMax) }},
	{Name: "instrument", DBF: "instrument", Meaning: "Instrument, as given.", Get: func(r *partRow) cell { return text(r.m.Meta.Instrument) }},
	{Name: "note", DBF: "note", Meaning: "Note on the job, as given.", Get: func(r *partRow) cell { return text(r.m.Meta.Note) }},
	{Name: "diameter_mm", DBF: "diam_mm", Kind: realKind, Decimals: 1, Unit: "mm", Meaning: "Outside diameter, as logged; blank when not known or not the same all along.",
		Standard: "INSPIRE pipeDiameter; MUDDI outsideWidth", Get: func(r *partRow) cell { return number(r.diameter() * 1000) }},
	{Name: "cover_min_m", DBF: "cov_min_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Smallest depth from the surface of that day to the top: depth to the centre less half the outside diameter; blank where the diameter is not known.",
		Standard: "MUDDI depth", Get: func(r *partRow) cell { return number(r.CoverMin) }},
	{Name: "cover_max_m", DBF: "cov_max_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Largest depth to the top, likewise.",
		Standard: "MUDDI depth", Get: func(r *partRow) cell { return number(r.CoverMax) }},
}

// diameter is the part's outside diameter, m; NaN when it changes or is not known.
func (r *partRow) diameter() float64 {
	if r.DiameterMin != r.DiameterMax {
		return math.NaN()
	}
	return r.DiameterMin
}

// corridorFields names the fields of lines that the layer corridors repeats.
var corridorFields = []string{
	"line_id", "part", "utility", "method", "half_width_mean_m", "half_width_max_m", "depth_min_m", "depth_max_m",
	"depth_95_max_m", "class", "scheme", "surveyed_from", "surveyed_to", "frame", "flags", "job", "operator", "source", "caution",
	"diameter_mm", "cover_min_m", "cover_max_m",
}

// corridorColumns are the fields of the layer corridors.
var corridorColumns = pick(partColumns, corridorFields)

// pick gives the columns of the given names, in the order of the names.
func pick[R any](from []column[R], names []string) []column[R] {
	var out []column[R]
	for _, name := range names {
		for _, c := range from {
			if c.Name == name {
				out = append(out, c)
			}
		}
	}
	return out
}

// vertexColumns are the fields of the layer vertices.
var vertexColumns = []column[vertexRow]{
	{Name: "line_id", DBF: "line_id", Meaning: "Name of the line.", Get: func(r *vertexRow) cell { return text(r.line.ID) }},
	{Name: "part", DBF: "part", Kind: intKind, Meaning: "Number of the part within the line.", Get: func(r *vertexRow) cell { return integer(r.part.Number) }},
	{Name: "vertex", DBF: "vertex", Kind: intKind, Meaning: "Number of the vertex within the part, from 1.", Get: func(r *vertexRow) cell { return integer(r.number) }},
	{Name: "station_m", DBF: "station_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Distance along the part from its first vertex, in plan.",
		Standard: "linear reference of ISO 19148 (absolute distance)", Get: func(r *vertexRow) cell { return number(r.vertex.Station) }},
	{Name: "lon", DBF: "lon", Kind: realKind, Decimals: 9, Unit: "°", Meaning: "Longitude, east positive, in the frame of lines.", Get: func(r *vertexRow) cell { return number(r.ground.Lon) }},
	{Name: "lat", DBF: "lat", Kind: realKind, Decimals: 9, Unit: "°", Meaning: "Latitude, north positive.", Get: func(r *vertexRow) cell { return number(r.ground.Lat) }},
	{Name: "ground_height_m", DBF: "ground_h_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Ellipsoidal height of the surface on that day.", Get: func(r *vertexRow) cell { return number(r.ground.H) }},
	{Name: "depth_m", DBF: "depth_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Fitted depth from the surface of that day to the utility's electrical centre.",
		Standard: "none: MUDDI's depth goes to the top of the asset; see cover_m", Get: func(r *vertexRow) cell { return number(r.vertex.Depth) }},
	{Name: "height_m", DBF: "height_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Ellipsoidal height of the utility's electrical centre: ground_height_m − depth_m.", Get: func(r *vertexRow) cell { return number(r.ground.H - r.vertex.Depth) }},
	{Name: "half_width_m", DBF: "half_w_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "95 % of the time the true line lies within this distance, measured across the line on either side (1.96 σ).",
		Standard: "near to MUDDI horizontalAccuracy, which is a 95 % circle", Get: func(r *vertexRow) cell { return number(present.HalfWidth(r.vertex.Sigma)) }},
	{Name: "depth_95_m", DBF: "depth_95_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "95 % of the time the true depth lies within this distance of depth_m (1.96 σ).",
		Standard: "MUDDI verticalAccuracy (95 % linear error), of the depth and not of the height", Get: func(r *vertexRow) cell { return number(result.DepthBound(r.vertex)) }},
	{Name: "current_ma", DBF: "current_ma", Kind: realKind, Decimals: 2, Unit: "mA", Meaning: "Fitted current.", Get: func(r *vertexRow) cell { return number(r.vertex.Current) }},
	{Name: "flags", DBF: "flags", Empty: true, Meaning: "Remarks on this place, joined by semicolons.", Get: func(r *vertexRow) cell { return text(r.vertex.Flags.String()) }},
	{Name: "utility", DBF: "utility", Meaning: "Kind of utility, as in lines.", Get: func(r *vertexRow) cell { return text(r.line.Utility) }},
	{Name: "cover_m", DBF: "cover_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Depth to the top: depth_m − half the outside diameter; blank where the diameter is not known.",
		Standard: "MUDDI depth", Get: func(r *vertexRow) cell { return number(result.Cover(r.vertex)) }},
	{Name: "height_95_m", DBF: "heigh_95_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "95 % bound of height_m: ground and depth together.",
		Standard: "MUDDI verticalAccuracy (95 % linear error)", Get: func(r *vertexRow) cell { return number(height95(r.vertex)) }},
	{Name: "gnss_fix", DBF: "gnss_fix", Meaning: "Weakest kind of fix that this place rests on.", Get: func(r *vertexRow) cell { return text(r.vertex.Quality.String()) }},
	{Name: "class", DBF: "class", Meaning: "Accuracy class suggested for this place under the scheme asked for; a licensed professional decides.",
		Standard: "MUDDI qualityLevel, where the scheme is one of its lists", Get: func(r *vertexRow) cell { return text(result.VertexClass(r.m, r.line, r.vertex)) }},
	{Name: "scheme", DBF: "scheme", Meaning: "Scheme of the accuracy classes: pas128, as5488, fr2012, none.", Get: func(r *vertexRow) cell { return text(r.m.Meta.Scheme) }},
	{Name: "diameter_mm", DBF: "diam_mm", Kind: realKind, Decimals: 1, Unit: "mm", Meaning: "Outside diameter, as logged.",
		Standard: "INSPIRE pipeDiameter; MUDDI outsideWidth", Get: func(r *vertexRow) cell { return number(r.vertex.Diameter * 1000) }},
	{Name: "ground_orthometric_m", DBF: "ground_o_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Height of the surface above the receiver's own geoid (near to sea level): ground_height_m − geoid_separation_m; blank where the receiver told none.",
		Get: func(r *vertexRow) cell { return number(r.vertex.Ground.H - r.geoid) }},
	{Name: "height_orthometric_m", DBF: "height_o_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Height of the utility's electrical centre above the receiver's own geoid: height_m − geoid_separation_m.",
		Get: func(r *vertexRow) cell { return number(result.Height(r.vertex) - r.geoid) }},
	{Name: "geoid_separation_m", DBF: "geoid_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Height of the receiver's own geoid above the ellipsoid of the frame that the field frame names, as the receiver told it.",
		Get: func(r *vertexRow) cell { return number(r.geoid + r.ground.H - r.vertex.Ground.H) }},
	{Name: "frame", DBF: "frame", Meaning: "Reference frame of lon, lat and the heights, as in lines.", Get: func(r *vertexRow) cell { return text(r.to.frameName(r.m)) }},
}

func height95(v *fuse.Vertex) float64 {
	if !present.Known(result.Height(v)) {
		return math.NaN()
	}
	return present.Depth95(math.Hypot(v.SigmaH, v.SigmaDepth))
}

// logged makes the getter of something that the readings log gives; a row that
// could not be read gives nothing.
func logged(get func(*readings.Reading) cell) func(*readingRow) cell {
	return func(r *readingRow) cell {
		if r.aside != nil {
			return cell{Num: math.NaN()}
		}
		return get(r.placed.Reading)
	}
}

// located makes the getter of something that only a placed reading has.
func located(get func(*readingRow) cell) func(*readingRow) cell {
	return func(r *readingRow) cell {
		if r.aside != nil || !r.placed.OK {
			return cell{Num: math.NaN()}
		}
		return get(r)
	}
}
