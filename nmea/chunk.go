package nmea

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"

	"tracemap/internal/parallel"
)

// chunkSize is how much of a log is framed at a time: enough to make the
// hand-over between goroutines cheap, and small enough to stay in a cache.
const chunkSize = 512 << 10

// chunk is a piece of a log that no sentence crosses, and what was found in it.
type chunk struct {
	data      []byte // view into buf
	buf       []byte
	continued bool // it begins in the middle of a line
	met       bool // the next chunk begins with a sentence, in the same line
	torn      bool // the text of a line goes on in it, cut where nothing ends a sentence
	done      chan struct{}
	fault     error // what kept it from being scanned

	fields  fields // of the sentence at hand
	records []record
	count   framing
	tally   tally
	lib     library
	skies   []uint32  // where GSV starts
	firsts  []uint32  // where the first of each type that no epoch is made of starts
	first   lineState // of the line an earlier chunk began, if it ended here
	ended   bool      // first holds
	last    lineState // of the line the next chunk goes on with
}

// cutter reads a log in chunks.
type cutter struct {
	r    io.Reader
	size int
	rest []byte // read, but not yet in a chunk
	mid  bool   // the next chunk begins in the middle of a line
	torn bool   // and behind text
	err  error  // what ended the reading
}

// next fills c with the next chunk; false at the end of the log.
func (k *cutter) next(c *chunk) bool {
	c.buf = append(c.buf[:0], k.rest...)
	k.rest = nil
	for {
		c.buf = k.fill(c.buf)
		if len(c.buf) == 0 {
			return false
		}
		n := len(c.buf)
		if k.err == nil {
			n = cutPlace(c.buf)
		}
		if n == 0 {
			continue // too short to be cut anywhere: read on
		}
		c.data, k.rest = c.buf[:n], c.buf[n:]
		c.continued, c.torn = k.mid, k.torn
		k.mid = c.data[n-1] != '\n'
		k.torn = k.mid && classes[c.data[n-1]] != carriage && classes[c.data[n-1]] != junk
		c.met = k.mid && len(k.rest) > 0 && classes[k.rest[0]] == start && address(k.rest) > 0
		return true
	}
}

// fill reads until b holds at least a chunk's worth more, or the log ends.
func (k *cutter) fill(b []byte) []byte {
	want := len(b) + k.size
	if cap(b) < want {
		b = append(make([]byte, 0, want), b...)
	}
	for idle := 0; len(b) < want && k.err == nil; idle++ {
		n, err := k.r.Read(b[len(b):want])
		b, k.err = b[:len(b)+n], err
		switch {
		case n > 0:
			idle = 0
		case idle == 100 && err == nil:
			k.err = io.ErrNoProgress
		}
	}
	return b
}

// cutPlace gives a length at which b can be cut without cutting a sentence: at
// the last line end, and where the line is longer than b, at anything else that
// ends a sentence; 0 where more must be read to tell.
func cutPlace(b []byte) int {
	if i := bytes.LastIndexByte(b, '\n'); i >= 0 {
		return i + 1
	}
	tail := len(b) // from where on a start may be incomplete
	for i := len(b) - 1; i >= max(0, len(b)-12); i-- {
		if classes[b[i]] == start {
			tail = i
		}
	}
	for i := tail - 1; i > 0; i-- {
		switch classes[b[i]] {
		case junk, carriage:
			return i + 1
		case start:
			if address(b[i:]) > 0 {
				return i
			}
		}
	}
	if tail > 2*maxSentence+bareReach {
		return tail // text without end: the sentences it may begin with are complete or overlong
	}
	return 0
}

// scan frames the chunk and reads the sentences that epochs are made of.
func (c *chunk) scan() {
	s := newScanner(c.data, c.continued)
	s.met, s.torn = c.met, c.torn
	c.records = c.records[:0]
	c.skies, c.firsts = c.skies[:0], c.firsts[:0]
	c.tally.reset()
	c.fields.last = said{} // its views are of what was in the buffer before
	var found sentence
	for s.next(&found) {
		first := c.tally.add(&found)
		if found.sum == ChecksumWrong {
			continue
		}
		k := kindOf(found.addr)
		if k >= kindCount {
			c.scanRare(k, &found, first)
			continue
		}
		n := len(c.records)
		if n == cap(c.records) {
			c.records = append(c.records, record{})
		} else {
			c.records = c.records[:n+1]
		}
		r := &c.records[n]
		ok := k.read(&found, &c.fields, r)
		r.line = uint32(found.line)
		if c.fields.reason != "" {
			c.tally.setAside(&found, &c.fields)
		}
		switch {
		case !ok:
			c.records = c.records[:n]
		case !r.checked:
			c.tally.trusted++
		}
	}
	c.count, c.first, c.ended, c.last = s.count, s.firstEnd, s.firstEndKnown, s.line
}

// scanRare takes note of a sentence that is left to the library, if its checksum
// vouches for it.
func (c *chunk) scanRare(k kind, s *sentence, first bool) {
	if s.sum != ChecksumRight {
		return
	}
	if first {
		c.firsts = append(c.firsts, uint32(s.at))
	}
	switch k {
	case kindSky:
		c.skies = append(c.skies, uint32(s.at))
	case kindHeading:
		var r record
		if c.lib.heading(c.data[s.at:], &r) {
			c.records = append(c.records, r)
		}
	}
}

// pipeline reads logs in chunks, and keeps the chunks' memory from one log to the
// next.
type pipeline struct {
	size int // of a chunk, bytes
	idle []*chunk
}

// run hands the chunks of a log to use, in order. They are scanned at the same
// time, as many as there are processors; use is called by one goroutine. It returns
// what ended the reading, nil at a proper end.
func (p *pipeline) run(ctx context.Context, r io.Reader, use func(*chunk)) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	workers := runtime.GOMAXPROCS(0)
	for len(p.idle) < workers+2 {
		p.idle = append(p.idle, &chunk{done: make(chan struct{}, 1)})
	}
	cut := &cutter{r: r, size: p.size}
	free := make(chan *chunk, len(p.idle))
	for _, c := range p.idle {
		free <- c
	}
	jobs := make(chan *chunk, cap(free))
	order := make(chan *chunk, cap(free))
	for range workers {
		go func() {
			for c := range jobs {
				c.fault = parallel.Catch("reading sentences", func() error {
					c.scan()
					return nil
				})
				c.done <- struct{}{}
			}
		}()
	}
	go func() {
		defer close(order)
		defer close(jobs)
		for c := range free {
			more := false
			if err := parallel.Catch("cutting a log", func() error { more = ctx.Err() == nil && cut.next(c); return nil }); err != nil {
				cut.err = err
			}
			if !more {
				return
			}
			order <- c
			jobs <- c
		}
	}()
	whole := false
	defer func() {
		if whole {
			return
		}
		cancel()
		p.idle = nil // the reader still has them
		go func() {  // lets the reader come to its end, which may be waiting for a device
			for c := range order {
				free <- c
			}
		}()
	}()
	for {
		select {
		case c, ok := <-order:
			if !ok {
				whole = true
				return ended(ctx, cut.err)
			}
			if <-c.done; c.fault != nil {
				return c.fault
			}
			use(c)
			free <- c
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// ended gives the error of a log read to its end.
func ended(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}
