package record

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"
)

// Waiting before a lost source is opened again grows from the first to the
// second.
const (
	firstWait = 500 * time.Millisecond
	lastWait  = 10 * time.Second
)

// ErrNotOpened is a source that could not be opened at the start.
var ErrNotOpened = errors.New("cannot be opened")

// A delivery is what the feed hands on: bytes, or that the source was opened, or
// lost.
type delivery struct {
	at     time.Time // on the machine's clock
	data   []byte
	opened bool
	about  string // with opened
	lost   error  // why
	retry  error  // why it could not be opened again; the first time only
}

// A feed keeps a source open.
type feed struct {
	source  Source
	silence time.Duration // without a byte, after which the source is opened again; 0 is never
	wait    bool          // for a source that is not there at the start
	now     func() time.Time
	out     chan<- delivery
}

// run delivers until ctx ends or the source does for good. It closes out.
func (f *feed) run(ctx context.Context) error {
	wait := firstWait
	begun, told := f.wait, false
	for ctx.Err() == nil {
		s, err := f.source.open(ctx)
		if err != nil {
			if ctx.Err() != nil {
				return nil
			}
			if !begun {
				return fmt.Errorf("%s %w: %w", f.source.Name, ErrNotOpened, err)
			}
			if !told {
				told = true
				f.out <- delivery{at: f.now(), retry: err}
			}
		} else {
			begun, told = true, false
			f.out <- delivery{at: f.now(), opened: true, about: s.About()}
			heard, err := f.read(ctx, s)
			s.Close()
			if ctx.Err() != nil {
				return nil
			}
			f.out <- delivery{at: f.now(), lost: err}
			if f.source.Ends {
				if errors.Is(err, io.EOF) {
					return nil
				}
				return fmt.Errorf("reading %s: %w", f.source.Name, err)
			}
			if heard {
				wait = firstWait
			}
		}
		sleep(ctx, wait)
		wait = min(2*wait, lastWait)
	}
	return nil
}

// errSilent is a source that is open and says nothing.
var errSilent = errors.New("nothing came")

// read delivers what s says until it is lost, and reports whether it said
// anything.
func (f *feed) read(ctx context.Context, s stream) (heard bool, err error) {
	last := f.now()
	for ctx.Err() == nil {
		buf := make([]byte, 4096)
		n, err := s.Read(buf)
		now := f.now()
		if n > 0 {
			heard, last = true, now
			f.out <- delivery{at: now, data: buf[:n]}
		}
		if err != nil {
			return heard, err
		}
		if f.silence > 0 && now.Sub(last) >= f.silence && !f.source.Ends {
			return heard, fmt.Errorf("%w for %s", errSilent, now.Sub(last).Round(time.Second))
		}
	}
	return heard, ctx.Err()
}

func sleep(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
