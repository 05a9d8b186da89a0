package export

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"tracemap/geodesy"
	"tracemap/internal/parallel"
	"tracemap/result"
)

// Options of Write.
type Options struct {
	// CRS is the coordinate system of the formats that can carry one; nil for
	// longitude and latitude of WGS 84.
	CRS *geodesy.CRS
}

// A Format is a way to write a map.
type Format struct {
	Name  string   // as asked for
	Files []string // what it writes
	CRS   bool     // can carry a coordinate system other than longitude and latitude
	// Projected formats need a coordinate system in metres or feet: callers should
	// refuse them without one before any work is done.
	Projected bool
	Write     func(ctx context.Context, dir string, m *result.Map, opt Options) error
}

// Formats lists the formats that may be asked for, in the order of help texts.
// To add one, add a row and a file.
var Formats = []Format{
	{Name: "geojson", Files: []string{"lines.geojson", "corridors.geojson", "readings.geojson"}, Write: writeGeoJSON},
	{Name: "kml", Files: []string{"map.kml"}, Write: writeKML},
	{Name: "kmz", Files: []string{"map.kmz"}, Write: writeKMZ},
	{Name: "csv", Files: []string{"lines.csv", "vertices.csv", "readings.csv"}, CRS: true, Write: writeCSV},
	{Name: "gpkg", Files: []string{"map.gpkg"}, CRS: true, Write: writeGPKG},
	{Name: "dxf", Files: []string{"map.dxf", "map.prj"}, CRS: true, Projected: true, Write: writeDXF},
	{Name: "shp", Files: shapefileNames(), CRS: true, Write: writeSHP},
}

// Always lists what is written whatever was asked for.
var Always = []Format{
	{Name: "gpx", Files: []string{"revisit.gpx"}, Write: writeGPX},
	{Name: "summary", Files: []string{"summary.json"}, Write: writeSummary},
}

// Default names the formats of a map when nothing is asked for.
var Default = []string{"geojson", "kml", "csv", "gpkg"}

// Select gives the formats of the given names, each once, with what is always
// written. An unknown name is an error that lists the known ones.
func Select(names []string) ([]Format, error) {
	var out []Format
	for _, name := range names {
		i := slices.IndexFunc(Formats, func(f Format) bool { return f.Name == name })
		if i < 0 {
			return nil, fmt.Errorf("no format %q: there are %s", name, strings.Join(Names(), ", "))
		}
		if !slices.ContainsFunc(out, func(f Format) bool { return f.Name == name }) {
			out = append(out, Formats[i])
		}
	}
	return append(out, Always...), nil
}

// Names lists the names of Formats.
func Names() []string {
	var out []string
	for _, f := range Formats {
		out = append(out, f.Name)
	}
	return out
}

// Write writes a map into a folder that is there, in the given formats, two at
// a time. Files that are there already are not touched: that is an error, and
// so is the first thing that goes wrong in any format; what was written by then
// stays, so give it a folder that is renamed only after success.
func Write(ctx context.Context, dir string, m *result.Map, formats []Format, opt Options) error {
	errs := make([]error, len(formats))
	slots := make(chan struct{}, 2)
	var wait sync.WaitGroup
	for i, f := range formats {
		wait.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			errs[i] = parallel.Catch("writing "+f.Name, func() error {
				if err := f.Write(ctx, dir, m, opt); err != nil {
					return fmt.Errorf("write %s: %w", f.Name, err)
				}
				return nil
			})
		})
	}
	wait.Wait()
	return errors.Join(errs...)
}
