package export_test

import (
	"testing"

	"tracemap/export"
	"tracemap/geodesy"
	"tracemap/internal/lab/invented"
)

// The bytes of a small day, to be read in review: what changes here changes in
// users' files.
func TestGolden(t *testing.T) {
	m := invented.Day(geodesy.Geo{Lat: 45.25, Lon: -27.5, H: 62})
	m.Readings = m.Readings[:12] // few enough to read
	for _, f := range []struct{ format, file string }{
		{"geojson", "lines.geojson"}, {"geojson", "corridors.geojson"}, {"geojson", "readings.geojson"},
		{"csv", "lines.csv"}, {"csv", "vertices.csv"}, {"csv", "readings.csv"},
		{"kml", "map.kml"}, {"gpx", "revisit.gpx"}, {"summary", "summary.json"},
	} {
		t.Run(f.file, func(t *testing.T) {
			golden(t, f.file, read(t, write(t, m, format(t, f.format), export.Options{}), f.file))
		})
	}
}
