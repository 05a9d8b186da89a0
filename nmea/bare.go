package nmea

// A terminal program or a spreadsheet may have taken the '$' away. Such a sentence
// is believed where a right checksum, or the whole grammar of its kind, speaks for it,
// as is any other; but only the kinds that are read are looked for, since any word
// before a comma might be an address otherwise.

// bareReach is how far behind the last line end, or the last sentence that has its
// '$', a sentence without one may begin, bytes: a prefix of a terminal program, or the
// cells ahead of it. It keeps the result from depending on where a log is cut: see
// cutPlace.
const bareReach = 512

// bareAddress is the length of such an address: talker and type.
const bareAddress = 5

// bare reports whether the address of a sentence without its '$' stands at s.at.
func (s *scanner) bare() bool {
	b := s.data[s.at:]
	if len(b) <= bareAddress || b[bareAddress] != ',' || b[1]-'A' >= 26 || kindOf(b[:bareAddress]) == kindOther {
		return false
	}
	for i := s.at - 1; i >= s.tail; i-- {
		c := s.data[i]
		switch class := classes[c]; {
		case class == feed || class == carriage || class == junk:
			return true
		case i == s.at-1 && isWord(c), s.at-i > bareReach:
			return false
		}
	}
	return s.tail > 0 || !s.torn
}

func isWord(c byte) bool { return c-'0' < 10 || c|0x20-'a' < 26 }
