package geofile

import (
	"context"
	"fmt"
)

// maxKept bounds what is kept of one file, bytes of memory, roughly: of a file
// that is made to hurt, many times its own size. A record of a large town takes
// some 300 MB.
const maxKept = 1 << 29

// A budget counts what a reader keeps, not what it reads: nine kilobytes, packed,
// can name a folder of megabytes above each of a million placemarks. It also sees
// to it that a reader whose caller has left stops. Its error stays: a reader may
// look at it once for each feature.
type budget struct {
	ctx  context.Context
	kept int
	asks int
	err  error
}

func newBudget(ctx context.Context) *budget { return &budget{ctx: ctx} }

// keep counts n more bytes at a place in the file, and returns the budget's error.
// A nil budget has no bound.
func (b *budget) keep(n int, where string) error {
	if b == nil || b.err != nil {
		return b.error()
	}
	if b.kept += n; b.kept > maxKept {
		b.err = fmt.Errorf("%s: by here more than the %d MB that are kept of one file are used up: cut it to the site first", where, maxKept>>20)
	} else if b.asks++; b.asks%256 == 0 {
		b.err = b.ctx.Err()
	}
	return b.err
}

func (b *budget) error() error {
	if b == nil {
		return nil
	}
	return b.err
}

// Bytes that each piece takes beside its text: measured on 64-bit machines,
// rounded up.
const (
	asideSize   = 96
	featureSize = 224
	attrSize    = 48
	vertexSize  = 24
	cellSize    = 16
	rowSize     = 64
)

// size is what a feature takes in memory, bytes.
func (f *Feature) size() int {
	n := featureSize + len(f.ID) + len(f.Group) + len(f.Where) + vertexSize*len(f.Points)
	for _, a := range f.Attrs {
		n += attrSize + len(a.Value)
	}
	for _, l := range f.Lines {
		n += attrSize + vertexSize*len(l)
	}
	return n
}
