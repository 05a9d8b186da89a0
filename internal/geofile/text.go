package geofile

import (
	"encoding/binary"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// decodeText gives a text as UTF-8: UTF-16 where a byte order mark says so,
// UTF-8 where it is valid, else Windows-1252, in which programs of old write. A
// character cut at the end of data does not make UTF-8 invalid.
func decodeText(data []byte) string {
	switch {
	case len(data) >= 3 && data[0] == 0xEF && data[1] == 0xBB && data[2] == 0xBF:
		data = data[3:]
	case len(data) >= 2 && data[0] == 0xFF && data[1] == 0xFE:
		return fromUTF16(data[2:], binary.LittleEndian)
	case len(data) >= 2 && data[0] == 0xFE && data[1] == 0xFF:
		return fromUTF16(data[2:], binary.BigEndian)
	}
	body := data
	for i := 1; i < utf8.UTFMax && i <= len(body); i++ {
		if utf8.RuneStart(body[len(body)-i]) {
			if !utf8.FullRune(body[len(body)-i:]) {
				body = body[:len(body)-i]
			}
			break
		}
	}
	if utf8.Valid(body) {
		return string(data)
	}
	return fromWindows1252(data)
}

func fromUTF16(data []byte, order binary.ByteOrder) string {
	units := make([]uint16, len(data)/2)
	for i := range units {
		units[i] = order.Uint16(data[2*i:])
	}
	return string(utf16.Decode(units))
}

// windows1252 are the characters of the bytes 0x80 to 0x9F (Unicode Consortium,
// CP1252.TXT); the rest is as in Latin-1.
var windows1252 = [32]rune{
	'€', 0x81, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0x8D, 'Ž', 0x8F,
	0x90, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0x9D, 'ž', 'Ÿ',
}

func fromWindows1252(data []byte) string {
	var b strings.Builder
	b.Grow(len(data))
	for _, c := range data {
		switch {
		case c < 0x80:
			b.WriteByte(c)
		case c < 0xA0:
			b.WriteRune(windows1252[c-0x80])
		default:
			b.WriteRune(rune(c))
		}
	}
	return b.String()
}
