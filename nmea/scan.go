package nmea

import (
	"bytes"
	"encoding/binary"
)

// maxSentence is the longest sentence that is believed, in bytes from '$' to
// the '*'. The standard allows 82 with line end, high-precision receivers send
// up to about 120; what runs on for longer has lost its end.
const maxSentence = 1024

// sentence is one framed sentence: views into the chunk, valid until the chunk
// is used again.
type sentence struct {
	addr   []byte // talker and type, as GNGGA
	body   []byte // the fields, without the comma before the first
	sum    Checksum
	closed bool  // CR or LF follows: the end was not cut off
	line   int64 // from 1 within the chunk
	at     int   // where it starts in the chunk
}

// framing counts what a scanner met beside the sentences.
type framing struct {
	lines     int64 // line ends, LF
	midLine   int   // sentences that do not start a line
	merged    int   // sentences cut off by the start of another
	overlong  int   // sentences of maxSentence bytes or more
	trailing  int   // sentences with text after the checksum
	textLines int   // lines that hold something, but no sentence
	bare      int   // sentences without their '$'
	binary    int64 // bytes outside 0x20..0x7E, line ends and tabs left out
}

// The classes of bytes that the scanner tells apart.
const (
	plain    uint8 = iota // printable text
	blank                 // space or tab
	carriage              // CR, which ends a sentence but not a line: lines end as other tools count them
	feed                  // LF
	junk                  // a byte that no text has
	start                 // '$' or '!'
)

var classes = func() (c [256]uint8) {
	for b := range c {
		switch {
		case b == '\n':
			c[b] = feed
		case b == '\r':
			c[b] = carriage
		case b == ' ' || b == '\t':
			c[b] = blank
		case b == '$' || b == '!':
			c[b] = start
		case b < 0x20 || b > 0x7E:
			c[b] = junk
		}
	}
	return c
}()

// lineState is what is known of a line so far. It travels from one chunk to the
// next where a line is too long for one chunk.
type lineState struct {
	sentence bool // a sentence began in it
	text     bool // a byte other than blanks was in it
	started  bool // it began before the chunk did
}

// scanner finds the sentences of a chunk. A sentence starts at '$' and an
// address ([A-Z][A-Z0-9]{2,9}, then ',' or '*'), anywhere in a line, or at '!'
// and an AIS address; it ends at its checksum, at the next such start, at a line
// end, or at a byte outside 0x20..0x7E; bare.go says where the '$' may be missing. So prefixes, text after the checksum,
// TAG blocks, binary messages and lost line ends need no case of their own.
type scanner struct {
	data  []byte
	at    int
	line  lineState
	begin int  // where the line starts; -1 for a line begun in an earlier chunk
	met   bool // a sentence starts right behind the chunk, in the same line
	torn  bool // what stands before the chunk is text of the same line
	tail  int  // where the last sentence with a '$' ended
	count framing

	// firstEnd keeps the state of the line that an earlier chunk began: whether
	// it is one without a sentence is known only when both halves are put together.
	firstEnd      lineState
	firstEndKnown bool
}

func newScanner(data []byte, continued bool) *scanner {
	s := &scanner{data: data}
	if continued {
		s.begin = -1
		s.line.started = true
	}
	return s
}

// next finds the next sentence, and reports whether there was one.
func (s *scanner) next(out *sentence) bool {
	for s.at < len(s.data) {
		b := s.data[s.at]
		switch classes[b] {
		case start:
			if n := address(s.data[s.at:]); n > 0 {
				s.frame(1, n, out)
				s.tail = s.at
				return true
			}
			s.line.text = true
			s.at++
		case feed:
			s.endLine()
		case junk:
			s.count.binary++
			s.line.text = true
			s.at++
		case blank, carriage:
			s.at++
		default:
			if b-'A' < 26 && s.bare() {
				s.count.bare++
				s.frame(0, bareAddress, out)
				return true
			}
			s.line.text = true
			s.at++
		}
	}
	return false
}

// endLine steps over a line end and closes the line's account.
func (s *scanner) endLine() {
	s.at++
	s.count.lines++
	switch {
	case s.line.started:
		s.firstEnd, s.firstEndKnown = s.line, true
	case s.line.text && !s.line.sentence:
		s.count.textLines++
	}
	s.line = lineState{}
	s.begin = s.at
}

// address gives the length of the address at the start of b, which begins with
// '$' or '!'; 0 where it is none.
func address(b []byte) int {
	n := 1
	for n < len(b) && n <= 11 && (b[n]-'A' < 26 || b[n]-'0' < 10) {
		n++
	}
	n--
	if n < 3 || n > 10 || n+1 >= len(b) || b[1] < 'A' {
		return 0
	}
	end := b[n+1]
	if b[0] == '$' {
		if end != ',' && end != '*' {
			return 0
		}
		return n
	}
	if n != 5 || end != ',' || b[2] < 'A' || b[3] != 'V' || b[4] != 'D' || b[5] != 'M' && b[5] != 'O' {
		return 0
	}
	return n
}

