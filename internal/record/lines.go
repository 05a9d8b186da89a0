package record

import "bytes"

// maxLine is the longest line that is kept, in bytes. Sentences have up to 120;
// what runs on for longer without a line end is a binary stream or a wrong baud
// rate.
const maxLine = 64 << 10

// cutter cuts a stream into whole lines. A line ends at LF, or at a CR that no LF
// follows.
type cutter struct {
	half []byte // of the line that is still coming

	dropped      int   // half lines that lost their other half, and overlong ones
	droppedBytes int64 // in them
	over         bool  // the line that is coming is longer than maxLine: up to its end it is dropped
}

// lines gives the lines that end in piece, each with its end. They are valid
// until the next call.
func (c *cutter) lines(piece []byte) [][]byte {
	data := append(c.half, piece...)
	var out [][]byte
	for {
		n := lineLength(data)
		if n == 0 {
			break
		}
		if c.over {
			c.droppedBytes += int64(n)
			c.over = false
		} else {
			out = append(out, data[:n])
		}
		data = data[n:]
	}
	if len(data) > maxLine {
		c.droppedBytes += int64(len(data))
		if !c.over {
			c.dropped++
		}
		c.over = true
		data = nil
	}
	// A copy: data shares its memory with the lines that were given.
	c.half = bytes.Clone(data)
	return out
}

// lineLength is that of the first line in b with its end; 0 where the end has
// not come yet.
func lineLength(b []byte) int {
	i := bytes.IndexAny(b, "\r\n")
	switch {
	case i < 0:
		return 0
	case b[i] == '\n':
		return i + 1
	case i+1 == len(b):
		return 0 // an LF may follow
	case b[i+1] == '\n':
		return i + 2
	}
	return i + 1
}

// broken ends the half line: its other half will never come. It is dropped, unless
// it was whole but for its line end: a sentence up to its right checksum, or a
// line that ends in CR.
func (c *cutter) broken() [][]byte {
	half, over := c.half, c.over
	c.half, c.over = nil, false
	switch {
	case len(half) == 0:
	case over:
		c.droppedBytes += int64(len(half))
	case half[len(half)-1] == '\r':
		return [][]byte{half}
	case len(half) > 3 && half[len(half)-3] == '*' && hear(half).right:
		return [][]byte{append(half, '\n')}
	default:
		c.dropped++
		c.droppedBytes += int64(len(half))
	}
	return nil
}
