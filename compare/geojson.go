package compare

import (
	"encoding/json"
	"fmt"
	"io"
)

type jsonFeature struct {
	Type       string         `json:"type"`
	Geometry   jsonGeometry   `json:"geometry"`
	Properties map[string]any `json:"properties"`
}

type jsonGeometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

func lonLat(lon, lat float64) [2]place { return [2]place{place(lon), place(lat)} }

// writeGeoJSON writes RFC 7946: a Point a station on the record with what
// deviations.csv says of it and both verdicts, and a LineString a station from
// the record to the located line. The property kind tells them apart.
func writeGeoJSON(w io.Writer, r *Result) error {
	if _, err := fmt.Fprintf(w, "{\"type\":\"FeatureCollection\",\"name\":\"deviations\",\"about\":%s,\"features\":[", r.about()); err != nil {
		return err
	}
	first := true
	write := func(f jsonFeature) error {
		text, err := json.Marshal(f)
		if err != nil {
			return err
		}
		if !first {
			text = append([]byte(","), text...)
		}
		first = false
		_, err = w.Write(append([]byte("\n"), text...))
		return err
	}
	for i := range r.Pairs {
		p := &r.Pairs[i]
		for k := range p.Stations {
			s := &p.Stations[k]
			if err := write(jsonFeature{"Feature", jsonGeometry{"Point", lonLat(s.At.Lon, s.At.Lat)}, s.properties(p, "station")}); err != nil {
				return err
			}
			line := [][2]place{lonLat(s.At.Lon, s.At.Lat), lonLat(s.Beside.Lon, s.Beside.Lat)}
			if err := write(jsonFeature{"Feature", jsonGeometry{"LineString", line}, s.properties(p, "difference")}); err != nil {
				return err
			}
		}
	}
	_, err := io.WriteString(w, "\n]}\n")
	return err
}

func (s *Station) properties(p *Pair, kind string) map[string]any {
	return map[string]any{
		"kind": kind, "as_built_id": p.AsBuiltID, "line_id": s.LineID, "part": s.Part, "utility": p.Utility, "station_m": figure(s.Station),
		"lateral_m": figure(s.Lateral), "lateral_95_m": figure(s.Lateral95), "depth_located_m": figure(s.DepthLocated), "depth_as_built_m": figure(s.DepthAsBuilt),
		"depth_diff_m": figure(s.DepthDiff), "depth_95_m": figure(s.Depth95), "verdict": s.Verdict().String(),
		"lateral_verdict": word(s.LateralVerdict), "depth_verdict": word(s.DepthVerdict),
	}
}

// about is what goes with the file as a whole.
func (r *Result) about() string {
	text, err := json.Marshal(map[string]any{
		"tool": r.Options.Tool, "located": r.Located, "as_built": r.AsBuilt, "surveyed": r.Day, "frame": r.site.frame.String(),
		"verdict": r.Sentence(), "caution": r.Options.Caution,
	})
	if err != nil {
		return "{}"
	}
	return string(text)
}
