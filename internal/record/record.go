package record

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"sync"
	"time"

	"tracemap/internal/parallel"
)

const (
	// tick is how often the logs are synced and the state is shown.
	tick = time.Second
	// untold is how long lines may wait for the receiver's date before the machine's
	// clock names their log.
	untold = tick
	// timeless is how long the receiver may tell no time before the machine's clock,
	// counting on from its last, begins the hours.
	timeless = time.Minute
	// queued is how many pieces may wait while the disk is slow.
	queued = 4096
)

// Options says what to record, and where to.
type Options struct {
	Source Source
	Dir    string // made if it is not there
	Prefix string // of the files' names

	// Silence is how long the source may say nothing before it is opened again; 0 is
	// for ever.
	Silence time.Duration
	// Wait says to wait for a source that is not there at the start.
	Wait bool
	// Expect is the state that is good enough; StateUnknown is the best seen so far.
	Expect State
	// Tee, where given, is where other programs read along. Run closes it.
	Tee net.Listener

	// Notify is told what happens, Show what stands, once a second. Both are called
	// by one goroutine; nil is for nobody.
	Notify func(Event)
	Show   func(Status)
}

// Status is what stands at one second.
type Status struct {
	View
	Stamp   Stamp
	Open    bool    // the source is
	Free    int64   // bytes on the disk; -1 where it cannot be told
	FreeFor float64 // hours that this lasts; NaN where nothing comes
	Lines   int64
	Bytes   int64
	File    string // that is being written; "" before the first line
	Waiting int    // bytes in memory that the disk has no room for
}

// Summary is what a recording came to.
type Summary struct {
	Source      string    `json:"source"`
	Files       []string  `json:"files"`
	Lines       int64     `json:"lines"`
	Bytes       int64     `json:"bytes"`
	Sentences   int64     `json:"sentences"`    // with a right checksum
	BadChecksum int64     `json:"bad_checksum"` // lines that hold only sentences with a wrong one
	HalfLines   int       `json:"half_lines"`   // dropped, because their end never came
	HalfBytes   int64     `json:"half_line_bytes"`
	LostBytes   int64     `json:"lost_bytes"` // for which there was no room on the disk
	Opened      int       `json:"opened"`     // times that the source was
	From        time.Time `json:"from,omitzero"`
	To          time.Time `json:"to,omitzero"`
	MarksFile   string    `json:"marks_file,omitempty"`
	Marks       int       `json:"marks"`
	Syncs       []string  `json:"syncs"` // marks as convert takes them with --sync
	// ClockAhead is how far this machine's clock was ahead of the receiver's at the
	// end, s, the way of the sentences included.
	ClockAhead *float64 `json:"machine_clock_ahead_s,omitempty"`
}

// Recorder records one source. Stamp and Mark may be called by any goroutine while
// Run runs.
type Recorder struct {
	opt  Options
	disk disk
	now  func() time.Time

	mu    sync.Mutex // holds clock, which Stamp asks
	clock clock

	marks marks
}

// New gives a recorder.
func New(opt Options) *Recorder { return newRecorder(opt, osDisk{}) }

func newRecorder(opt Options, d disk) *Recorder {
	return &Recorder{opt: opt, disk: d, now: time.Now, marks: marks{disk: d, dir: opt.Dir, prefix: opt.Prefix}}
}

// Stamp puts an instant of this machine's clock, as time.Now gives it, on the
// receiver's.
func (r *Recorder) Stamp(at time.Time) Stamp {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.clock.stamp(at)
}

// Mark keeps a mark. After an error it waits in memory until it can be written.
func (r *Recorder) Mark(m Mark) error {
	if err := r.marks.add(m); err != nil {
		return fmt.Errorf("writing the mark: %w", err)
	}
	return nil
}

// Run records until ctx ends, which is no error, or the source ends for good. What
// has been received is on the disk when it returns. It is called once.
func (r *Recorder) Run(ctx context.Context) (Summary, error) {
	if err := r.prepare(); err != nil {
		if r.opt.Tee != nil {
			r.opt.Tee.Close()
		}
		return Summary{}, err
	}
	s := newRunning(r)
	deliveries := make(chan delivery, queued)
	var feedErr error
	feed := feed{source: r.opt.Source, silence: r.opt.Silence, wait: r.opt.Wait, now: r.now, out: deliveries}
	var group parallel.Group
	group.Go(func() {
		feedErr = parallel.Catch("receiving", func() error { return feed.run(ctx) })
		close(deliveries)
	})
	s.loop(deliveries)
	group.Wait()
	sum, err := s.finish()
	if feedErr != nil {
		err = feedErr
	}
	return sum, err
}

// prepare makes the folder and sees that files can be made in it, before anything
// is received that could not be kept.
func (r *Recorder) prepare() error {
	if err := os.MkdirAll(r.opt.Dir, 0o777); err != nil {
		return fmt.Errorf("making the folder for the logs: %w", err)
	}
	f, err := os.CreateTemp(r.opt.Dir, ".tracemap-")
	if err != nil {
		return fmt.Errorf("trying the folder for the logs: %w", err)
	}
	return errors.Join(f.Close(), os.Remove(f.Name()))
}
