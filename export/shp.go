package export

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"github.com/paulmach/orb"

	"tracemap/geodesy"
)

// Shape types of the ESRI Shapefile Technical Description (1998).
const (
	shpNull      = 0
	shpPolyLine  = 3
	shpPolygon   = 5
	shpPointZ    = 11
	shpPolyLineZ = 13
)

// noHeight stands for a height that is not known: the format has no word for
// that, and 0 would be a height. The field z_known tells the two apart.
const noHeight = -99999

// noMeasure is the description's "no data" for the measure that PointZ has.
const noMeasure = -1e39

// shapefiles is a set of shapefiles in the making, each of .shp, .shx, .dbf,
// .prj and .cpg.
type shapefiles struct {
	ctx context.Context
	dir string
	m   *Map
	to  *target
	prj string
}

// writeSHP writes a shapefile a layer. Field names are those of the data
// dictionary's column DBF.
func writeSHP(ctx context.Context, dir string, m *Map, opt Options) error {
	to, err := opt.target(m)
	if err != nil {
		return err
	}
	crs, err := geodesy.LookupCRS(to.code())
	if err != nil {
		return err
	}
	s := &shapefiles{ctx, dir, m, to, crs.WKTEsri()}
	for _, l := range layers(m, to) {
		if err := l.writeSHP(s); err != nil {
			return err
		}
	}
	return nil
}

// shapefileNames lists what writeSHP writes.
func shapefileNames() []string {
	var out []string
	for _, layer := range []string{"lines", "corridors", "readings", "vertices", "doubtful"} {
		for _, ext := range []string{".shp", ".shx", ".dbf", ".prj", ".cpg"} {
			out = append(out, layer+ext)
		}
	}
	return out
}

// shapeType is the layer's type in a shapefile: with heights where the layer has
// them.
func (l *layer[R]) shapeType() uint32 {
	switch {
	case l.geometry == "POINT":
		return shpPointZ
	case l.geometry == "POLYGON":
		return shpPolygon
	case l.z != 0:
		return shpPolyLineZ
	}
	return shpPolyLine
}

func (l *layer[R]) writeSHP(s *shapefiles) error {
	kind := l.shapeType()
	var shp, shx, record []byte
	box, low, high := nowhere, math.Inf(1), math.Inf(-1)
	heights := map[*R]bool{} // rows with a height
	const header = 100
	for i := range l.rows {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		shape, err := l.shape(&l.rows[i])
		if err != nil {
			return err
		}
		box = box.Union(shape.box())
		shape.each(func(p pos) {
			low, high = min(low, orNoHeight(p.z)), max(high, orNoHeight(p.z))
			heights[&l.rows[i]] = known(p.z)
		})
		record = appendShape(record[:0], kind, shape)
		if header+len(shp)+8+len(record) > math.MaxInt32 {
			return fmt.Errorf("layer %s is larger than the 2 GB that a shapefile can hold", l.name)
		}
		at := uint32((header + len(shp)) / 2) // offsets and lengths count 16-bit words
		shx = binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(shx, at), uint32(len(record)/2))
		shp = binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(shp, uint32(i+1)), uint32(len(record)/2))
		shp = append(shp, record...)
	}
	columns := l.columns
	if kind == shpPointZ || kind == shpPolyLineZ {
		columns = append(slices.Clone(columns), column[R]{Name: "z_known", DBF: "z_known", Kind: boolKind, Get: func(r *R) cell { return truth(heights[r]) }})
	}
	table, err := dbf(columns, l.rows, s.m.Meta.To)
	if err != nil {
		return fmt.Errorf("layer %s: %w", l.name, err)
	}
	if kind == shpPolyLine || kind == shpPolygon || box.IsEmpty() {
		low, high = 0, 0
	}
	for _, f := range []struct {
		ext  string
		data [][]byte
	}{
		{".shp", [][]byte{shpHeader(kind, len(shp), box, low, high), shp}},
		{".shx", [][]byte{shpHeader(kind, len(shx), box, low, high), shx}},
		{".dbf", [][]byte{table}}, {".prj", [][]byte{[]byte(s.prj)}}, {".cpg", [][]byte{[]byte("UTF-8")}},
	} {
		err := create(filepath.Join(s.dir, l.name+f.ext), func(w *bufio.Writer) error {
			_, err := w.Write(bytes.Join(f.data, nil))
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// shpHeader is the main header of .shp and .shx.
func shpHeader(kind uint32, content int, box orb.Bound, low, high float64) []byte {
	b := binary.BigEndian.AppendUint32(nil, 9994)
	b = append(b, make([]byte, 20)...)
	b = binary.BigEndian.AppendUint32(b, uint32((100+content)/2))
	b = binary.LittleEndian.AppendUint32(b, 1000)
	b = binary.LittleEndian.AppendUint32(b, kind)
	corners := []float64{box.Left(), box.Bottom(), box.Right(), box.Top()}
	if box.IsEmpty() {
		corners = make([]float64, 4)
	}
	for _, v := range append(corners, low, high, 0, 0) { // no measures
		b = appendDouble(b, v)
	}
	return b
}

// appendShape appends a record's content; a row without geometry is a null shape.
func appendShape(b []byte, kind uint32, s shape) []byte {
	var parts [][]pos
	for _, p := range s.paths {
		parts = append(parts, p)
	}
	for _, a := range s.areas {
		for _, ring := range a {
			ring = ring.Clone()
			ring.Reverse() // outer rings run clockwise here
			parts = append(parts, pathOf(ring))
		}
	}
	if len(parts) == 0 {
		return binary.LittleEndian.AppendUint32(b, shpNull)
	}
	b = binary.LittleEndian.AppendUint32(b, kind)
	if kind == shpPointZ {
		p := parts[0][0]
		for _, v := range []float64{p.x, p.y, orNoHeight(p.z), noMeasure} {
			b = appendDouble(b, v)
		}
		return b
	}
	box, points := s.box(), 0
	s.each(func(pos) { points++ })
	for _, v := range []float64{box.Left(), box.Bottom(), box.Right(), box.Top()} {
		b = appendDouble(b, v)
	}
	b = binary.LittleEndian.AppendUint32(b, uint32(len(parts)))
	b = binary.LittleEndian.AppendUint32(b, uint32(points))
	first := 0
	for _, p := range parts {
		b = binary.LittleEndian.AppendUint32(b, uint32(first))
		first += len(p)
	}
	for _, p := range parts {
		for _, at := range p {
			b = appendDouble(appendDouble(b, at.x), at.y)
		}
	}
	if kind == shpPolyLineZ {
		b = appendHeights(b, parts)
	}
	return b
}

// appendHeights appends the range of heights and each height.
func appendHeights(b []byte, parts [][]pos) []byte {
	low, high := math.Inf(1), math.Inf(-1)
	var all []float64
	for _, p := range parts {
		for _, at := range p {
			z := orNoHeight(at.z)
			low, high, all = min(low, z), max(high, z), append(all, z)
		}
	}
	b = appendDouble(appendDouble(b, low), high)
	for _, z := range all {
		b = appendDouble(b, z)
	}
	return b
}

func orNoHeight(z float64) float64 {
	if !known(z) {
		return noHeight
	}
	return z
}
