package record

import (
	"sync"
	"sync/atomic"

	"tracemap/internal/parallel"
)

// A syncer makes the disk keep what was written, in a goroutine of its own: a slow
// card takes seconds for it, and a serial port's buffer is full in less.
type syncer struct {
	jobs  chan syncJob
	busy  atomic.Bool // a sync is under way
	ended chan struct{}

	mu  sync.Mutex
	err error // the first
}

type syncJob struct {
	file file
	last bool // close it
}

func newSyncer() *syncer {
	y := &syncer{jobs: make(chan syncJob, 16), ended: make(chan struct{})}
	go func() {
		defer close(y.ended)
		for j := range y.jobs {
			y.keep(parallel.Catch("bringing a log to the disk", j.file.Sync))
			if j.last {
				y.keep(parallel.Catch("closing a log", j.file.Close))
			} else {
				y.busy.Store(false)
			}
		}
	}()
	return y
}

// sync begins to sync a file, and reports whether it could: not while the last
// time is still under way.
func (y *syncer) sync(f file) bool {
	if y.busy.Swap(true) {
		return false
	}
	y.jobs <- syncJob{file: f}
	return true
}

// close syncs and closes a file that nobody writes to any more.
func (y *syncer) close(f file) { y.jobs <- syncJob{file: f, last: true} }

// stop waits until all is done.
func (y *syncer) stop() {
	close(y.jobs)
	<-y.ended
}

func (y *syncer) keep(err error) {
	y.mu.Lock()
	defer y.mu.Unlock()
	if y.err == nil {
		y.err = err
	}
}

// failure is the first error there was.
func (y *syncer) failure() error {
	y.mu.Lock()
	defer y.mu.Unlock()
	return y.err
}
