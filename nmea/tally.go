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

// add counts a sentence.
func (t *tally) add(s *sentence) {
	switch s.sum {
	case sumWrong:
		t.wrong++
	case sumNone:
		t.none++
	default:
		t.count(typeName(s.addr))
	}
}

// typeName is the address without its talker. Proprietary sentences and
// addresses of unusual length have none.
func typeName(addr []byte) []byte {
	if len(addr) == 5 && addr[0] != 'P' {
		return addr[2:]
	}
	return addr
}

// count adds one to a type.
func (t *tally) count(name []byte) {
	if len(name) > 8 {
		t.countMore(name)
		return
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
			return
		case e.n == 0:
			t.countMore(name)
			return
		case e.key == key:
			e.n++
			return
		}
	}
}

func (t *tally) countMore(name []byte) {
	if t.more == nil {
		t.more = map[string]int{}
	}
	t.more[string(name)]++
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
