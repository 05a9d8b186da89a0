package geofile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// Shape types (ESRI Shapefile Technical Description, July 1998). Those with Z
// have ten more, those with M twenty.
const (
	shpNull       = 0
	shpPoint      = 1
	shpPolyLine   = 3
	shpPolygon    = 5
	shpMultiPoint = 8
)

// readShapefile reads the main file and, beside it, attributes (.dbf), their
// encoding (.cpg) and the coordinate system (.prj). Every count is held against
// the length of its record, and every length against the file.
func readShapefile(s *source) (*File, error) {
	const head = 100
	if len(s.data) < head {
		return nil, errors.New("is a Shapefile cut off in its header")
	}
	f := &File{Format: "Shapefile", budget: s.budget, Layers: []Layer{{Name: stem(s.name), CutNames: dbfName}}}
	layer := &f.Layers[0]
	if prj := s.beside(".prj"); len(prj) > 0 {
		layer.withCRS(decodeText(prj))
	}
	table, err := readDBF(s.beside(".dbf"), s.beside(".cpg"))
	if err != nil {
		f.Notes = append(f.Notes, fmt.Sprintf("the attributes beside the Shapefile cannot be read: %v", err))
	}
	rest := s.data[head:]
	for n := 1; len(rest) > 0; n++ {
		where := fmt.Sprintf("record %d", n)
		if len(rest) < 8 {
			f.aside(where, "the file ends in its header")
			break
		}
		size := int64(binary.BigEndian.Uint32(rest[4:])) * 2
		rest = rest[8:]
		if size > int64(len(rest)) {
			f.aside(where, "claims %d bytes where %d are left", size, len(rest))
			break
		}
		feature := Feature{Where: where}
		table.row(n-1, &feature)
		if err := feature.takeShape(rest[:size]); err != nil {
			f.aside(where, "%v", err)
		}
		f.keep(layer, feature)
		rest = rest[size:]
		if err := f.budget.error(); err != nil {
			return nil, err
		}
	}
	return f, nil
}

var errShape = errors.New("claims more points than its record holds")

// takeShape reads the content of a record.
func (f *Feature) takeShape(b []byte) error {
	if len(b) < 4 {
		return errors.New("has no shape")
	}
	kind := binary.LittleEndian.Uint32(b)
	hasZ := kind > 10 && kind < 20
	switch {
	case kind == shpNull:
		return errors.New("has no geometry")
	case kind%10 == shpPoint && kind < 30:
		return f.takeShapePoint(b[4:], hasZ)
	case kind%10 == shpPolyLine && kind < 30:
		return f.takeShapeParts(b[4:], hasZ)
	case kind%10 == shpPolygon, kind%10 == shpMultiPoint, kind == 31:
		f.Others++
		return nil
	}
	return fmt.Errorf("unknown shape type %d", kind)
}

func (f *Feature) takeShapePoint(b []byte, hasZ bool) error {
	if len(b) < 16 || hasZ && len(b) < 24 {
		return errShape
	}
	v := Vertex{float64At(b, 0), float64At(b, 1), math.NaN()}
	if hasZ {
		v.Z = noZ(float64At(b, 2))
	}
	if !finite(v.X) || !finite(v.Y) {
		return fmt.Errorf("the point is %v, %v", v.X, v.Y)
	}
	f.Points = append(f.Points, v)
	return nil
}

func float64At(b []byte, i int) float64 {
	return math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
}

// takeShapeParts reads a polyline: box (32 bytes), number of parts, number of
// points, first point of each part, points, and with Z its range (16 bytes) and
// values. Measures, which may be missing though the type has them, are not read.
func (f *Feature) takeShapeParts(b []byte, hasZ bool) error {
	const head = 40
	if len(b) < head {
		return errShape
	}
	parts, points := uint64(binary.LittleEndian.Uint32(b[32:])), uint64(binary.LittleEndian.Uint32(b[36:]))
	need := head + 4*parts + 16*points
	if hasZ {
		need += 16 + 8*points
	}
	if need > uint64(len(b)) {
		return errShape
	}
	xy := b[head+4*parts:]
	z := xy[16*points:]
	for i := range int(parts) {
		from := uint64(binary.LittleEndian.Uint32(b[head+4*i:]))
		to := points
		if i+1 < int(parts) {
			to = uint64(binary.LittleEndian.Uint32(b[head+4*(i+1):]))
		}
		if from > to || to > points {
			return fmt.Errorf("part %d has the points %d to %d of %d", i+1, from, to, points)
		}
		line := make([]Vertex, 0, to-from)
		for k := int(from); k < int(to); k++ {
			v := Vertex{float64At(xy, 2*k), float64At(xy, 2*k+1), math.NaN()}
			if hasZ {
				v.Z = noZ(float64At(z, 2+k))
			}
			line = append(line, v)
		}
		if reason := f.addLine(line); reason != "" {
			return errors.New(reason)
		}
	}
	return nil
}
