package geodesy

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
)

// ShiftGrid is a grid of corrections between two datums, in latitude and
// longitude, from a file of the format NTv2 (.gsb). It never changes and is safe
// for use by several goroutines.
type ShiftGrid struct {
	name     string
	from, to string // the datums as the file names them
	subs     []shiftCells
}

// shiftCells is a rectangle of nodes, the first in its south-east corner, rows
// going west and then north. Angles are in seconds of arc, longitudes positive
// to the west, as in the file.
type shiftCells struct {
	south, north, east, west float64
	dLat, dLon               float64
	rows, cols               int
	nodes                    []byte // 16 bytes a node
	order                    binary.ByteOrder
}

// What a grid may hold. The largest that are published have some hundred parts
// and 130 MB.
const (
	maxShiftParts = 20_000
	ntv2Record    = 16
	ntv2Header    = 11 * ntv2Record
)

// ReadShiftGrid reads a file of the format NTv2, either byte order, and keeps
// data. The name is for messages. Format: Natural Resources Canada, "NTv2 user's
// guide", as PROJ and GDAL read it; a file of 180 degrees by 1' is 930 MB, and
// nothing is allocated by a number in it.
func ReadShiftGrid(name string, data []byte) (*ShiftGrid, error) {
	wrong := func(format string, args ...any) error {
		return fmt.Errorf("correction grid %s: "+format, append([]any{name}, args...)...)
	}
	if len(data) < ntv2Header || !bytes.HasPrefix(data, []byte("NUM_OREC")) {
		return nil, wrong("is not of the format NTv2 (.gsb), which begins with NUM_OREC")
	}
	var order binary.ByteOrder = binary.LittleEndian
	if order.Uint32(data[8:]) != 11 {
		order = binary.BigEndian
	}
	if order.Uint32(data[8:]) != 11 || order.Uint32(data[24:]) != 11 {
		return nil, wrong("has headers of other than 11 records")
	}
	parts := int(order.Uint32(data[40:]))
	if parts < 1 || parts > maxShiftParts {
		return nil, wrong("has %d parts by its header", parts)
	}
	if unit := ntv2Text(data[56:]); unit != "SECONDS" {
		return nil, wrong("has corrections in %q, not in SECONDS", unit)
	}
	g := &ShiftGrid{name: name, from: ntv2Text(data[88:]), to: ntv2Text(data[104:])}
	rest := data[ntv2Header:]
	for range parts {
		if len(rest) < ntv2Header {
			return nil, wrong("ends before its last part")
		}
		s, count := readShiftHeader(rest, order)
		rest = rest[ntv2Header:]
		if err := s.check(count); err != nil {
			return nil, wrong("%w", err)
		}
		if count > len(rest)/ntv2Record {
			return nil, wrong("ends before its last node")
		}
		s.nodes, rest = rest[:count*ntv2Record], rest[count*ntv2Record:]
		g.subs = append(g.subs, s)
	}
	return g, nil
}

func readShiftHeader(head []byte, order binary.ByteOrder) (shiftCells, int) {
	value := func(record int) float64 { return math.Float64frombits(order.Uint64(head[record*ntv2Record+8:])) }
	s := shiftCells{south: value(4), north: value(5), east: value(6), west: value(7), dLat: value(8), dLon: value(9), order: order}
	s.rows, s.cols = nodesBetween(s.south, s.north, s.dLat), nodesBetween(s.east, s.west, s.dLon)
	return s, int(order.Uint32(head[10*ntv2Record+8:]))
}

// nodesBetween is how many nodes a step makes from one edge to the other; 0 for
// edges that make no sense.
func nodesBetween(from, to, step float64) int {
	const most = 1e6
	n := math.Round((to-from)/step) + 1
	if !(step > 0) || !(n >= 2 && n <= most) || math.Abs(from+(n-1)*step-to) > step/1000 {
		return 0
	}
	return int(n)
}

func (s *shiftCells) check(count int) error {
	const full = 360 * 3600
	switch {
	case s.rows == 0 || s.cols == 0 || math.Abs(s.south) > full || math.Abs(s.east) > full:
		return fmt.Errorf("a part's edges make no sense: latitude %v to %v by %v, longitude %v to %v by %v", s.south, s.north, s.dLat, s.east, s.west, s.dLon)
	case s.rows*s.cols != count:
		return fmt.Errorf("a part has %d nodes, and its edges ask for %d times %d", count, s.rows, s.cols)
	}
	return nil
}

func ntv2Text(b []byte) string { return strings.TrimSpace(strings.TrimRight(string(b[:8]), "\x00")) }

// String is the file's name and the datums that it names.
func (g *ShiftGrid) String() string { return fmt.Sprintf("%s (%s to %s)", g.name, g.from, g.to) }

// at returns the correction at a place, degrees north and east. It is
// interpolated between four nodes, as PROJ does. Where parts overlap, the finest
// counts.
func (g *ShiftGrid) at(lat, lon float64) (north, east float64, ok bool) {
	lat, west := lat*3600, -wrapDegrees(lon)*3600
	var best *shiftCells
	for i := range g.subs {
		s := &g.subs[i]
		if lat >= s.south && lat <= s.north && west >= s.east && west <= s.west && (best == nil || s.dLat < best.dLat) {
			best = s
		}
	}
	if best == nil {
		return 0, 0, false
	}
	s := best
	y, x := (lat-s.south)/s.dLat, (west-s.east)/s.dLon
	row, col := min(int(y), s.rows-2), min(int(x), s.cols-2)
	y, x = y-float64(row), x-float64(col)
	for _, n := range [4]struct {
		row, col int
		weight   float64
	}{{row, col, (1 - y) * (1 - x)}, {row, col + 1, (1 - y) * x}, {row + 1, col, y * (1 - x)}, {row + 1, col + 1, y * x}} {
		node := s.nodes[(n.row*s.cols+n.col)*ntv2Record:]
		north += n.weight * float64(math.Float32frombits(s.order.Uint32(node)))
		east -= n.weight * float64(math.Float32frombits(s.order.Uint32(node[4:])))
	}
	north, east = north/3600, east/3600
	const most = 1 // degree; datums lie within a kilometre of each other
	return north, east, math.Abs(north) < most && math.Abs(east) < most
}

// Forward takes a place on the grid's first datum to its second. The height stays.
func (g *ShiftGrid) Forward(p Geo) (Geo, error) {
	north, east, ok := g.at(p.Lat, p.Lon)
	if !ok {
		return Geo{}, g.outside(p)
	}
	return Geo{Lat: p.Lat + north, Lon: wrapDegrees(p.Lon + east), H: p.H}, nil
}

// Inverse takes a place on the second datum to the first, with an error below
// 1 µm: the corrections change by less than a thousandth of the distance, so that
// each round gains three digits.
func (g *ShiftGrid) Inverse(p Geo) (Geo, error) {
	q := p
	for range 6 {
		north, east, ok := g.at(q.Lat, q.Lon)
		if !ok {
			return Geo{}, g.outside(p)
		}
		q.Lat, q.Lon = p.Lat-north, wrapDegrees(p.Lon-east)
	}
	return q, nil
}

func (g *ShiftGrid) outside(p Geo) error {
	return fmt.Errorf("the grid %s has no correction at %.6f, %.6f", g.name, p.Lat, p.Lon)
}
