package geofile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// Types of ISO well-known binary (OGC 06-103r4, table 11); 1000 is added with z,
// 2000 with m, 3000 with both.
const (
	wkbPoint      = 1
	wkbLineString = 2
	wkbPolygon    = 3
	wkbMultiPoint = 4
	wkbCollection = 7
)

var errWKB = errors.New("the geometry ends too early")

// wkb walks well-known binary. It is read here and not by the library because
// that follows geometries within geometries without a limit of depth.
type wkb struct {
	b     []byte
	order binary.ByteOrder
}

// takeWKB adds what a geometry in ISO well-known binary holds. It says what
// cannot be used.
func (f *Feature) takeWKB(b []byte) error {
	r := &wkb{b: b}
	return r.geometry(f, 0)
}

func (r *wkb) geometry(f *Feature, depth int) error {
	if depth > maxNesting {
		return fmt.Errorf("geometries stand more than %d deep in each other", maxNesting)
	}
	if len(r.b) < 5 {
		return errWKB
	}
	switch r.b[0] {
	case 0:
		r.order = binary.BigEndian
	case 1:
		r.order = binary.LittleEndian
	default:
		return fmt.Errorf("byte order %d", r.b[0])
	}
	code := r.order.Uint32(r.b[1:])
	r.b = r.b[5:]
	kind, dims := code%1000, int(code/1000)
	if dims > 3 {
		return fmt.Errorf("unknown type %d of a geometry", code)
	}
	size, hasZ := []int{2, 3, 3, 4}[dims], dims&1 == 1
	switch {
	case kind == wkbPoint:
		return r.point(f, size, hasZ)
	case kind == wkbLineString:
		line, err := r.points(size, hasZ)
		if err != nil || len(line) == 0 {
			return err
		}
		if reason := f.addLine(line); reason != "" {
			return errors.New(reason)
		}
		return nil
	case kind == wkbPolygon:
		f.Others++
		return r.rings(size)
	case kind >= wkbMultiPoint && kind <= wkbCollection:
		n, err := r.count(5)
		for ; n > 0 && err == nil; n-- {
			err = r.geometry(f, depth+1)
		}
		return err
	}
	return fmt.Errorf("type %d of a geometry is not read: only straight lines and points", code)
}

// count reads how many things follow, each at least size bytes long.
func (r *wkb) count(size int) (int, error) {
	if len(r.b) < 4 {
		return 0, errWKB
	}
	n := r.order.Uint32(r.b)
	r.b = r.b[4:]
	if uint64(n)*uint64(size) > uint64(len(r.b)) {
		return 0, errWKB
	}
	return int(n), nil
}

func (r *wkb) point(f *Feature, size int, hasZ bool) error {
	if len(r.b) < 8*size {
		return errWKB
	}
	// A point of NaN is an empty one.
	if v := r.vertex(size, hasZ); finite(v.X) && finite(v.Y) {
		f.Points = append(f.Points, v)
	}
	return nil
}

func (r *wkb) points(size int, hasZ bool) ([]Vertex, error) {
	n, err := r.count(8 * size)
	if err != nil {
		return nil, err
	}
	line := make([]Vertex, n)
	for i := range line {
		line[i] = r.vertex(size, hasZ)
	}
	return line, nil
}

func (r *wkb) rings(size int) error {
	n, err := r.count(4)
	for ; n > 0 && err == nil; n-- {
		var points int
		points, err = r.count(8 * size)
		if err == nil {
			r.b = r.b[points*8*size:]
		}
	}
	return err
}

func (r *wkb) vertex(size int, hasZ bool) Vertex {
	at := func(i int) float64 { return math.Float64frombits(r.order.Uint64(r.b[8*i:])) }
	v := Vertex{at(0), at(1), math.NaN()}
	if hasZ {
		v.Z = noZ(at(2))
	}
	r.b = r.b[8*size:]
	return v
}
