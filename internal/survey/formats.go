package survey

import (
	"fmt"
	"slices"
	"strings"

	"tracemap/export"
	"tracemap/export/report"
	"tracemap/geodesy"
)

// always are the files of every map, whatever formats were asked for.
func always() []export.Format { return []export.Format{report.Format()} }

// ParseFormats reads a list of formats such as "geojson,csv" and adds what is
// always written.
func ParseFormats(text string) ([]export.Format, error) {
	var names []string
	for name := range strings.SplitSeq(text, ",") {
		if name = strings.TrimSpace(name); name != "" {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("no format given: there are %s", strings.Join(export.Names(), ", "))
	}
	formats, err := export.Select(names)
	if err != nil {
		return nil, err
	}
	return append(formats, always()...), nil
}

// Ours reports whether a file in an output folder is one that a run, or a
// desktop GIS beside the GeoPackage, writes.
func Ours(name string) bool {
	for _, f := range slices.Concat(export.Formats, export.Always, always()) {
		for _, file := range f.Files {
			if name == file || strings.HasPrefix(name, file+"-") {
				return true
			}
		}
	}
	return false
}

// ParseCRS reads a coordinate system such as EPSG:25832; nil means longitude
// and latitude of WGS 84, which every format carries.
func ParseCRS(text string) (*geodesy.CRS, error) {
	crs, err := geodesy.ParseCRS(text)
	if err != nil {
		return nil, err
	}
	if crs.Code() == 4326 {
		return nil, nil
	}
	return crs, nil
}

// crsWarnings tell of a coordinate system that is not meant for the day's place
// or is not quite what its name says.
func (d *Day) crsWarnings() []string {
	crs := d.opt.CRS
	if crs == nil || len(d.NMEA.Epochs) == 0 {
		return nil
	}
	var out []string
	e := &d.NMEA.Epochs[len(d.NMEA.Epochs)/2]
	if !crs.Area().Contains(geodesy.Geo{Lat: e.Lat, Lon: e.Lon}) {
		out = append(out, fmt.Sprintf("%v is meant for %s, and the day lies outside: its lengths and angles may be off (--crs)", crs, crs.Area().Name))
	}
	if a := crs.Accuracy(); a > 0 {
		out = append(out, fmt.Sprintf("%v: its datum is taken as %v, which holds within %.2f m", crs, crs.Frame(), a))
	}
	return out
}
