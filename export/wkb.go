package export

import (
	"bytes"
	"encoding/binary"
	"math"

	"tracemap/present"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// ISO well-known binary: type codes, to which 1000 is added with heights.
const (
	wkbPoint        = 1
	wkbLineString   = 2
	wkbMultiPrefix  = 3 // added to a single type
	wkbWithHeight   = 1000
	wkbLittleEndian = 1
)

// appendWKB appends a shape as ISO well-known binary, little endian; multi makes
// a Multi… of lines and areas. Areas, which have no heights, are left to orb: it
// knows two dimensions only.
func appendWKB(b []byte, s shape, multi bool) []byte {
	switch {
	case len(s.areas) > 0 && multi:
		return appendWKBArea(b, s.areas)
	case len(s.areas) > 0:
		return appendWKBArea(b, s.areas[0])
	}
	if !multi {
		return appendWKBPath(b, s.paths[0])
	}
	b = appendWKBHead(b, wkbLineString+wkbMultiPrefix, present.Known(s.paths[0][0].z))
	b = binary.LittleEndian.AppendUint32(b, uint32(len(s.paths)))
	for _, p := range s.paths {
		b = appendWKBPath(b, p)
	}
	return b
}

func appendWKBArea(b []byte, area orb.Geometry) []byte {
	w := bytes.NewBuffer(b)
	if err := wkb.NewEncoder(w).SetByteOrder(binary.LittleEndian).Encode(area); err != nil {
		panic(err) // types alone that it does not know
	}
	return w.Bytes()
}

func appendWKBHead(b []byte, kind uint32, height bool) []byte {
	if height {
		kind += wkbWithHeight
	}
	return binary.LittleEndian.AppendUint32(append(b, wkbLittleEndian), kind)
}

func appendWKBPath(b []byte, p path) []byte {
	height := present.Known(p[0].z)
	if len(p) == 1 {
		return appendWKBPosition(appendWKBHead(b, wkbPoint, height), p[0], height)
	}
	b = appendWKBHead(b, wkbLineString, height)
	b = binary.LittleEndian.AppendUint32(b, uint32(len(p)))
	for _, at := range p {
		b = appendWKBPosition(b, at, height)
	}
	return b
}

func appendWKBPosition(b []byte, p pos, height bool) []byte {
	b = appendDouble(appendDouble(b, p.x), p.y)
	if height {
		b = appendDouble(b, p.z)
	}
	return b
}

func appendDouble(b []byte, v float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
}
