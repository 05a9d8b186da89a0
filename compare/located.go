package compare

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/geofile"
)

// A part is a stretch of a located line. Values stand a vertex each.
type part struct {
	line    string
	number  int
	utility string
	flags   string
	geo     []geodesy.Geo
	half    []float64 // 95 % half-width across, m
	depth   []float64 // to the centre, m; NaN where unknown
	depth95 []float64
	outside []float64 // outside diameter, m; NaN where unknown
	fixed   bool      // rests on RTK fixed throughout

	course
}

// A reading of the day, for what may be said of places without a line.
type reading struct {
	line   string
	placed bool
	geo    geodesy.Geo
	at     plane.Pt
}

// located is what convert wrote.
type located struct {
	parts    []part
	readings []reading
	known    bool // readings were found
	frame    geodesy.Frame
	epoch    float64 // of the survey, as a year; NaN where not told
	day      string  // of the survey, for people
	title    string
	sha256   string
	file     string
	warnings []string
}

// readLocated reads an output folder of convert, or a GeoPackage or GeoJSON out
// of one.
func readLocated(ctx context.Context, path string) (*located, error) {
	info, err := os.Stat(path)
	var pathErr *fs.PathError
	switch {
	case errors.As(err, &pathErr):
		return nil, fmt.Errorf("located lines %s: %w", path, pathErr.Err)
	case err != nil:
		return nil, fmt.Errorf("located lines %s: %w", path, err)
	case !info.IsDir():
		return readLocatedFile(ctx, path, "")
	}
	lines, vertices := filepath.Join(path, "lines.geojson"), filepath.Join(path, "vertices.csv")
	database := filepath.Join(path, "map.gpkg")
	switch {
	case exists(lines) && exists(vertices):
		return readLocatedFile(ctx, lines, path)
	case exists(database):
		return readLocatedFile(ctx, database, "")
	case exists(lines):
		return readLocatedFile(ctx, lines, path)
	}
	return nil, &Refusal{Text: fmt.Sprintf("located lines %s: holds neither lines.geojson nor map.gpkg", path),
		ToDo: "give an output folder of tracemap convert, written with --format geojson,csv or gpkg"}
}

func exists(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}

// readLocatedFile reads lines.geojson or map.gpkg; folder is where the tables
// beside it lie, "" for none.
func readLocatedFile(ctx context.Context, path, folder string) (*located, error) {
	f, err := geofile.Open(ctx, path)
	if err != nil {
		return nil, fmt.Errorf("located lines %s: %w", path, err)
	}
	d := &located{epoch: math.NaN(), sha256: f.SHA256, file: filepath.Base(path), title: strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))}
	if folder != "" {
		d.title = filepath.Base(folder)
	}
	var lines *geofile.Layer
	for i := range f.Layers {
		l := &f.Layers[i]
		if l.Name == "lines" || f.Format == "GeoJSON" {
			lines = l
		}
	}
	if lines == nil || !hasColumn(lines, "line_id") || !hasColumn(lines, "half_width_max_m") {
		return nil, &Refusal{Text: fmt.Sprintf("located lines %s: holds no lines that tracemap convert wrote (%s without line_id and half_width_max_m)", path, f.Format),
			ToDo: "give the output folder of tracemap convert, its map.gpkg or its lines.geojson; the owner's record comes second"}
	}
	if err := d.takeLines(lines); err != nil {
		return nil, fmt.Errorf("located lines %s: %w", path, err)
	}
	if err := d.takeVertices(f, folder); err != nil {
		return nil, fmt.Errorf("located lines %s: %w", path, err)
	}
	if err := d.takeReadings(f, folder); err != nil {
		return nil, fmt.Errorf("located lines %s: %w", path, err)
	}
	if len(d.parts) == 0 {
		return nil, &Refusal{Text: fmt.Sprintf("located lines %s: there are none in it", path), ToDo: "tracemap inspect tells what the day's logs hold"}
	}
	return d, nil
}

func hasColumn(l *geofile.Layer, name string) bool {
	return slices.ContainsFunc(l.Features, func(f geofile.Feature) bool { _, ok := f.Attr(name); return ok })
}

// takeLines makes the parts with what the layer of lines tells: one width and
// one range of depths for all of a part.
func (d *located) takeLines(l *geofile.Layer) error {
	if l.CRS == nil {
		return errors.New("its lines name no coordinate system")
	}
	var first, last time.Time
	for i := range l.Features {
		f := &l.Features[i]
		get := func(name string) string { v, _ := f.Attr(name); return v }
		if err := d.takeFrame(get("frame"), get("flags")); err != nil {
			return err
		}
		from, err1 := time.Parse(time.RFC3339, get("surveyed_from"))
		to, err2 := time.Parse(time.RFC3339, get("surveyed_to"))
		if err1 == nil && err2 == nil {
			if first.IsZero() || from.Before(first) {
				first = from
			}
			if to.After(last) {
				last = to
			}
		}
		lo, hi := numberOr(get("depth_min_m")), numberOr(get("depth_max_m"))
		p := part{line: get("line_id"), utility: orUnknown(get("utility")), flags: get("flags"), fixed: get("gnss_fix") == "rtk_fixed"}
		p.number, _ = strconv.Atoi(get("part"))
		vertices := slices.Concat(f.Lines...)
		if len(vertices) == 0 {
			vertices = f.Points
		}
		for _, v := range vertices {
			g, err := l.CRS.Inverse(v.X, v.Y, math.NaN(), d.frame, year(from))
			if err != nil {
				return fmt.Errorf("line %s: %w", p.line, err)
			}
			p.add(g, numberOr(get("half_width_max_m")), (lo+hi)/2, numberOr(get("depth_95_max_m"))+(hi-lo)/2, math.NaN())
		}
		if len(p.geo) > 0 {
			d.parts = append(d.parts, p)
		}
	}
	if !first.IsZero() {
		d.epoch = year(first.Add(last.Sub(first) / 2))
		d.day = first.UTC().Format(time.DateOnly)
		if until := last.UTC().Format(time.DateOnly); until != d.day {
			d.day += " to " + until
		}
	}
	return nil
}

// takeFrame notes the frame of the positions, which is one for the whole map.
func (d *located) takeFrame(name, flags string) error {
	if name != "" {
		frame, err := geodesy.ParseFrame(name)
		if err != nil {
			return err
		}
		d.frame = frame
	}
	if w := "the reference frame of the located lines was assumed: they may all be off by up to a metre or two (convert --frame)"; strings.Contains(flags, "frame_assumed") && !slices.Contains(d.warnings, w) {
		d.warnings = append(d.warnings, w)
	}
	return nil
}

func (p *part) add(g geodesy.Geo, half, depth, depth95, outside float64) {
	p.geo = append(p.geo, g)
	p.half, p.depth, p.depth95, p.outside = append(p.half, half), append(p.depth, depth), append(p.depth95, depth95), append(p.outside, outside)
}

// numberOr reads a figure; NaN for none.
func numberOr(text string) float64 {
	if v, ok := parseNumber(text); ok {
		return v
	}
	return math.NaN()
}

func orUnknown(utility string) string {
	if utility == "" {
		return unknown
	}
	return utility
}

// year gives a time as a year with fraction; NaN for none.
func year(t time.Time) float64 {
	if t.IsZero() {
		return math.NaN()
	}
	t = t.UTC()
	from := time.Date(t.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	return float64(t.Year()) + t.Sub(from).Seconds()/from.AddDate(1, 0, 0).Sub(from).Seconds()
}
