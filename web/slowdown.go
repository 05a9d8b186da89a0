package web

import (
	"hash/maphash"
	"sync"
	"time"
)

// A slowdown bounds how often something may be tried, for any number of keys in
// memory that does not grow: keys share slots by a hash that nobody outside can
// foresee. Two keys in one slot slow each other down; with 16,384 slots that is
// rare, and never lets anybody through.
//
// A slot holds the time up to which its tries are used up (the generic cell rate
// algorithm of ITU-T I.371): each try moves it on by every, and a try is let
// through while it lies less than burst tries ahead.
type slowdown struct {
	seed  maphash.Seed
	mu    sync.Mutex
	slots [1 << 14]int64 // nanoseconds since 1970
}

// A pace is what a slowdown allows a sort of key.
type pace struct {
	kind  string
	burst int
	every time.Duration
}

// The paces of logging in. OWASP's Authentication Cheat Sheet asks for a bound on
// the account and one that does not let a stranger lock its owner out; the
// figures are ours.
var (
	paceAddress = pace{"address", 20, 6 * time.Second} // an office behind one address
	paceName    = pace{"name", 10, time.Minute}        // strangers from many addresses
	pacePair    = pace{"pair", 5, time.Minute}         // one name from one address
)

func newSlowdown() *slowdown { return &slowdown{seed: maphash.MakeSeed()} }

func (d *slowdown) slot(p pace, key string) *int64 {
	return &d.slots[maphash.String(d.seed, p.kind+"\x00"+key)%uint64(len(d.slots))]
}

// try counts a try and gives how long to wait when it is one too many.
func (d *slowdown) try(now time.Time, p pace, key string) (wait time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	at := d.slot(p, key)
	used := max(*at, now.UnixNano())
	if ahead := time.Duration(used - now.UnixNano()); ahead > time.Duration(p.burst-1)*p.every {
		return ahead - time.Duration(p.burst-1)*p.every
	}
	*at = used + int64(p.every)
	return 0
}

// forgive takes back a try that turned out to be rightful.
func (d *slowdown) forgive(p pace, key string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	*d.slot(p, key) -= int64(p.every)
}
