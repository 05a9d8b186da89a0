package survey

import (
	"context"
	"io"

	"tracemap/internal/parallel"
)

// A pump reads a source that may keep its reader waiting – a person typing, a
// pipe – and lets go of it when the context ends. The waiting read then goes on
// behind, and its answer is thrown away.
type pump struct {
	ctx    context.Context
	blocks chan block
	rest   []byte
	err    error
}

type block struct {
	data []byte
	err  error
}

// newPump opens the source in the background, for opening may wait as well.
func newPump(ctx context.Context, open func() (io.ReadCloser, error)) *pump {
	p := &pump{ctx: ctx, blocks: make(chan block)}
	go func() {
		if err := parallel.Catch("reading a source", func() error { p.fill(open); return nil }); err != nil {
			p.give(block{err: err})
		}
	}()
	return p
}

func (p *pump) fill(open func() (io.ReadCloser, error)) {
	r, err := open()
	if err != nil {
		p.give(block{err: err})
		return
	}
	defer r.Close()
	for {
		b := block{data: make([]byte, 1<<16)}
		var n int
		n, b.err = r.Read(b.data)
		b.data = b.data[:n]
		if !p.give(b) || b.err != nil {
			return
		}
	}
}

func (p *pump) give(b block) bool {
	select {
	case p.blocks <- b:
		return true
	case <-p.ctx.Done():
		return false
	}
}

// Read waits for bytes, the end or the context.
func (p *pump) Read(out []byte) (int, error) {
	for len(p.rest) == 0 && p.err == nil {
		select {
		case b := <-p.blocks:
			p.rest, p.err = b.data, b.err
		case <-p.ctx.Done():
			p.err = p.ctx.Err()
		}
	}
	if len(p.rest) == 0 {
		return 0, p.err
	}
	n := copy(out, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}
