package readings

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/encoding/simplifiedchinese"
	"golang.org/x/text/encoding/unicode/utf32"
)

// charsets are told apart by the letters that their bytes stand for. To add one, add
// a row with the letters that its languages write beside ASCII.
var charsets = []struct {
	name    string
	enc     encoding.Encoding
	letters string
}{
	{"Windows-1252", charmap.Windows1252, "äöüÄÖÜßéèêëàâáãåçñíìîïóòôõúùûøØÅæÆÉÈÀÇÑÓÚÍ°µ²³½±€–—’‘“”…§"},
	{"Windows-1250", charmap.Windows1250, "ąćęłńóśźżĄĆĘŁŃÓŚŹŻáčďéěíňřšťúůýžÁČĎÉĚÍŇŘŠŤÚŮÝŽäöüÄÖÜßľĺôőűŐŰ°µ–—’„”…§"},
	{"Windows-1251", charmap.Windows1251, "абвгдежзийклмнопрстуфхцчшщъыьэюяАБВГДЕЖЗИЙКЛМНОПРСТУФХЦЧШЩЭЮЯёЁ"},
}

// charsetNamed gives a character set by its name of the WHATWG's list.
func charsetNamed(name string) encoding.Encoding {
	if strings.EqualFold(name, "utf-32") || strings.EqualFold(name, "utf-32le") {
		return utf32.UTF32(utf32.LittleEndian, utf32.UseBOM)
	}
	enc, err := htmlindex.Get(name)
	if err != nil {
		return nil
	}
	return enc
}

// utf32Order tells UTF-32 by its mark, or by three zero bytes beside a plain letter.
func utf32Order(head []byte) encoding.Encoding {
	if len(head) < 8 {
		return nil
	}
	le := bytes.HasPrefix(head, []byte{0xFF, 0xFE, 0, 0}) || head[0] != 0 && head[1] == 0 && head[2] == 0 && head[3] == 0 && head[4] != 0 && head[5] == 0 && head[6] == 0
	be := bytes.HasPrefix(head, []byte{0, 0, 0xFE, 0xFF}) || head[0] == 0 && head[1] == 0 && head[2] == 0 && head[3] != 0 && head[4] == 0 && head[5] == 0 && head[7] != 0
	switch {
	case le:
		return utf32.UTF32(utf32.LittleEndian, utf32.UseBOM)
	case be:
		return utf32.UTF32(utf32.BigEndian, utf32.UseBOM)
	}
	return nil
}

// guessCharset tells in which character set a text is that is not UTF-8; nil for
// UTF-8, and for texts in which single lines are not: these are read as Windows-1252
// one by one.
func guessCharset(head []byte) (string, encoding.Encoding) {
	if bytes.IndexByte(head, 0) >= 0 {
		return "", nil
	}
	high, valid := 0, 0
	for rest := head; len(rest) > 0; {
		r, size := utf8.DecodeRune(rest)
		if r == utf8.RuneError && size == 1 {
			if len(rest) < 4 {
				break // cut at the end
			}
			high++
		} else if size > 1 {
			valid++
		}
		rest = rest[size:]
	}
	if high == 0 || valid > high {
		return "", nil
	}
	if hans(head) {
		return "GB18030", simplifiedchinese.GB18030
	}
	best := 0
	score := 0
	for i, c := range charsets {
		text, err := c.enc.NewDecoder().Bytes(head)
		if err != nil {
			continue
		}
		n := 0
		before := ' '
		for _, r := range string(text) {
			if r >= 0x80 {
				n--
				switch {
				case strings.ContainsRune(c.letters, r):
					n += 3
				}
				// A capital in the middle of a word is no word's.
				if unicode.IsUpper(r) && unicode.IsLower(before) {
					n -= 3
				}
			}
			before = r
		}
		for word := range strings.FieldsFuncSeq(string(text), func(r rune) bool { return strings.ContainsRune(",;\t|\"\r\n()[]", r) }) {
			if _, known := headerWords()[unaccent(normalise(word))]; known {
				n += 5
			}
		}
		if i == 0 || n > score {
			best, score = i, n
		}
	}
	if best == 0 {
		return "", nil // line by line, as ever
	}
	return charsets[best].name, charsets[best].enc
}

// hans reports a text in GB18030: pairs of bytes that are Chinese characters of daily
// use (the first level of GB 2312) nearly all.
func hans(head []byte) bool {
	level1, other := 0, 0
	for i := 0; i < len(head); i++ {
		if head[i] < 0x80 {
			continue
		}
		if i+1 >= len(head) {
			break
		}
		switch a, b := head[i], head[i+1]; {
		case a >= 0xB0 && a <= 0xD7 && b >= 0xA1 && b != 0xFF:
			level1++
		case a >= 0xA1 && a <= 0xA9 && b >= 0xA1: // punctuation
		default:
			other++
		}
		i++
	}
	return level1 >= 2 && level1 > 9*other
}
