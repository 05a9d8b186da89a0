package web

import (
	"context"
	"net/http"
	"sync"
	"time"
)

// A lane bounds how many pieces of one kind of work are done at a time: looking
// into an upload, an export, a comparison. Each kind has a lane of its own, so
// that none waits behind another. Within a lane the one who has waited longest
// comes next, but nobody has a second piece under way while somebody else waits
// for a first: who sends a hundred records does not keep others from theirs.
type lane struct {
	longest time.Duration // a piece of work may take this long once it has begun
	mu      sync.Mutex
	free    int
	working map[string]int // pieces under way, by person
	waiting []*waiter
}

type waiter struct {
	who  string
	turn chan struct{} // closed when the waiter has its place
}

func newLane(places int, longest time.Duration) *lane {
	return &lane{longest: longest, free: places, working: map[string]int{}}
}

// enter waits for a place in the lane. The context that it returns ends with the
// given one and when the work has taken too long; leave gives the place back.
func (l *lane) enter(ctx context.Context, who string) (work context.Context, leave func(), err error) {
	w := &waiter{who, make(chan struct{})}
	l.mu.Lock()
	l.waiting = append(l.waiting, w)
	l.next()
	l.mu.Unlock()
	select {
	case <-w.turn:
	case <-ctx.Done():
		l.mu.Lock()
		defer l.mu.Unlock()
		for i, other := range l.waiting {
			if other == w {
				l.waiting = append(l.waiting[:i], l.waiting[i+1:]...)
				return nil, nil, ctx.Err()
			}
		}
		l.leave(who) // its turn had come meanwhile
		return nil, nil, ctx.Err()
	}
	work, cancel := context.WithTimeoutCause(ctx, l.longest, errTooLong)
	return work, sync.OnceFunc(func() {
		cancel()
		l.mu.Lock()
		defer l.mu.Unlock()
		l.leave(who)
	}), nil
}

// errTooLong is the cause with which a lane ends work.
var errTooLong = &problem{http.StatusServiceUnavailable, "this took too long and was stopped", "Try a smaller file or fewer days."}

// tookTooLong returns the lane's own error where the lane ended the work.
func tookTooLong(work context.Context, err error) error {
	if err != nil && context.Cause(work) == error(errTooLong) {
		return errTooLong
	}
	return err
}

func (l *lane) leave(who string) {
	l.free++
	if l.working[who]--; l.working[who] == 0 {
		delete(l.working, who)
	}
	l.next()
}

// next gives free places to those who wait.
func (l *lane) next() {
	for l.free > 0 && len(l.waiting) > 0 {
		first := 0
		for i, w := range l.waiting {
			if l.working[w.who] < l.working[l.waiting[first].who] {
				first = i
			}
		}
		w := l.waiting[first]
		l.waiting = append(l.waiting[:first], l.waiting[first+1:]...)
		l.free--
		l.working[w.who]++
		close(w.turn)
	}
}
