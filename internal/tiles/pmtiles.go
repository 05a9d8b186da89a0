package tiles

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"sort"
	"strings"
	"sync"
)

// The layout follows the PMTiles specification, version 3
// (https://github.com/protomaps/PMTiles/blob/main/spec/v3/spec.md).

const (
	headLength = 127
	mostLevels = 4        // of directories: the root and three of leaves
	longestDir = 32 << 20 // bytes of a directory, unpacked
	keptDirs   = 64
)

// pmKinds are the media types by the number of the tile type.
var pmKinds = map[byte]string{1: mvt, 2: "image/png", 3: "image/jpeg", 4: "image/webp", 5: "image/avif"}

// A span is a stretch of the file, bytes.
type span struct{ offset, length uint64 }

type pmtiles struct {
	from                   io.ReaderAt
	root, leaves, data     span
	packedDirs, packedTile byte // 1 not, 2 gzip

	mu   sync.Mutex
	dirs map[span][]pmEntry // read ones
}

// A pmEntry names run tiles from id on with the same bytes; run 0 is a leaf
// directory.
type pmEntry struct {
	id     uint64
	run    uint64
	length uint64
	offset uint64
}

func openPMTiles(f interface {
	io.ReaderAt
	io.Closer
}) (*Set, error) {
	h := make([]byte, headLength)
	if _, err := f.ReadAt(h, 0); err != nil {
		return nil, errors.Join(fmt.Errorf("reading the header: %w", err), f.Close())
	}
	u := func(at int) uint64 { return binary.LittleEndian.Uint64(h[at:]) }
	deg := func(at int) float64 { return float64(int32(binary.LittleEndian.Uint32(h[at:]))) / 1e7 }
	p := &pmtiles{from: f, root: span{u(8), u(16)}, leaves: span{u(40), u(48)}, data: span{u(56), u(64)}, packedDirs: h[97], packedTile: h[98], dirs: map[span][]pmEntry{}}
	s := &Set{source: p, close: f.Close, About: About{
		Kind: shown(pmKinds[h[99]]), MinZoom: int(h[100]), MaxZoom: int(h[101]), Bounds: world([4]float64{deg(102), deg(106), deg(110), deg(114)}),
	}}
	var err error
	switch {
	case h[7] != 3:
		err = fmt.Errorf("PMTiles of version %d; only version 3 is read", h[7])
	case s.Kind == "":
		err = fmt.Errorf("tiles of an unknown sort (%d)", h[99])
	case p.packedDirs > 2 || p.packedTile > 2:
		err = fmt.Errorf("packed with method %d and %d; only gzip is read", p.packedDirs, p.packedTile)
	default:
		s.Credit, err = p.credit(span{u(24), u(32)})
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return s, nil
}

// credit reads whose data it is.
func (p *pmtiles) credit(at span) (string, error) {
	if at.length == 0 {
		return "", nil
	}
	b, err := p.read(at, longText)
	if err == nil && p.packedDirs == 2 {
		b, err = unpacked(b)
	}
	if err != nil {
		return "", fmt.Errorf("reading the metadata: %w", err)
	}
	var m struct {
		Attribution string `json:"attribution"`
	}
	if err := json.Unmarshal(b, &m); err != nil {
		return "", nil // it is only shown
	}
	return plain(m.Attribution), nil
}

// plain takes the markup out of a text.
func plain(text string) string {
	var b strings.Builder
	inside := false
	for _, r := range text {
		switch {
		case r == '<':
			inside = true
		case r == '>':
			inside = false
		case !inside && r >= ' ':
			b.WriteRune(r)
		}
	}
	text = strings.Join(strings.Fields(b.String()), " ")
	if runes := []rune(text); len(runes) > 200 {
		text = string(runes[:200])
	}
	return text
}

func (p *pmtiles) read(at span, most uint64) ([]byte, error) {
	if at.length > most || at.offset > 1<<62 {
		return nil, fmt.Errorf("a stretch of %d bytes at %d", at.length, at.offset)
	}
	b := make([]byte, at.length)
	_, err := p.from.ReadAt(b, int64(at.offset))
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return b, err
}

func (p *pmtiles) tile(_ context.Context, z, x, y int) ([]byte, error) {
	id := tileID(z, x, y)
	dir := p.root
	for range mostLevels {
		entries, err := p.directory(dir)
		if err != nil {
			return nil, fmt.Errorf("reading a directory: %w", err)
		}
		i := sort.Search(len(entries), func(i int) bool { return entries[i].id > id }) - 1
		if i < 0 {
			return nil, ErrNone
		}
		e := entries[i]
		if e.run > 0 {
			if id-e.id >= e.run {
				return nil, ErrNone
			}
			return p.read(span{p.data.offset + e.offset, e.length}, longest)
		}
		dir = span{p.leaves.offset + e.offset, e.length}
	}
	return nil, errors.New("directories are nested too deep")
}

// directory reads a directory, or gives the one that was read.
func (p *pmtiles) directory(at span) ([]pmEntry, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if d, ok := p.dirs[at]; ok {
		return d, nil
	}
	b, err := p.read(at, longestDir)
	if err == nil && p.packedDirs == 2 {
		b, err = unpacked(b)
	}
	if err != nil {
		return nil, err
	}
	d, err := parseDirectory(b)
	if err != nil {
		return nil, err
	}
	if len(p.dirs) >= keptDirs {
		clear(p.dirs)
	}
	p.dirs[at] = d
	return d, nil
}

// parseDirectory reads the columns of a directory: identifiers as differences,
// runs, lengths, offsets.
func parseDirectory(b []byte) ([]pmEntry, error) {
	r := bytes.NewReader(b)
	var err error
	next := func() uint64 {
		v, e := binary.ReadUvarint(r)
		err = errors.Join(err, e)
		return v
	}
	n := next()
	if n > uint64(len(b)) { // an entry takes four bytes or more
		return nil, fmt.Errorf("%d entries in %d bytes", n, len(b))
	}
	d := make([]pmEntry, n)
	id := uint64(0)
	for i := range d {
		id += next()
		d[i].id = id
	}
	for i := range d {
		d[i].run = next()
	}
	for i := range d {
		d[i].length = next()
	}
	for i := range d {
		if v := next(); v > 0 {
			d[i].offset = v - 1
		} else if i > 0 {
			d[i].offset = d[i-1].offset + d[i-1].length
		}
		if err != nil {
			return nil, err
		}
	}
	return d, err
}

// tileID numbers the tiles of all zooms along Hilbert curves.
func tileID(z, x, y int) uint64 {
	id := (uint64(1)<<(2*z) - 1) / 3 // tiles of the zooms above
	for s := 1 << z / 2; s > 0; s /= 2 {
		rx, ry := 0, 0
		if x&s > 0 {
			rx = 1
		}
		if y&s > 0 {
			ry = 1
		}
		id += uint64(s) * uint64(s) * uint64(3*rx^ry)
		if ry == 0 {
			if rx == 1 {
				x, y = s-1-x&(s-1), s-1-y&(s-1)
			}
			x, y = y, x
		}
	}
	return id
}