// frame cuts the sentence at s.at, whose address has n bytes and stands behind
// lead bytes: its '$' or '!', or nothing.
func (s *scanner) frame(lead, n int, out *sentence) {
	begin := s.at
	if begin != s.begin {
		s.count.midLine++
	}
	s.line.sentence = true
	out.line, out.at = s.count.lines+1, begin
	begin += lead
	out.addr = s.data[begin : begin+n]
	rest := s.data[begin:min(len(s.data), begin+maxSentence-1)]
	star, x := plainEnd(rest)
	if star < 0 {
		s.at = begin
		star = s.carefulEnd(rest, n, out)
		if star < 0 {
			return
		}
		x = xor(rest[:star])
	}
	out.body = body(rest, n, star)
	out.sum = ChecksumWrong
	if x == hexByte(rest[star+1], rest[star+2]) {
		out.sum = ChecksumRight
	}
	s.at = begin + star + 3
	out.closed = s.atLineEnd()
	s.countTrailing()
}

// carefulEnd walks a sentence whose end is not plain to see; its address is at s.at
// and begins rest. It gives the place of the '*' of its checksum, or -1 after
// completing a sentence without one.
func (s *scanner) carefulEnd(rest []byte, n int, out *sentence) int {
	i := n
	for ; i < len(rest); i++ {
		c := rest[i]
		switch classes[c] {
		case plain:
			if c == '*' && i+2 < len(rest) && isHex(rest[i+1]) && isHex(rest[i+2]) {
				return i
			}
			continue
		case blank:
			if c == ' ' {
				continue
			}
		case start:
			if address(s.data[s.at+i:]) == 0 {
				continue
			}
			s.count.merged++
		}
		break
	}
	switch {
	case i == maxSentence-1:
		s.count.overlong++
	case s.at+i == len(s.data) && s.met:
		s.count.merged++
	}
	out.body = body(rest, n, i)
	out.sum = ChecksumNone
	s.at += i
	out.closed = s.atLineEnd()
	return -1
}

// body gives the fields of a sentence whose '*' or end is at end.
func body(rest []byte, n, end int) []byte {
	if n+1 > end {
		return nil
	}
	return rest[n+1 : end]
}

// atLineEnd reports whether CR or LF is next.
func (s *scanner) atLineEnd() bool {
	return s.at < len(s.data) && (s.data[s.at] == '\r' || s.data[s.at] == '\n')
}

// countTrailing counts text between a checksum and the end of the line.
func (s *scanner) countTrailing() {
	if s.at >= len(s.data) {
		return
	}
	switch classes[s.data[s.at]] {
	case plain, blank:
		s.count.trailing++
	case start:
		if address(s.data[s.at:]) == 0 {
			s.count.trailing++
		}
	}
}

// plainEnd looks for the '*' of a sentence's checksum and gives its place and
// the XOR of the bytes before it, eight at a time. It gives -1 where anything
// but the plain case is met: no checksum near, or a byte before it that might
// end the sentence or start another. All of these lie below '*' or above '~', and
// hardly a sentence has others of that kind, a blank or a bracket.
func plainEnd(b []byte) (star int, x byte) {
	star = bytes.IndexByte(b[:min(len(b), 160)], '*')
	if star < 0 || star+2 >= len(b) || !isHex(b[star+1]) || !isHex(b[star+2]) {
		return -1, 0
	}
	var all, odd uint64
	i := 0
	for ; i+8 <= star; i += 8 {
		w := binary.LittleEndian.Uint64(b[i:])
		all ^= w
		odd |= w | (w + ones) | (w - '*'*ones) // above 0x7F, 0x7F, below '*'
	}
	if odd&high != 0 {
		return -1, 0
	}
	all ^= all >> 32
	all ^= all >> 16
	x = byte(all ^ all>>8)
	for ; i < star; i++ {
		c := b[i]
		if c < '*' || c > '~' {
			return -1, 0
		}
		x ^= c
	}
	return star, x
}

func xor(b []byte) (x byte) {
	for _, c := range b {
		x ^= c
	}
	return x
}

func isHex(c byte) bool { return c-'0' < 10 || c|0x20-'a' < 6 }

func hexByte(hi, lo byte) byte { return hexDigit(hi)<<4 | hexDigit(lo) }

func hexDigit(c byte) byte {
	if c <= '9' {
		return c - '0'
	}
	return c | 0x20 - 'a' + 10
}
