package readings

import (
	"crypto/sha256"
	"fmt"
)

// firstIn tells of each reading, by what it says, which source brought it first: a
// locator that exports all it holds every evening, or a log given packed and plain,
// brings readings again, and two of one would count as independent. Within a source
// nothing is asked: a locator may well write one thing twice in a second.
type firstIn map[[sha256.Size]byte]int

// again reports whether a source before has the reading, and keeps a new one.
func (f firstIn) again(r Reading, source int) bool {
	if r.Time.IsZero() {
		return false // no two of these are known to be one
	}
	r.File, r.Row = "", 0
	key := sha256.Sum256(fmt.Appendf(nil, "%+v", r))
	first, known := f[key]
	if !known {
		f[key] = source
	}
	return known && first != source
}
