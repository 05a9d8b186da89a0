package nmea

import (
	"bytes"
	"io"
)

// spelling says how the bytes of a source have to be rewritten before sentences can
// be found in them. The zero value leaves them alone.
type spelling struct {
	wide bool // UTF-16: a NUL beside every byte
	cell byte // what parts the fields instead of a comma: ';', a tab, or ',' between quoted cells; 0 for plain sentences
}

// headSize is how much of a source shows how it is spelled, bytes.
const headSize = 64 << 10

// Sniff reports whether a log beginning with head is a receiver's: it holds a
// sentence with a right checksum, or two whole ones without any of the kinds that
// epochs are made of. 64 KiB are enough for the dirtiest beginnings seen.
func Sniff(head []byte) bool { return holdsSentences(Plain(head)) }

// Plain gives the beginning of a log as its sentences are read: a byte a letter,
// commas between fields. What is plain already is given as it is.
func Plain(head []byte) []byte {
	sp := spellingOf(head)
	if sp == (spelling{}) {
		return head
	}
	return sp.rewrite(bytes.Clone(head))
}

// spellingOf tells the spelling from a source's beginning. Cells are looked for only
// where there is no plain sentence.
func spellingOf(head []byte) (sp spelling) {
	head = head[:min(len(head), headSize)]
	if sp.wide = isWide(head); sp.wide {
		head = sp.rewrite(bytes.Clone(head))
	}
	if holdsSentences(head) {
		return sp
	}
	for _, cell := range []byte{';', '\t', ','} {
		in := spelling{cell: cell}
		if bytes.IndexByte(head, cell) >= 0 && holdsSentences(in.rewrite(bytes.Clone(head))) {
			sp.cell = cell
			return sp
		}
	}
	return sp
}

// isWide reports whether head is text of two bytes a letter: a byte order mark
// says so, or NULs at every other place and hardly elsewhere. A stretch of a file
// that was never written is NUL at all places.
func isWide(head []byte) bool {
	if bytes.HasPrefix(head, []byte{0xFF, 0xFE}) || bytes.HasPrefix(head, []byte{0xFE, 0xFF}) {
		return true
	}
	head = head[:min(len(head), 4<<10)]
	var nuls [2]int
	for i, b := range head {
		if b == 0 {
			nuls[i%2]++
		}
	}
	pairs, most, least := len(head)/2, max(nuls[0], nuls[1]), min(nuls[0], nuls[1])
	return pairs >= 8 && 10*most >= 8*pairs && 10*least <= pairs
}

// holdsSentences reports whether plain text holds what makes it a receiver's log.
func holdsSentences(text []byte) bool {
	s := newScanner(text, false)
	var found sentence
	var r record
	var f fields
	whole := 0
	for s.next(&found) {
		switch found.sum {
		case ChecksumRight:
			return true
		case ChecksumNone:
			if k := kindOf(found.addr); k < kindCount && k.read(&found, &f, &r) {
				whole++
			}
		}
		if whole == 2 {
			return true
		}
	}
	return false
}

// rewrite spells b out plainly, in place, and gives what is left of it. All that is
// ASCII in UTF-16 is there once the NULs and the byte order mark are gone, whichever
// byte comes first, also behind a stretch that was appended a byte a letter.
func (sp spelling) rewrite(b []byte) []byte {
	out := b[:0]
	for _, c := range b {
		switch {
		case sp.wide && (c == 0 || c >= 0xFE):
			continue
		case sp.cell == 0:
		case c == '"':
			continue
		case c == sp.cell:
			c = ','
		case c == ',':
			c = '.' // a spreadsheet's decimal comma, for the checksum to judge
		}
		out = append(out, c)
	}
	return out
}

// plainReader gives a source's bytes plainly spelled. It looks at the beginning when
// it is first read: a device may keep it waiting.
type plainReader struct {
	r    io.Reader
	sp   spelling
	head []byte // read already
	seen bool
	err  error // what ended the source within head
}

// look reads the beginning and tells the spelling.
func (p *plainReader) look() {
	p.seen = true
	head := &cutter{r: p.r, size: headSize}
	p.head, p.err = head.fill(nil), head.err
	p.sp = spellingOf(p.head)
}

func (p *plainReader) Read(b []byte) (n int, err error) {
	if !p.seen {
		p.look()
	}
	switch {
	case len(p.head) > 0:
		n = copy(b, p.head)
		p.head = p.head[n:]
	case p.err != nil:
		return 0, p.err
	default:
		n, err = p.r.Read(b)
	}
	if p.sp != (spelling{}) {
		n = len(p.sp.rewrite(b[:n]))
	}
	return n, err
}
