package compare

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"tracemap/geodesy"
	"tracemap/internal/geofile"
	"tracemap/present"
)

// A cells gives the value of a column of one row of a table that convert wrote,
// as CSV or as a layer of its GeoPackage.
type cells func(name string) string

// table calls a function for each row of a table; found is false where there is
// none.
func table(f *geofile.File, folder, name string, each func(cells) error) (found bool, err error) {
	for i := range f.Layers {
		if f.Format == "GeoPackage" && f.Layers[i].Name == name {
			for k := range f.Layers[i].Features {
				feature := &f.Layers[i].Features[k]
				if err := each(func(column string) string { v, _ := feature.Attr(column); return v }); err != nil {
					return true, err
				}
			}
			return true, nil
		}
	}
	if folder == "" {
		return false, nil
	}
	data, err := os.ReadFile(filepath.Join(folder, name+".csv"))
	if os.IsNotExist(err) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	t, err := geofile.ReadTable(data)
	if err != nil {
		return true, fmt.Errorf("%s.csv: %w", name, err)
	}
	column := map[string]int{}
	for i, h := range t.Header {
		column[h] = i
	}
	for i := range t.Rows {
		row := &t.Rows[i]
		err := each(func(name string) string {
			at, ok := column[name]
			if !ok {
				return ""
			}
			return row.Cell(at)
		})
		if err != nil {
			return true, fmt.Errorf("%s.csv line %d: %w", name, row.Line, err)
		}
	}
	return true, nil
}

type partKey struct {
	line string
	part int
}

type vertexRow struct {
	number int
	geo    geodesy.Geo
	values [4]float64
	fixed  bool
}

// takeVertices replaces what the layer of lines tells by what is known at each
// vertex. Without the table a part keeps its largest width throughout.
func (d *located) takeVertices(f *geofile.File, folder string) error {
	rows := map[partKey][]vertexRow{}
	found, err := table(f, folder, "vertices", func(c cells) error {
		number, err1 := strconv.Atoi(c("part"))
		vertex, err2 := strconv.Atoi(c("vertex"))
		g := geodesy.Geo{Lat: numberOr(c("lat")), Lon: numberOr(c("lon")), H: math.NaN()}
		if err1 != nil || err2 != nil || !present.Known(g.Lat+g.Lon) {
			return fmt.Errorf("a vertex without a number or a place")
		}
		g, err := d.inFrame(g, c("frame"))
		if err != nil {
			return err
		}
		depth := numberOr(c("depth_m"))
		k := partKey{c("line_id"), number}
		rows[k] = append(rows[k], vertexRow{vertex, g,
			[4]float64{numberOr(c("half_width_m")), depth, numberOr(c("depth_95_m")), 2 * (depth - numberOr(c("cover_m")))},
			c("gnss_fix") == "rtk_fixed"})
		return nil
	})
	if err != nil {
		return err
	}
	if !found {
		d.warnings = append(d.warnings, "the located lines come without vertices.csv: the largest width of each part is taken for all of it, and its range of depths for its depth")
		return nil
	}
	for i := range d.parts {
		p := &d.parts[i]
		vs := rows[partKey{p.line, p.number}]
		if len(vs) == 0 {
			return fmt.Errorf("line %s part %d has no vertices", p.line, p.number)
		}
		slices.SortStableFunc(vs, func(a, b vertexRow) int { return cmp.Compare(a.number, b.number) })
		*p = part{line: p.line, number: p.number, utility: p.utility, flags: p.flags, fixed: true}
		for _, v := range vs {
			p.add(v.geo, v.values[0], v.values[1], v.values[2], v.values[3])
			p.fixed = p.fixed && v.fixed
		}
	}
	return nil
}

// inFrame brings a place out of a table, whose own frame may be another than that
// of the lines beside it, into the frame of the lines. Tables without a column
// frame are in that of the lines.
func (d *located) inFrame(g geodesy.Geo, name string) (geodesy.Geo, error) {
	if name == "" {
		return g, nil
	}
	frame, err := geodesy.ParseFrame(name)
	if err != nil || frame == d.frame {
		return g, err
	}
	return geodesy.Transform(g, frame, d.frame, d.epoch)
}

// takeReadings reads where the crew was. Without that nothing can be said of
// places where no line was located.
func (d *located) takeReadings(f *geofile.File, folder string) error {
	found, err := table(f, folder, "readings", func(c cells) error {
		r := reading{line: c("line_id"), placed: c("placed") == "true" || c("placed") == "1",
			geo: geodesy.Geo{Lat: numberOr(c("lat")), Lon: numberOr(c("lon")), H: math.NaN()}}
		if r.line == "" {
			r.line = c("line")
		}
		if r.placed = r.placed && present.Known(r.geo.Lat+r.geo.Lon); r.placed {
			var err error
			if r.geo, err = d.inFrame(r.geo, c("frame")); err != nil {
				return err
			}
		}
		d.readings = append(d.readings, r)
		if r.placed && c("method") == "sonde" && c("part") == "" && c("feature") == "" && c("used") != "false" && c("used") != "0" {
			d.parts = append(d.parts, sonde(c, &r))
		}
		return nil
	})
	d.known = found
	return err
}

// One σ of a sonde's depth is a constant, m, and a share of it: the tables tell
// none. Common practice, no source: 5 to 10 %.
const (
	sondeFloor = 0.03
	sondeShare = 0.1
)

// sonde makes a part of one place of a sonde's reading: a sonde in a pipe is
// located as points, without a line between them. Its radius is that of a 95 %
// circle; across the pipe counts one direction of it.
func sonde(c cells, r *reading) part {
	p := part{line: r.line, utility: orUnknown(c("utility")), fixed: c("gnss_fix") == "rtk_fixed", flags: c("flags")}
	depth := numberOr(c("depth_m"))
	p.add(r.geo, numberOr(c("radius_95_m"))*present.Line95/present.Circle95, depth, present.Line95*math.Hypot(sondeFloor, sondeShare*depth), numberOr(c("diameter_mm"))/1000)
	return p
}
