package survey

import (
	"bufio"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
)

// What packs better than any log does. gzip -9 makes receivers' logs 7 to 13 times
// smaller (logs of four receivers), and 20 times one that stands still to the last
// digit; deflate's own bound is 1032. Below the size nothing is refused.
const (
	mostSwelling  = 200
	leastSwelling = 64 << 20
)

// A tap is the reading of one input: it opens it when the first byte is asked
// for, hashes what is on the disk, unpacks gzip, and ends an incomplete gzip
// file where it breaks off instead of losing what came before.
type tap struct {
	in       *input
	ctx      context.Context
	progress func(bytes int64) // told of bytes as they are read

	closer io.Closer
	raw    *hashReader
	data   io.Reader
	packed bool
	given  int64 // unpacked bytes
	broken error // what ended a gzip file early
	device error // what kept the bytes from being read
	ended  bool
}

func (i *input) open(ctx context.Context, progress func(int64)) *tap {
	i.tap = &tap{in: i, ctx: ctx, progress: progress}
	return i.tap
}

func (t *tap) start() error {
	var src io.Reader = t.in.once
	if !t.in.Once {
		f, err := t.in.Source.Open()
		if err != nil {
			return err
		}
		t.closer, src = f, f
	}
	t.raw = &hashReader{ctx: t.ctx, r: src, sum: sha256.New(), progress: t.progress}
	br := bufio.NewReaderSize(t.raw, 1<<16)
	t.data = br
	if head, _ := br.Peek(3); isGzip(head) {
		z, err := gzip.NewReader(br)
		if err != nil {
			t.broken, t.data = err, eof{}
		} else {
			t.data, t.packed = z, true
		}
	}
	return nil
}

// Read gives the unpacked bytes. Errors of the device come through; those of
// the packing end the log.
func (t *tap) Read(p []byte) (int, error) {
	if t.ended {
		return 0, io.EOF
	}
	if t.data == nil {
		if t.device = t.start(); t.device != nil {
			return 0, t.device
		}
	}
	n, err := t.data.Read(p)
	t.given += int64(n)
	if t.packed && t.given > leastSwelling && t.given > mostSwelling*t.raw.n {
		t.device = fmt.Errorf("unpacks to more than %d times its size, as no log does: unpack it yourself if it is one", mostSwelling)
		return 0, t.device
	}
	if err == nil {
		return n, nil
	}
	if err != io.EOF && t.raw.err == nil {
		t.broken, err = err, io.EOF
	}
	if err == io.EOF {
		err = t.finish()
	}
	if err != io.EOF {
		t.device = err
	}
	return n, err
}

// failed reports whether the bytes themselves could not be had, as against
// bytes that make no sense.
func (t *tap) failed() bool { return t.device != nil }

// finish reads what the unpacking left, so that the hash is that of the whole
// file.
func (t *tap) finish() error {
	t.ended = true
	_, err := io.Copy(io.Discard, t.raw)
	if t.closer != nil {
		t.closer.Close()
	}
	if err != nil {
		return err
	}
	return io.EOF
}

// sum is the SHA-256 of the bytes as they are stored; "" before the end.
func (t *tap) sum() string {
	if !t.ended {
		return ""
	}
	return hex.EncodeToString(t.raw.sum.Sum(nil))
}

// warning tells of a gzip file that is not whole; "" for one that is.
func (t *tap) warning() string {
	switch {
	case t.broken == nil:
		return ""
	case errors.Is(t.broken, gzip.ErrChecksum):
		return fmt.Sprintf("%s: the gzip checksum is wrong: its content is used but may be damaged", t.in.Name)
	}
	return fmt.Sprintf("%s: the gzip file breaks off: what could be unpacked is used, copy it again for the rest", t.in.Name)
}

type eof struct{}

func (eof) Read([]byte) (int, error) { return 0, io.EOF }

// hashReader hashes and counts what goes through it, ends with its context, and
// keeps the error that is not an end.
type hashReader struct {
	ctx      context.Context
	r        io.Reader
	sum      hash.Hash
	progress func(int64)
	n        int64
	err      error
}

func (h *hashReader) Read(p []byte) (int, error) {
	if h.err = h.ctx.Err(); h.err != nil {
		return 0, h.err
	}
	n, err := h.r.Read(p)
	h.n += int64(n)
	h.sum.Write(p[:n])
	if h.progress != nil {
		h.progress(int64(n))
	}
	if err != nil && err != io.EOF {
		h.err = err
	}
	return n, err
}
