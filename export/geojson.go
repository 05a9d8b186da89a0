package export

import (
	"bufio"
	"context"
	"math"
	"path/filepath"

	"github.com/paulmach/orb"

	"tracemap/internal/newfile"
	"tracemap/present"
	"tracemap/result"
)

// GeoJSON is written by appending, not through orb, which holds the corridors: its
// points have no third ordinate, and the height of the utility is what these files are about.

// writeGeoJSON writes lines.geojson, corridors.geojson and readings.geojson as
// RFC 7946 has them: longitude, latitude, ellipsoidal height.
func writeGeoJSON(ctx context.Context, dir string, m *result.Map, _ Options) error {
	lines, err := lineFeatures(m)
	if err != nil {
		return err
	}
	if err := geoJSONFile(ctx, dir, "lines", m, lines); err != nil {
		return err
	}
	corridors, err := corridorFeatures(m)
	if err != nil {
		return err
	}
	if err := geoJSONFile(ctx, dir, "corridors", m, corridors); err != nil {
		return err
	}
	return geoJSONFile(ctx, dir, "readings", m, readingFeatures(m))
}

// A feature is one GeoJSON feature ready to be appended.
type feature struct {
	id       string
	geometry shape
	append   func(b []byte) []byte // the members of properties
}

// A shape is a geometry: one of its members is set.
type shape struct {
	paths []path // lines; a path of one position is a point
	areas orb.MultiPolygon
}

func lineFeatures(m *result.Map) ([]feature, error) {
	var out []feature
	rows, fields := partRows(m, nil), partFields(m)
	for i := range rows {
		r := &rows[i]
		paths, err := linePaths(m, r.part, nil)
		if err != nil {
			return nil, err
		}
		out = append(out, feature{partID(r), shape{paths: paths},
			func(b []byte) []byte { return appendProperties(b, fields, r) }})
	}
	return out, nil
}

func corridorFeatures(m *result.Map) ([]feature, error) {
	var out []feature
	rows := partRows(m, nil)
	for i := range rows {
		r := &rows[i]
		areas, err := corridorAreas(m, r.part, nil)
		if err != nil {
			return nil, err
		}
		if len(areas) == 0 {
			continue
		}
		out = append(out, feature{partID(r), shape{areas: areas},
			func(b []byte) []byte { return appendProperties(b, corridorColumns, r) }})
	}
	return out, nil
}

func readingFeatures(m *result.Map) []feature {
	var out []feature
	rows, fields := readingRows(m, nil), readingFields(m)
	for i := range rows {
		r := &rows[i]
		if !r.onMap() {
			continue
		}
		out = append(out, feature{filepath.Base(r.file()) + ":" + string(present.AppendNumber(nil, float64(r.row()))), shape{paths: []path{r.position()}},
			func(b []byte) []byte { return appendProperties(b, fields, r) }})
	}
	return out
}

// partID names a part uniquely, as the id of a feature.
func partID(r *partRow) string {
	return r.line.ID + "/" + string(present.AppendNumber(nil, float64(r.part.Number)))
}

func appendProperties[R any](b []byte, columns []column[R], row *R) []byte {
	for i := range columns {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(b, '"')
		b = append(b, columns[i].Name...)
		b = append(b, `":`...)
		b = columns[i].appendJSON(b, row)
	}
	return b
}

