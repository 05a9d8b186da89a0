package export

import (
	"iter"
	"math"
	"slices"

	"tracemap/flags"
	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/nmea"
	"tracemap/readings"
)

// Stats is what a part comes to: extremes of its vertices, with 95 % applied.
type Stats struct {
	DepthMin, DepthMax     float64 // m; NaN where depth was never read
	HalfMean, HalfMax      float64 // 95 % half-width across the line, m
	Depth95Max             float64 // 95 % bound of the depth, m
	CurrentMin, CurrentMax float64 // mA
	Weakest                nmea.Quality
	Flags                  flags.Set // of the line, the part and its vertices
	Class                  string    // suggested for its worst vertex; "" for none
	CoverMin, CoverMax     float64   // m, surface to the top; NaN where the diameter or the depth is nowhere known
	DiameterMin            float64   // outside diameter, m
	DiameterMax            float64
}

// A partRow is what one row of the layers lines and corridors is made from.
type partRow struct {
	Stats
	m    *Map
	line *fuse.Line
	part *fuse.Part
}

// A vertexRow is what one row of the layer vertices is made from.
type vertexRow struct {
	m      *Map
	line   *fuse.Line
	part   *fuse.Part
	number int // from 1 within the part
	vertex *fuse.Vertex
	geoid  float64 // separation told by the receiver, m; NaN
}

// A readingRow is what one row of the layer readings is made from: a placed or
// unplaced reading, or a row that could not be read.
type readingRow struct {
	m      *Map
	placed *fuse.Placed
	aside  *readings.SetAside
	lineID string
	part   int
	geoid  float64 // separation told by the receiver, m; NaN
}

// eachPart goes through the parts, in the order of the lines; a row is valid
// until the next.
func eachPart(m *Map) iter.Seq[*partRow] {
	return func(yield func(*partRow) bool) {
		var r partRow
		for i := range m.Lines {
			for j := range m.Lines[i].Parts {
				if p := &m.Lines[i].Parts[j]; len(p.Vertices) > 0 {
					if r = newPartRow(m, &m.Lines[i], p); !yield(&r) {
						return
					}
				}
			}
		}
	}
}

// partRows gives a row for each part, in the order of the lines.
func partRows(m *Map) []partRow {
	var rows []partRow
	for r := range eachPart(m) {
		rows = append(rows, *r)
	}
	return rows
}

func newPartRow(m *Map, line *fuse.Line, part *fuse.Part) partRow {
	return partRow{StatsOf(m, line, part), m, line, part}
}

// StatsOf sums up a part, which has at least one vertex.
func StatsOf(m *Map, line *fuse.Line, part *fuse.Part) Stats {
	r := Stats{Weakest: nmea.QualityRTKFixed, Flags: line.Flags | part.Flags}
	r.DepthMin, r.DepthMax = span(part.Vertices, func(v *fuse.Vertex) float64 { return v.Depth })
	r.CurrentMin, r.CurrentMax = span(part.Vertices, func(v *fuse.Vertex) float64 { return v.Current })
	_, r.HalfMax = span(part.Vertices, func(v *fuse.Vertex) float64 { return HalfWidth(v.Sigma) })
	_, r.Depth95Max = span(part.Vertices, depth95)
	r.HalfMean = meanAlong(part.Vertices, func(v *fuse.Vertex) float64 { return HalfWidth(v.Sigma) })
	r.CoverMin, r.CoverMax = span(part.Vertices, cover)
	r.DiameterMin, r.DiameterMax = span(part.Vertices, func(v *fuse.Vertex) float64 { return v.Diameter })
	for i := range part.Vertices {
		r.Weakest = Weaker(r.Weakest, part.Vertices[i].Quality)
		r.Flags |= part.Vertices[i].Flags
	}
	r.Class = partClass(m, line, part)
	return r
}

