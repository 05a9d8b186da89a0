package nmea

// tally counts the sentences of a chunk.
type tally struct {
	types     [64]typeCount // open-addressed by the type's hash
	filled    int
	more      map[string]int // types beyond the table, and those of more than 8 letters
	wrong     int            // checksum wrong
	none      int            // no checksum
	trusted   int            // no checksum, and used all the same
	malformed int            // checksum right or missing, but a field cannot be read
	aside     []SetAside     // the first of the malformed ones
}

type typeCount struct {
	key  uint64
	name string
	n    int
}

// asideKept is how many malformed sentences are kept for the report, of a chunk
// and of a log: enough to see what is wrong, the rest is counted.
const asideKept = 20

func (t *tally) reset() { *t = tally{more: nil, aside: t.aside[:0]} }

// add counts a sentence, and reports whether it is the first of its type that has
// a right checksum.
func (t *tally) add(s *sentence) (first bool) {
	switch s.sum {
	case ChecksumWrong:
		t.wrong++
	case ChecksumNone:
		t.none++
	default:
		return t.count(typeName(s.addr))
	}
	return false
}

// typeName is the address without its talker. Proprietary sentences and
// addresses of unusual length have none.
func typeName(addr []byte) []byte {
	if len(addr) == 5 && addr[0] != 'P' {
		return addr[2:]
	}
	return addr
}

// count adds one to a type, and reports whether it is the first.
func (t *tally) count(name []byte) bool {
	if len(name) > 8 {
		return t.countMore(name)
	}
	var key uint64
	for i, c := range name {
		key |= uint64(c) << (i * 8)
	}
	for slot := key * 0x9E3779B97F4A7C15 >> 58; ; slot = (slot + 1) % 64 {
		e := &t.types[slot]
		switch {
		case e.n == 0 && t.filled < 48:
			t.filled++
			*e = typeCount{key, string(name), 1}
			return true
		case e.n == 0:
			return t.countMore(name)
		case e.key == key:
			e.n++
			return false
		}
	}
}

func (t *tally) countMore(name []byte) bool {
	if t.more == nil {
		t.more = map[string]int{}
	}
	t.more[string(name)]++
	return t.more[string(name)] == 1
}

// addTo adds the types to a log's.
func (t *tally) addTo(sentences map[string]int) {
	for _, e := range t.types {
		if e.n > 0 {
			sentences[e.name] += e.n
		}
	}
	for name, n := range t.more {
		sentences[name] += n
	}
}

// setAside counts a malformed sentence, and keeps it if it is among the first.
func (t *tally) setAside(s *sentence, f *fields) {
	t.malformed++
	if len(t.aside) >= asideKept {
		return
	}
	t.aside = append(t.aside, SetAside{
		Line:   s.line,
		Type:   string(typeName(s.addr)),
		Field:  f.fault,
		Reason: f.reason,
	})
}