// geoJSONFile writes one collection, a feature a line.
func geoJSONFile(ctx context.Context, dir, name string, m *result.Map, features []feature) error {
	return newfile.Write(filepath.Join(dir, name+".geojson"), func(w *bufio.Writer) error {
		b := append([]byte(nil), `{"type":"FeatureCollection","name":"`...)
		b = append(append(b, name...), '"')
		b = appendAbout(b, m)
		b = appendBBox(b, features)
		b = append(b, `,"features":[`...)
		for i := range features {
			if err := ctx.Err(); err != nil {
				return err
			}
			if i > 0 {
				b = append(b, ',')
			}
			f := &features[i]
			b = append(b, "\n"+`{"type":"Feature","id":`...)
			b = appendJSONText(b, f.id)
			b = append(b, `,"geometry":`...)
			b = appendGeometry(b, f.geometry)
			b = append(b, `,"properties":{`...)
			b = append(f.append(b), "}}"...)
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
		_, err := w.Write(append(b, "\n]}\n"...))
		return err
	})
}

// appendAbout appends where the collection comes from, as a foreign member
// (RFC 7946 §6.1).
func appendAbout(b []byte, m *result.Map) []byte {
	return appendAboutObject(append(b, `,"about":`...), m, nil)
}

func appendAboutObject(b []byte, m *result.Map, to *target) []byte {
	b = append(b, '{')
	for i, e := range about(m, to) {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(appendJSONText(b, e.name), ':')
		b = appendJSONText(b, e.value)
	}
	return append(b, '}')
}

// appendGeometry appends a geometry object; multiple pieces become Multi…
func appendGeometry(b []byte, s shape) []byte {
	switch {
	case len(s.areas) == 1:
		b = append(b, `{"type":"Polygon","coordinates":`...)
		b = appendArea(b, s.areas[0])
	case len(s.areas) > 1:
		b = append(b, `{"type":"MultiPolygon","coordinates":[`...)
		b = appendJoined(b, s.areas, appendArea)
		b = append(b, ']')
	case len(s.paths) == 1 && len(s.paths[0]) == 1:
		b = append(b, `{"type":"Point","coordinates":`...)
		b = appendPosition(b, s.paths[0][0])
	case len(s.paths) == 1:
		b = append(b, `{"type":"LineString","coordinates":`...)
		b = appendPositions(b, s.paths[0])
	case len(s.paths) > 1:
		b = append(b, `{"type":"MultiLineString","coordinates":[`...)
		b = appendJoined(b, s.paths, func(b []byte, p path) []byte { return appendPositions(b, p) })
		b = append(b, ']')
	default:
		return append(b, "null"...)
	}
	return append(b, '}')
}

func appendArea(b []byte, a orb.Polygon) []byte {
	b = append(b, '[')
	b = appendJoined(b, a, func(b []byte, ring orb.Ring) []byte { return appendPositions(b, pathOf(ring)) })
	return append(b, ']')
}

func appendPositions(b []byte, ps []pos) []byte {
	b = append(b, '[')
	b = appendJoined(b, ps, appendPosition)
	return append(b, ']')
}

func appendPosition(b []byte, p pos) []byte {
	b = append(present.AppendNumber(append(b, '['), p.x), ',')
	b = present.AppendNumber(b, p.y)
	if present.Known(p.z) {
		b = present.AppendNumber(append(b, ','), p.z)
	}
	return append(b, ']')
}

// appendJoined appends each item, commas between.
func appendJoined[T any](b []byte, items []T, one func([]byte, T) []byte) []byte {
	for i, item := range items {
		if i > 0 {
			b = append(b, ',')
		}
		b = one(b, item)
	}
	return b
}

// appendBBox appends the collection's bounding box; nothing when it is empty.
// A collection that lies on both sides of the antimeridian gets west > east (RFC
// 7946 §5.2). Heights take part when every position has one.
func appendBBox(b []byte, features []feature) []byte {
	box := newBounds()
	for i := range features {
		features[i].geometry.each(box.add)
	}
	all := box.all()
	if all.IsEmpty() {
		return b
	}
	west, east := box.lons()
	b = append(b, `,"bbox":[`...)
	values := []float64{west, all.Bottom(), east, all.Top()}
	if box.solid {
		values = []float64{west, all.Bottom(), box.low, east, all.Top(), box.high}
	}
	b = appendJoined(b, values, present.AppendNumber)
	return append(b, ']')
}

// each calls visit with every position.
func (s *shape) each(visit func(pos)) {
	for _, p := range s.paths {
		for _, at := range p {
			visit(at)
		}
	}
	for _, a := range s.areas {
		for _, ring := range a {
			for _, at := range ring {
				visit(pos{at.X(), at.Y(), math.NaN()})
			}
		}
	}
}

// nowhere is the box of no positions.
var nowhere = orb.MultiPoint{}.Bound()

// box is the plain box around a shape, as a file without a notion of the
// antimeridian wants it.
func (s *shape) box() orb.Bound {
	box := nowhere
	s.each(func(p pos) { box = box.Extend(orb.Point{p.x, p.y}) })
	return box
}

// bounds collects the extent of positions in longitude and latitude.
type bounds struct {
	eastern, western orb.Bound // of the positions on either hemisphere of longitude
	low, high        float64
	solid            bool // every position has a height
}

func newBounds() *bounds {
	return &bounds{eastern: nowhere, western: nowhere, low: math.Inf(1), high: math.Inf(-1), solid: true}
}

func (b *bounds) all() orb.Bound { return b.eastern.Union(b.western) }

func (b *bounds) add(p pos) {
	half := &b.eastern
	if p.x < 0 {
		half = &b.western
	}
	*half = half.Extend(orb.Point{p.x, p.y})
	if !present.Known(p.z) {
		b.solid = false
		return
	}
	b.low, b.high = min(b.low, p.z), max(b.high, p.z)
}

// lons gives west and east: the shorter way round, so that a site astride the
// antimeridian has west > east.
func (b *bounds) lons() (west, east float64) {
	switch {
	case b.western.IsEmpty():
		return b.eastern.Left(), b.eastern.Right()
	case b.eastern.IsEmpty():
		return b.western.Left(), b.western.Right()
	}
	overGreenwich := b.eastern.Right() - b.western.Left()
	overDateLine := b.western.Right() + 360 - b.eastern.Left()
	if overDateLine < overGreenwich {
		return b.eastern.Left(), b.western.Right()
	}
	return b.western.Left(), b.eastern.Right()
}
