package export

import (
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
	Class                  string    // "" when no scheme is asked for
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
}

// A readingRow is what one row of the layer readings is made from: a placed or
// unplaced reading, or a row that could not be read.
type readingRow struct {
	m      *Map
	placed *fuse.Placed
	aside  *readings.SetAside
	lineID string
	part   int
}

// partRows gives a row for each part, in the order of the lines.
func partRows(m *Map) []partRow {
	var rows []partRow
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			if p := &m.Lines[i].Parts[j]; len(p.Vertices) > 0 {
				rows = append(rows, newPartRow(m, &m.Lines[i], p))
			}
		}
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
	for i := range part.Vertices {
		r.Weakest = Weaker(r.Weakest, part.Vertices[i].Quality)
		r.Flags |= part.Vertices[i].Flags
	}
	if m.Class != nil {
		r.Class = m.Class(line, part)
	}
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

// vertexRows gives a row for each vertex, part by part.
func vertexRows(m *Map) []vertexRow {
	var rows []vertexRow
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			p := &m.Lines[i].Parts[j]
			for k := range p.Vertices {
				rows = append(rows, vertexRow{m, &m.Lines[i], p, k + 1, &p.Vertices[k]})
			}
		}
	}
	return rows
}

// height is the ellipsoidal height of the utility's electrical centre, m.
func height(v *fuse.Vertex) float64 { return v.Ground.H - v.Depth }

// readingRows gives a row for everything that came in, in the order of the
// logs: readings with a place, readings without, and rows that could not be read.
func readingRows(m *Map) []readingRow {
	onLine := map[*readings.Reading]*fuse.Point{}
	for i := range m.Points {
		if p := &m.Points[i]; p.Placed != nil {
			onLine[p.Placed.Reading] = p
		}
	}
	rows := make([]readingRow, 0, len(m.Readings)+len(m.Aside))
	files := map[string]int{} // in the order in which they come
	for i := range m.Readings {
		p := &m.Readings[i]
		row := readingRow{m: m, placed: p, lineID: p.LineID, part: p.Part}
		if at, ok := onLine[p.Reading]; ok && row.lineID == "" {
			row.lineID, row.part = at.LineID, at.Part
		}
		rows = append(rows, row)
		if _, seen := files[p.Reading.File]; !seen {
			files[p.Reading.File] = len(files)
		}
	}
	for i := range m.Aside {
		rows = append(rows, readingRow{m: m, aside: &m.Aside[i]})
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
func (r *readingRow) position() path { return unwrap([]geodesy.Geo{r.placed.Geo}) }

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
