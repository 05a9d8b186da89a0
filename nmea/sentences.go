package nmea

import "iter"

// A Checksum says how a sentence's checksum stands.
type Checksum uint8

// The ways in which it stands.
const (
	ChecksumNone  Checksum = iota // there is none: no '*' followed by two hex digits
	ChecksumRight                 // the XOR of the bytes between '$' and '*'
	ChecksumWrong
)

// A Sentence is one sentence as it was framed. Address and Fields are views into the
// bytes that it was found in.
type Sentence struct {
	Address  []byte // talker and type, as GNGGA
	Fields   []byte // behind the comma after the address, up to '*' or the end
	Checksum Checksum
}

// Sentences goes through the sentences in a piece of a log, a line as a rule, framed
// as Read frames them: prefixes, what stands between them and lost ends are stepped
// over.
func Sentences(piece []byte) iter.Seq[Sentence] {
	return func(yield func(Sentence) bool) {
		s := newScanner(piece, false)
		var found sentence
		for s.next(&found) {
			if !yield(Sentence{found.addr, found.body, found.sum}) {
				return
			}
		}
	}
}
