package readings

import (
	"bufio"
	"bytes"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"tracemap/readings/table"
)

// headSize is how much of a source is looked at before it is read.
const headSize = 256 << 10

// openText gives a source's text as UTF-8 without byte order mark, and the name of
// its character set where it is another. UTF-16 and UTF-32 are told by their marks
// or by the zero bytes beside every plain letter, others by their letters.
func openText(r io.Reader, named string) (*bufio.Reader, string, error) {
	br := bufio.NewReaderSize(r, headSize)
	head, err := br.Peek(headSize)
	if err != nil && err != io.EOF {
		return br, "", nil // the reader of rows meets it again
	}
	if enc := charsetNamed(named); named != "" && enc != nil {
		return bufio.NewReaderSize(enc.NewDecoder().Reader(br), headSize), "", nil
	}
	if enc := utf32Order(head); enc != nil {
		return bufio.NewReaderSize(enc.NewDecoder().Reader(br), headSize), "", nil
	}
	order, mark := utf16Order(head)
	switch {
	case order != 0:
		_, _ = br.Discard(mark)
		return bufio.NewReaderSize(&utf16Reader{src: br, high: order == bigEndian}, headSize), "", nil
	case bytes.HasPrefix(head, []byte("\uFEFF")):
		_, _ = br.Discard(3)
		return br, "", nil
	case table.Kind(head) != "":
		return br, "", nil
	}
	if name, enc := guessCharset(head); enc != nil {
		return bufio.NewReaderSize(enc.NewDecoder().Reader(br), headSize), name, nil
	}
	return br, "", nil
}

const (
	littleEndian = 'l'
	bigEndian    = 'b'
)

// utf16Order gives the byte order of UTF-16 text and the length of its mark, or
// 0 where the text is not UTF-16.
func utf16Order(head []byte) (order byte, mark int) {
	switch {
	case len(head) < 2:
		return 0, 0
	case head[0] == 0xFF && head[1] == 0xFE:
		return littleEndian, 2
	case head[0] == 0xFE && head[1] == 0xFF:
		return bigEndian, 2
	case len(head) < 4:
		return 0, 0
	case head[0] != 0 && head[1] == 0 && head[2] != 0 && head[3] == 0:
		return littleEndian, 0
	case head[0] == 0 && head[1] != 0 && head[2] == 0 && head[3] != 0:
		return bigEndian, 0
	}
	return 0, 0
}

// A utf16Reader turns UTF-16 into UTF-8; what is no character becomes U+FFFD.
type utf16Reader struct {
	src  *bufio.Reader
	high bool   // big endian
	out  []byte // decoded, not yet given
}

func (u *utf16Reader) Read(p []byte) (int, error) {
	for len(u.out) == 0 {
		if err := u.fill(); err != nil && len(u.out) == 0 {
			return 0, err
		}
	}
	n := copy(p, u.out)
	u.out = u.out[n:]
	return n, nil
}

// fill decodes what the source has at hand.
func (u *utf16Reader) fill() error {
	u.out = u.out[:0]
	for len(u.out) < 4096 {
		c, err := u.unit()
		if err != nil {
			return err
		}
		if utf16.IsSurrogate(c) {
			low, err := u.unit()
			if err != nil {
				low = utf8.RuneError
			}
			if c = utf16.DecodeRune(c, low); c == utf8.RuneError && !utf16.IsSurrogate(low) && low != utf8.RuneError {
				u.out = utf8.AppendRune(u.out, c)
				c = low
			}
		}
		u.out = utf8.AppendRune(u.out, c)
	}
	return nil
}

func (u *utf16Reader) unit() (rune, error) {
	lo, err := u.src.ReadByte()
	if err != nil {
		return 0, err
	}
	hi, err := u.src.ReadByte()
	if err == io.EOF {
		return utf8.RuneError, nil
	}
	if u.high {
		lo, hi = hi, lo
	}
	return rune(hi)<<8 | rune(lo), err
}

// windows1252 holds the characters of bytes 0x80 to 0x9F; the others are those
// of Latin 1 (Unicode Consortium, CP1252.TXT). Bytes without a character stay
// controls, and so set the row aside.
var windows1252 = [32]rune{
	0x20AC, 0x81, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160, 0x2039, 0x0152, 0x8D, 0x017D, 0x8F,
	0x90, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0x9D, 0x017E, 0x0178,
}

// fromWindows1252 reads a line that is not UTF-8 as what spreadsheets on western
// desks write instead.
func fromWindows1252(line string) string {
	var b strings.Builder
	for i := 0; i < len(line); i++ {
		switch c := line[i]; {
		case c < 0x80, c >= 0xA0:
			b.WriteRune(rune(c))
		default:
			b.WriteRune(windows1252[c-0x80])
		}
	}
	return b.String()
}

// hasControl reports whether a text holds a control character other than tab
// and line ends: dirt of a broken transfer, and unfit for XML.
func hasControl(s string) bool {
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7F {
			return true
		}
		if c == 0xC2 && i+1 < len(s) && s[i+1] < 0xA0 { // U+0080 … U+009F
			return true
		}
	}
	return false
}
