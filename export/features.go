package export

import (
	"iter"
	"math"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/present"
	"tracemap/remarks"
	"tracemap/result"
)

// A layer is a table of features, for the formats that keep features in tables.
type layer[R any] struct {
	name, about string
	geometry    string // type of a single geometry: LINESTRING, POLYGON, POINT
	z           int    // 0 no heights, 2 where known
	columns     []column[R]
	// rows may be gone through any number of times; a row is valid until the next.
	// They are made one by one: a map may have half a million.
	rows  iter.Seq[*R]
	shape func(*R) (shape, error) // valid until the next
	// pieces is how many a row's shape has, −1 where that cannot be told without
	// making it; nil for points.
	pieces func(*R) int
}

// A stretchRow is a stretch that rests on less than the rest of its line, for the
// same reasons from end to end.
type stretchRow struct {
	partRow
	run []fuse.Vertex // from end to end
	why remarks.Set   // the same from each vertex of the run to the next
}

// stretchColumns are the fields of the layer doubtful.
var stretchColumns = []column[stretchRow]{
	{Name: "line_id", DBF: "line_id", Meaning: "Name of the line.", Get: func(r *stretchRow) cell { return text(r.line.ID) }},
	{Name: "part", DBF: "part", Kind: intKind, Meaning: "Number of the part within the line.", Get: func(r *stretchRow) cell { return integer(r.part.Number) }},
	{Name: "utility", DBF: "utility", Meaning: "Kind of utility, as in lines.", Get: func(r *stretchRow) cell { return text(r.line.Utility) }},
	{Name: "from_station_m", DBF: "from_sta_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Station where the stretch begins.", Get: func(r *stretchRow) cell { return number(r.run[0].Station) }},
	{Name: "to_station_m", DBF: "to_sta_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Station where it ends.", Get: func(r *stretchRow) cell { return number(r.run[len(r.run)-1].Station) }},
	{Name: "half_width_max_m", DBF: "hw_max_m", Kind: realKind, Decimals: 3, Unit: "m", Meaning: "Largest half_width_m on it.", Get: func(r *stretchRow) cell { return number(r.halfWidth()) }},
	{Name: "flags", DBF: "flags", Empty: true, Meaning: "What makes it doubtful, joined by semicolons.", Get: func(r *stretchRow) cell { return text(r.why.String()) }},
}

// halfWidth is the largest on the stretch, m.
func (r *stretchRow) halfWidth() float64 {
	sigma := 0.0
	for i := range r.run {
		sigma = max(sigma, r.run[i].Sigma)
	}
	return present.HalfWidth(sigma)
}

// stretches goes through the doubtful stretches of a part. A flag counts from each
// vertex that has it to its neighbours; a part's own, that no vertex has, for all
// of it. What holds for the whole day says nothing of one stretch against another
// and makes none doubtful: it is in the widths and in the day's verdict.
func (p *partRow) stretches(yield func(*stretchRow) bool) {
	wide, vs := result.PartWide(p.line, p.part), p.part.Vertices
	r := stretchRow{partRow: *p}
	from := 0
	for i := 1; i < len(vs); i++ {
		why := p.m.Doubts(vs[i-1].Flags | vs[i].Flags | wide)
		if why != r.why {
			from, r.why = i-1, why
		}
		last := i == len(vs)-1 || p.m.Doubts(vs[i].Flags|vs[i+1].Flags|wide) != why
		if r.run = vs[from : i+1]; last && why != 0 && !yield(&r) {
			return
		}
	}
}

// eachStretch goes through the doubtful stretches, part by part.
func eachStretch(m *result.Map, to *target) iter.Seq[*stretchRow] {
	return func(yield func(*stretchRow) bool) {
		for p := range eachPart(m, to) {
			for r := range p.stretches {
				if !yield(r) {
					return
				}
			}
		}
	}
}

// A tabled layer can be written by each of those formats.
type tabled interface {
	title() (name, about string)
	writeGPKG(*gpkg) error
	writeSHP(*shapefiles) error
}

// placedRows goes through the readings that have a place, in the order of the log.
func placedRows(m *result.Map, to *target) iter.Seq[*readingRow] {
	points := pointsByReading(m)
	return func(yield func(*readingRow) bool) {
		var r readingRow
		for i := range m.Readings {
			if r = newReadingRow(m, to, i, points); r.onMap() && !yield(&r) {
				return
			}
		}
	}
}

// layers gives the layers of a map in a coordinate system, in the order in which
// they are drawn best.
func layers(m *result.Map, to *target) []tabled {
	steps := new(draft)
	var piece fuse.Part          // of every doubtful stretch in its turn
	one := []path{make(path, 1)} // of every point in its turn
	point := func(place geodesy.Geo) (shape, error) {
		p, err := to.at(place)
		one[0][0] = p
		return shape{paths: one}, err
	}
	return []tabled{
		&layer[partRow]{"lines", "located lines, a row a part; third ordinate the ellipsoidal height of the centre", "LINESTRING", 2, partFields(m), eachPart(m, to), func(r *partRow) (shape, error) {
			paths, err := steps.linePaths(m, r.part, to)
			if len(paths) == 1 && len(paths[0]) < 2 {
				paths = nil // one reading is no line: its place is in vertices and readings
			}
			return shape{paths: paths}, err
		}, func(r *partRow) int { return unlessCut(1, r.part.Vertices, to) }},
		&layer[partRow]{"corridors", "where each part lies 95 % of the time", "POLYGON", 0, corridorColumns, eachPart(m, to), func(r *partRow) (shape, error) {
			areas, err := steps.corridorAreas(m, r.part, to)
			return shape{areas: areas}, err
		}, func(r *partRow) int { return unlessCut(len(r.part.Corridor), r.part.Vertices, to) }},
		&layer[readingRow]{"readings", "readings and features with a place, on the ground", "POINT", 2, readingFields(m), placedRows(m, to), func(r *readingRow) (shape, error) {
			return point(r.placed.Geo)
		}, nil},
		&layer[vertexRow]{"vertices", "vertices of the parts, at the utility's centre where its height is known", "POINT", 2, vertexColumns, eachVertex(m, to), func(r *vertexRow) (shape, error) {
			place, _ := r.geo()
			return point(place)
		}, nil},
		&layer[stretchRow]{"doubtful", "stretches that rest on less than the rest of their line", "LINESTRING", 0, stretchColumns, eachStretch(m, to), func(r *stretchRow) (shape, error) {
			piece.Vertices = append(piece.Vertices[:0], r.run...)
			for i := range piece.Vertices {
				piece.Vertices[i].Depth = math.NaN() // drawn over the line: no height
			}
			paths, err := steps.linePaths(m, &piece, to)
			return shape{paths: paths}, err
		}, func(r *stretchRow) int { return unlessCut(1, r.part.Vertices, to) }},
	}
}

// unlessCut gives a number of pieces, −1 where a cut may make more of them.
func unlessCut(pieces int, vs []fuse.Vertex, to *target) int {
	if mayBeCut(vs, to) {
		return -1
	}
	return pieces
}
