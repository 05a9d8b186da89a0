package tiles

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
)

// ErrNone says that the file has no such tile.
var ErrNone = errors.New("no such tile")

// A Set is an open file of tiles. It may be used by several goroutines.
type Set struct {
	About
	source source
	close  func() error
}

// About is what a file says of itself.
type About struct {
	Kind             string     // media type of its tiles as Tile gives them
	MinZoom, MaxZoom int        //
	Bounds           [4]float64 // west, south, east, north; degrees of WGS 84
	Credit           string     // whose data it is, in plain text; "" when it does not say
}

// A source gives a tile as the file holds it. Rows are counted from the north.
type source interface {
	tile(ctx context.Context, z, x, y int) ([]byte, error)
}

const (
	mvt      = "application/vnd.mapbox-vector-tile"
	svg      = "image/svg+xml"
	deepest  = 30       // zoom: what the Web Mercator pyramid of either format numbers
	longest  = 16 << 20 // bytes of one tile, unpacked
	longText = 1 << 20  // bytes of what a file says of itself
)

// Open opens a file by its content.
func Open(path string) (*Set, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	head := make([]byte, 16)
	if _, err := io.ReadFull(f, head); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: too short for a file of tiles", path), f.Close())
	}
	var s *Set
	switch {
	case bytes.HasPrefix(head, []byte("PMTiles")):
		s, err = openPMTiles(f)
	case bytes.HasPrefix(head, []byte("SQLite format 3\x00")):
		if err = f.Close(); err == nil {
			s, err = openMBTiles(path)
		}
	default:
		err = errors.Join(errors.New("neither PMTiles nor MBTiles"), f.Close())
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if s.MinZoom < 0 || s.MaxZoom > deepest || s.MinZoom > s.MaxZoom {
		return nil, errors.Join(fmt.Errorf("%s: zooms %d to %d", path, s.MinZoom, s.MaxZoom), s.Close())
	}
	return s, nil
}

// Close closes the file.
func (s *Set) Close() error { return s.close() }

// Tile gives one tile of the Web Mercator pyramid, row 0 in the north: a picture
// as it is, a vector tile drawn as one. It gives ErrNone where the file has none.
func (s *Set) Tile(ctx context.Context, z, x, y int) ([]byte, error) {
	if z < s.MinZoom || z > s.MaxZoom || x < 0 || y < 0 || x >= 1<<z || y >= 1<<z {
		return nil, ErrNone
	}
	b, err := s.source.tile(ctx, z, x, y)
	if err != nil || s.Kind != svg {
		return b, err
	}
	if b, err = unpacked(b); err != nil {
		return nil, err
	}
	return draw(b)
}

// unpacked undoes gzip where a tile is packed.
func unpacked(b []byte) ([]byte, error) {
	if !bytes.HasPrefix(b, []byte{0x1f, 0x8b}) {
		return b, nil
	}
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	b, err = io.ReadAll(io.LimitReader(z, longest+1))
	if err == nil && len(b) > longest {
		err = fmt.Errorf("unpacks to more than %d bytes", longest)
	}
	return b, err
}

// shown is the media type under which tiles of a kind are given out.
func shown(kind string) string {
	if kind == mvt {
		return svg
	}
	return kind
}

// world bounds what a file says of its reach.
func world(b [4]float64) [4]float64 {
	for i, most := range []float64{180, 85.06, 180, 85.06} {
		if math.IsNaN(b[i]) || math.Abs(b[i]) > most {
			return [4]float64{-180, -85.06, 180, 85.06}
		}
	}
	return b
}
