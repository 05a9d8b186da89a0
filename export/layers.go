package export

import (
	"iter"
	"math"
	"slices"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/present"
	"tracemap/readings"
	"tracemap/remarks"
	"tracemap/result"
)

// A partRow is what one row of the layers lines and corridors is made from.
type partRow struct {
	result.Stats
	m    *result.Map
	to   *target // that the file is in
	line *fuse.Line
	part *fuse.Part
}

// A vertexRow is what one row of the layer vertices is made from.
type vertexRow struct {
	m      *result.Map
	to     *target
	line   *fuse.Line
	part   *fuse.Part
	number int // from 1 within the part
	vertex *fuse.Vertex
	ground geodesy.Geo // under the vertex, in the frame of the file
	geoid  float64     // separation told by the receiver, m; NaN
}

// A readingRow is what one row of the layer readings is made from: a placed or
// unplaced reading, or a row that could not be read.
type readingRow struct {
	m      *result.Map
	to     *target
	placed *fuse.Placed
	ground geodesy.Geo // under the reading, in the frame of the file
	aside  *readings.SetAside
	lineID string
	part   int
	geoid  float64 // separation told by the receiver, m; NaN
}

// eachPart goes through the parts, in the order of the lines; a row is valid
// until the next.
func eachPart(m *result.Map, to *target) iter.Seq[*partRow] {
	return func(yield func(*partRow) bool) {
		var r partRow
		for line, part := range m.Parts() {
			if r = newPartRow(m, to, line, part); !yield(&r) {
				return
			}
		}
	}
}

// partRows gives a row for each part, in the order of the lines.
func partRows(m *result.Map, to *target) []partRow {
	var rows []partRow
	for r := range eachPart(m, to) {
		rows = append(rows, *r)
	}
	return rows
}

func newPartRow(m *result.Map, to *target, line *fuse.Line, part *fuse.Part) partRow {
	return partRow{result.StatsOf(m, line, part), m, to, line, part}
}

func (r *partRow) lineName() string { return result.PartName(r.line, r.part) }

// eachVertex goes through the vertices, part by part; a row is valid until the
// next.
func eachVertex(m *result.Map, to *target) iter.Seq[*vertexRow] {
	return func(yield func(*vertexRow) bool) {
		var r vertexRow
		for i := range m.Lines {
			for j := range m.Lines[i].Parts {
				p := &m.Lines[i].Parts[j]
				for k := range p.Vertices {
					if r = (vertexRow{m, to, &m.Lines[i], p, k + 1, &p.Vertices[k], to.in(p.Vertices[k].Ground), m.Geoid.Vertex(p, k)}); !yield(&r) {
						return
					}
				}
			}
		}
	}
}

// vertexRows gives a row for each vertex, part by part.
func vertexRows(m *result.Map, to *target) []vertexRow {
	var rows []vertexRow
	for r := range eachVertex(m, to) {
		rows = append(rows, *r)
	}
	return rows
}

// readingRows gives a row for everything that came in, in the order of the
// logs: readings with a place, readings without, and rows that could not be read.
func readingRows(m *result.Map, to *target) []readingRow {
	onLine := pointsByReading(m)
	rows := make([]readingRow, 0, len(m.Readings)+len(m.Aside))
	files := map[string]int{} // in the order in which they come
	for i := range m.Readings {
		p := &m.Readings[i]
		rows = append(rows, newReadingRow(m, to, i, onLine))
		if _, seen := files[p.Reading.File]; !seen {
			files[p.Reading.File] = len(files)
		}
	}
	for i := range m.Aside {
		rows = append(rows, readingRow{m: m, to: to, aside: &m.Aside[i], geoid: math.NaN()})
		if _, seen := files[m.Aside[i].File]; !seen {
			files[m.Aside[i].File] = len(files)
		}
	}
	slices.SortStableFunc(rows, func(a, b readingRow) int {
		if d := files[a.file()] - files[b.file()]; d != 0 {
			return d
		}
		return a.row() - b.row()
	})
	return rows
}

// pointsByReading finds the point on a line that a reading is.
func pointsByReading(m *result.Map) map[*readings.Reading]*fuse.Point {
	out := map[*readings.Reading]*fuse.Point{}
	for i := range m.Points {
		if p := &m.Points[i]; p.Placed != nil && p.LineID != "" {
			out[p.Placed.Reading] = p
		}
	}
	return out
}

// newReadingRow is the row of the map's reading i, which is on the line of the
// point that it is where it is grouped to none.
func newReadingRow(m *result.Map, to *target, i int, points map[*readings.Reading]*fuse.Point) readingRow {
	p := &m.Readings[i]
	row := readingRow{m: m, to: to, placed: p, ground: to.in(p.Geo), lineID: p.LineID, part: p.Part, geoid: m.Geoid.Reading(i)}
	if at, ok := points[p.Reading]; ok && row.lineID == "" {
		row.lineID, row.part = at.LineID, at.Part
	}
	return row
}

func (r *readingRow) file() string {
	if r.aside != nil {
		return r.aside.File
	}
	return r.placed.Reading.File
}

func (r *readingRow) row() int {
	if r.aside != nil {
		return r.aside.Row
	}
	return r.placed.Reading.Row
}

// flagsOf is what the row is remarked with; a row that could not be read has
// bad_row alone.
func (r *readingRow) flagsOf() remarks.Set {
	if r.aside != nil {
		return remarks.BadRow
	}
	return r.placed.Flags | r.placed.Reading.Flags
}

// onMap reports whether the row has a place to be drawn at.
func (r *readingRow) onMap() bool {
	return r.aside == nil && r.placed.OK && present.Known(r.placed.Geo.Lat) && present.Known(r.placed.Geo.Lon)
}

// position is the place on the ground of a row that is on the map.
func (r *readingRow) position() path { return unwrap(nil, []geodesy.Geo{r.placed.Geo}) }

// geo is the reading's place on the ground, if it has one.
func (r *readingRow) geo() (geodesy.Geo, bool) {
	if !r.onMap() {
		return geodesy.Geo{}, false
	}
	return r.placed.Geo, true
}

// geo is the place of the utility's electrical centre.
func (r *vertexRow) geo() (geodesy.Geo, bool) {
	g := r.vertex.Ground
	g.H = result.Height(r.vertex)
	return g, present.Known(g.Lat) && present.Known(g.Lon)
}

// class suggests an accuracy class for a reading by itself; a row that could not be
// read has none.
func (r *readingRow) class() string {
	if r.aside != nil {
		return ""
	}
	return result.ReadingClass(r.m, r.placed)
}