// span gives the smallest and the largest of the known values; NaN when none is.
func span(vs []fuse.Vertex, get func(*fuse.Vertex) float64) (low, high float64) {
	low, high = math.NaN(), math.NaN()
	for i := range vs {
		if v := get(&vs[i]); known(v) {
			if !(low <= v) {
				low = v
			}
			if !(high >= v) {
				high = v
			}
		}
	}
	return low, high
}

// meanAlong is the mean over the part's length of a value known at its
// vertices and straight between them; the plain mean when the part has no length.
func meanAlong(vs []fuse.Vertex, get func(*fuse.Vertex) float64) float64 {
	var sum, length, plain float64
	for i := range vs {
		plain += get(&vs[i])
		if i > 0 {
			d := vs[i].Station - vs[i-1].Station
			sum += d * (get(&vs[i-1]) + get(&vs[i])) / 2
			length += d
		}
	}
	if length > 0 {
		return sum / length
	}
	return plain / float64(len(vs))
}

// eachVertex goes through the vertices, part by part; a row is valid until the
// next.
func eachVertex(m *Map) iter.Seq[*vertexRow] {
	return func(yield func(*vertexRow) bool) {
		var r vertexRow
		for i := range m.Lines {
			for j := range m.Lines[i].Parts {
				p := &m.Lines[i].Parts[j]
				for k := range p.Vertices {
					if r = (vertexRow{m, &m.Lines[i], p, k + 1, &p.Vertices[k], m.Geoid.vertex(p, k)}); !yield(&r) {
						return
					}
				}
			}
		}
	}
}

// vertexRows gives a row for each vertex, part by part.
func vertexRows(m *Map) []vertexRow {
	var rows []vertexRow
	for r := range eachVertex(m) {
		rows = append(rows, *r)
	}
	return rows
}

// height is the ellipsoidal height of the utility's electrical centre, m.
func height(v *fuse.Vertex) float64 { return v.Ground.H - v.Depth }

// cover is the depth to the top, m: depth of the electrical centre less half the
// outside diameter.
func cover(v *fuse.Vertex) float64 { return v.Depth - v.Diameter/2 }

func (g *Geoid) vertex(p *fuse.Part, k int) float64 {
	if g == nil || k >= len(g.Vertices[p]) {
		return math.NaN()
	}
	return g.Vertices[p][k]
}

func (g *Geoid) reading(i int) float64 {
	if g == nil || i >= len(g.Readings) {
		return math.NaN()
	}
	return g.Readings[i]
}

// readingRows gives a row for everything that came in, in the order of the
// logs: readings with a place, readings without, and rows that could not be read.
func readingRows(m *Map) []readingRow {
	onLine := pointsByReading(m)
	rows := make([]readingRow, 0, len(m.Readings)+len(m.Aside))
	files := map[string]int{} // in the order in which they come
	for i := range m.Readings {
		p := &m.Readings[i]
		rows = append(rows, newReadingRow(m, i, onLine))
		if _, seen := files[p.Reading.File]; !seen {
			files[p.Reading.File] = len(files)
		}
	}
	for i := range m.Aside {
		rows = append(rows, readingRow{m: m, aside: &m.Aside[i], geoid: math.NaN()})
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
func pointsByReading(m *Map) map[*readings.Reading]*fuse.Point {
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
func newReadingRow(m *Map, i int, points map[*readings.Reading]*fuse.Point) readingRow {
	p := &m.Readings[i]
	row := readingRow{m: m, placed: p, lineID: p.LineID, part: p.Part, geoid: m.Geoid.reading(i)}
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
func (r *readingRow) flagsOf() flags.Set {
	if r.aside != nil {
		return flags.BadRow
	}
	return r.placed.Flags | r.placed.Reading.Flags
}

// onMap reports whether the row has a place to be drawn at.
func (r *readingRow) onMap() bool {
	return r.aside == nil && r.placed.OK && known(r.placed.Geo.Lat) && known(r.placed.Geo.Lon)
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
	g.H = height(r.vertex)
	return g, known(g.Lat) && known(g.Lon)
}
