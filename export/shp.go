package export

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"github.com/paulmach/orb"

	"tracemap/geodesy"
	"tracemap/internal/newfile"
	"tracemap/present"
	"tracemap/result"
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
	m   *result.Map
	to  *target
	prj string
}

// writeSHP writes a shapefile a layer. Field names are those of the data
// dictionary's column DBF.
func writeSHP(ctx context.Context, dir string, m *result.Map, opt Options) error {
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

// A measured layer is what its files' headers say of it.
type measured struct {
	rows      int
	content   int // bytes of all records
	box       orb.Bound
	low, high float64 // heights
	fields    []dbfField
}

const (
	shpHead = 100 // bytes of the header of .shp and .shx
	shpMost = math.MaxInt32
)

// writeSHP writes a layer's files. The rows are gone through twice, once for what
// the headers say, so that none of them is kept.
func (l *layer[R]) writeSHP(s *shapefiles) error {
	kind := l.shapeType()
	columns := l.columns
	if kind == shpPointZ || kind == shpPolyLineZ {
		columns = append(slices.Clone(columns), column[R]{Name: "z_known", DBF: "z_known", Kind: boolKind, Get: func(r *R) cell { return truth(l.hasHeight(r)) }})
	}
	size, err := l.measure(s, kind, columns)
	if err != nil {
		return err
	}
	for ext, text := range map[string]string{".prj": s.prj, ".cpg": "UTF-8"} {
		err := newfile.Write(filepath.Join(s.dir, l.name+ext), func(w *bufio.Writer) error {
			_, err := w.WriteString(text)
			return err
		})
		if err != nil {
			return err
		}
	}
	err = newfile.Write(filepath.Join(s.dir, l.name+".shp"), func(shp *bufio.Writer) error {
		return newfile.Write(filepath.Join(s.dir, l.name+".shx"), func(shx *bufio.Writer) error {
			return l.writeShapes(s.ctx, kind, size, shp, shx)
		})
	})
	if err != nil {
		return err
	}
	return newfile.Write(filepath.Join(s.dir, l.name+".dbf"), func(w *bufio.Writer) error {
		if err := dbf(w, columns, size.fields, l.rows, size.rows, s.m.Meta.To); err != nil {
			return fmt.Errorf("layer %s: %w", l.name, err)
		}
		return nil
	})
}

// hasHeight reports whether the last position of a row's shape has a height:
// either all have one or none.
func (l *layer[R]) hasHeight(row *R) (yes bool) {
	if s, err := l.shape(row); err == nil {
		s.each(func(p pos) { yes = present.Known(p.z) })
	}
	return yes
}

// measure goes through the rows for what headers say.
func (l *layer[R]) measure(s *shapefiles, kind uint32, columns []column[R]) (measured, error) {
	m := measured{box: nowhere, low: math.Inf(1), high: math.Inf(-1)}
	fields, err := dbfFields(columns)
	if err != nil {
		return m, fmt.Errorf("layer %s: %w", l.name, err)
	}
	m.fields = fields
	var record []byte
	for row := range l.rows {
		if err := s.ctx.Err(); err != nil {
			return m, err
		}
		shape, err := l.shape(row)
		if err != nil {
			return m, err
		}
		m.rows++
		m.box = m.box.Union(shape.box())
		shape.each(func(p pos) { m.low, m.high = min(m.low, orNoHeight(p.z)), max(m.high, orNoHeight(p.z)) })
		record = appendShape(record[:0], kind, shape)
		if m.content += 8 + len(record); shpHead+m.content > shpMost {
			return m, fmt.Errorf("layer %s is larger than the 2 GB that a shapefile can hold", l.name)
		}
		for i := range columns {
			m.fields[i].width = max(m.fields[i].width, len(dbfValue(&columns[i], row)))
		}
	}
	if kind == shpPolyLine || kind == shpPolygon || m.box.IsEmpty() {
		m.low, m.high = 0, 0
	}
	return m, nil
}

// writeShapes writes .shp and .shx.
func (l *layer[R]) writeShapes(ctx context.Context, kind uint32, size measured, shp, shx *bufio.Writer) error {
	for w, content := range map[*bufio.Writer]int{shp: size.content, shx: 8 * size.rows} {
		if _, err := w.Write(shpHeader(kind, content, size.box, size.low, size.high)); err != nil {
			return err
		}
	}
	var b []byte
	at, number := shpHead, 0
	for row := range l.rows {
		if err := ctx.Err(); err != nil {
			return err
		}
		shape, err := l.shape(row)
		if err != nil {
			return err
		}
		number++
		b = appendShape(append(b[:0], make([]byte, 8)...), kind, shape)
		words := uint32(len(b)-8) / 2 // lengths and offsets count 16-bit words
		binary.BigEndian.PutUint32(b, uint32(number))
		binary.BigEndian.PutUint32(b[4:], words)
		if _, err := shp.Write(b); err != nil {
			return err
		}
		entry := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(at/2)), words)
		if _, err := shx.Write(entry); err != nil {
			return err
		}
		at += len(b)
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
	if !present.Known(z) {
		return noHeight
	}
	return z
}
