package readings

import (
	"crypto/sha256"
	"fmt"
	"maps"
)

// seen knows the readings of the sources before, by what they say: a locator that
// exports all it holds every evening, or a log given packed and plain, brings
// readings again, and two of one would count as independent. Within a source nothing
// is asked: a locator may well write one thing twice in a second.
type seen struct {
	before, here map[[sha256.Size]byte]bool
}

func newSeen() *seen {
	return &seen{before: map[[sha256.Size]byte]bool{}, here: map[[sha256.Size]byte]bool{}}
}

// next begins another source.
func (s *seen) next() {
	maps.Copy(s.before, s.here)
	clear(s.here)
}

// met tells whether a source before has the reading, and keeps it for those to come.
func (s *seen) met(r Reading) bool {
	if r.Time.IsZero() {
		return false // no two of these are known to be one
	}
	r.File, r.Row = "", 0
	key := sha256.Sum256(fmt.Appendf(nil, "%+v", r))
	s.here[key] = true
	return s.before[key]
}
