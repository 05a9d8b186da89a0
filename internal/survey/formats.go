package survey

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"tracemap/export"
	"tracemap/export/report"
	"tracemap/geodesy"
	"tracemap/result"
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
func ParseCRS(text string) (*geodesy.CRS, error) { return ParseCRSOn(text, nil) }

// ParseCRSOn is ParseCRS for a system whose datum a correction grid leads to; with
// a grid of nil it is ParseCRS.
func ParseCRSOn(text string, grid *geodesy.ShiftGrid) (*geodesy.CRS, error) {
	crs, err := geodesy.ParseCRSOn(text, grid)
	if err != nil {
		return nil, err
	}
	if crs.Distorts() {
		return nil, fmt.Errorf("EPSG:%d cannot be used: it is Web Mercator, made for pictures: it stretches lengths by 1/cos(latitude), 1.6 times at 51 degrees; take the UTM or national zone", crs.Code())
	}
	if crs.Code() == 4326 {
		return nil, nil
	}
	return crs, nil
}

// RefuseDegrees refuses formats that are of no use in degrees where such a
// coordinate system, nil for WGS 84, was asked for by name.
func RefuseDegrees(formats []export.Format, crs *geodesy.CRS) error {
	if crs != nil && crs.IsProjected() {
		return nil
	}
	name := "EPSG:4326 (WGS 84)"
	if crs != nil {
		name = crs.String()
	}
	for _, f := range formats {
		if f.Projected {
			return fmt.Errorf("%s is of no use in degrees, and %s is in degrees", strings.ToUpper(f.Name), name)
		}
	}
	return nil
}

// Write writes the day's map m, as Map gave it, into a folder that is there, in
// the formats of the options.
func (d *Day) Write(ctx context.Context, dir string, m *result.Map) error {
	var plain, projected []export.Format
	for _, f := range d.opt.Formats {
		if f.Projected && d.needsGrid() {
			projected = append(projected, f)
		} else {
			plain = append(plain, f)
		}
	}
	if err := export.Write(ctx, dir, m, plain, export.Options{CRS: d.opt.CRS}); err != nil || len(projected) == 0 {
		return err
	}
	crs, err := geodesy.ParseCRS(d.zone(m.Place))
	if err != nil {
		return fmt.Errorf("%s needs a projected coordinate system: name one with --crs", projected[0].Name)
	}
	return export.Write(ctx, dir, m, projected, export.Options{CRS: crs})
}

// needsGrid reports whether formats that are of no use in degrees have to be
// given a map grid.
func (d *Day) needsGrid() bool { return d.opt.CRS == nil || !d.opt.CRS.IsProjected() }

// zone names the UTM system about a place in the frame of the coordinate system of
// the other formats, so that the files of one folder lie on each other in a GIS.
func (d *Day) zone(place *geodesy.Local) string {
	if crs := d.opt.CRS; crs != nil && place != nil && crs.Frame().Alone() {
		return widest(place.Origin(), crs.Frame())
	}
	if crs := d.opt.CRS; crs != nil && place != nil {
		if code, err := geodesy.UTMCode(place.Origin(), crs.Frame()); err == nil {
			return fmt.Sprintf("EPSG:%d", code)
		}
	}
	return export.Zone(&result.Map{Place: place})
}

// widest names the map grid of a frame that stands alone, about a place: its zone
// of UTM, else the one whose area of use is the largest, which is the country's.
func widest(at geodesy.Geo, frame geodesy.Frame) string {
	systems, err := geodesy.CRSAt(at)
	if err != nil {
		return ""
	}
	name, size := "the national grid's", 0.0
	for _, c := range systems {
		if c.Frame() != frame {
			continue
		}
		if strings.Contains(c.Name(), "UTM") {
			return fmt.Sprintf("EPSG:%d", c.Code())
		}
		a := c.Area()
		if s := math.Mod(a.East-a.West+360, 360) * (a.North - a.South); s > size {
			name, size = fmt.Sprintf("EPSG:%d", c.Code()), s
		}
	}
	return name
}

// gridWarnings tell which grid a format was given that is of no use in degrees.
func (d *Day) gridWarnings() []string {
	if !d.needsGrid() {
		return nil
	}
	var out []string
	for _, f := range d.opt.Formats {
		if f.Projected {
			out = append(out, fmt.Sprintf("%s is of no use in degrees and was written in %s: name another grid with --crs",
				strings.ToUpper(f.Name), d.zone(d.Located.Plane)))
		}
	}
	return out
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
	if grid := crs.Grid(); grid != nil {
		out = append(out, fmt.Sprintf("%v: its datum was reached from %v by the correction grid %v, whose numbers cannot show whether it is the one published for it", crs, crs.Frame(), grid))
	}
	if a := crs.Accuracy(); a > 0 {
		out = append(out, fmt.Sprintf("%v: its datum is taken as %v, which holds within %.2f m", crs, crs.Frame(), a))
	}
	return out
}
