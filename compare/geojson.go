package compare

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"

	"tracemap/geodesy"
	"tracemap/present"
)

// writeGeoJSON writes RFC 7946: a Point a station on the record with what
// deviations.csv says of it and both verdicts, and a LineString a station from
// the record to the located line. The property kind tells them apart. The text is
// put together by hand: a town has hundreds of thousands of stations.
func writeGeoJSON(w io.Writer, r *Result) error {
	about, err := json.Marshal(map[string]any{
		"tool": r.Options.Tool, "located": r.Located, "as_built": r.AsBuilt, "surveyed": r.Day, "frame": r.site.frame.String(),
		"verdict": r.Sentence(), "caution": present.Caution,
	})
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(w, "{\"type\":\"FeatureCollection\",\"name\":\"deviations\",\"about\":%s,\"features\":[", about); err != nil {
		return err
	}
	var b []byte
	between := "\n"
	for i := range r.Pairs {
		p := &r.Pairs[i]
		pair := append(quoted([]byte(`,"as_built_id":`), p.AsBuiltID), `,"utility":`...)
		pair = quoted(pair, p.Utility)
		for k := range p.Stations {
			s := &p.Stations[k]
			b = append(b[:0], between...)
			between = ",\n"
			b = append(b, `{"type":"Feature","geometry":{"type":"Point","coordinates":`...)
			b = append(appendPlace(b, s.At), `},"properties":{"kind":"station"`...)
			b = s.appendProperties(append(b, pair...))
			b = append(b, ",\n"+`{"type":"Feature","geometry":{"type":"LineString","coordinates":[`...)
			b = append(appendPlace(b, s.At), ',')
			b = append(appendPlace(b, s.Beside), `]},"properties":{"kind":"difference"`...)
			b = s.appendProperties(append(b, pair...))
			if _, err := w.Write(b); err != nil {
				return err
			}
		}
	}
	_, err = io.WriteString(w, "\n]}\n")
	return err
}

// quoted appends a text as a JSON string.
func quoted(b []byte, s string) []byte {
	text, err := json.Marshal(s)
	if err != nil {
		text = []byte(`""`) // a string always marshals
	}
	return append(b, text...)
}

// appendPlace appends a position, to a tenth of a millimetre.
func appendPlace(b []byte, g geodesy.Geo) []byte {
	b = strconv.AppendFloat(append(b, '['), present.Round(g.Lon, 9), 'f', -1, 64)
	b = strconv.AppendFloat(append(b, ','), present.Round(g.Lat, 9), 'f', -1, 64)
	return append(b, ']')
}

// appendProperties appends what is known of a station, and closes the feature.
func (s *Station) appendProperties(b []byte) []byte {
	b = quoted(append(b, `,"line_id":`...), s.LineID)
	b = strconv.AppendInt(append(b, `,"part":`...), int64(s.Part), 10)
	for _, v := range [...]struct {
		name  string
		value float64
	}{
		{"station_m", s.Station}, {"lateral_m", s.Lateral}, {"lateral_95_m", s.Lateral95}, {"depth_located_m", s.DepthLocated},
		{"depth_as_built_m", s.DepthAsBuilt}, {"depth_diff_m", s.DepthDiff}, {"depth_95_m", s.Depth95},
	} {
		b = append(append(append(b, `,"`...), v.name...), `":`...)
		if present.Known(v.value) {
			b = strconv.AppendFloat(b, present.Round(v.value, 3), 'f', -1, 64)
		} else {
			b = append(b, "null"...)
		}
	}
	for _, v := range [...]struct {
		name  string
		value Verdict
	}{{"verdict", s.Verdict()}, {"lateral_verdict", s.LateralVerdict}, {"depth_verdict", s.DepthVerdict}} {
		b = append(append(append(b, `,"`...), v.name...), `":`...)
		if v.value == Unjudged {
			b = append(b, "null"...)
		} else {
			b = append(append(append(b, '"'), v.value.String()...), '"')
		}
	}
	return append(b, "}}"...)
}
