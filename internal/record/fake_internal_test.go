package record

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"go.uber.org/goleak"
)

// No goroutine outlives a recording.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// errSwitchedOff is a connection that breaks.
var errSwitchedOff = errors.New("switched off")

// A receiver plays connections one after the other. A step waits, then says
// something; after its last step a connection breaks.
type receiver struct {
	connections [][]step
	end         error // after the last connection; nil is silence for ever
	opened      int
}

type step struct {
	wait time.Duration
	says string
	// refuse, in the first step, is why the connection does not come about.
	refuse error
}

func (r *receiver) source(name string) Source {
	return Source{Name: name, Ends: r.end != nil, open: func(ctx context.Context) (stream, error) {
		i := r.opened
		r.opened++
		if i >= len(r.connections) {
			return &playing{end: errors.New("no such connection")}, nil
		}
		steps := r.connections[i]
		if len(steps) > 0 && steps[0].refuse != nil {
			return nil, steps[0].refuse
		}
		end := errSwitchedOff
		if i == len(r.connections)-1 {
			end = r.end
		}
		return &playing{steps: slices.Clone(steps), end: end}, nil
	}}
}

type playing struct {
	steps  []step
	waited time.Duration
	end    error
}

func (p *playing) Read(b []byte) (int, error) {
	if len(p.steps) == 0 {
		if p.end != nil {
			return 0, p.end
		}
		time.Sleep(poll)
		return 0, nil
	}
	s := &p.steps[0]
	if left := s.wait - p.waited; left > poll {
		time.Sleep(poll)
		p.waited += poll
		return 0, nil
	} else if left > 0 {
		time.Sleep(left)
		p.waited = s.wait
	}
	n := copy(b, s.says)
	if s.says = s.says[n:]; s.says == "" {
		p.steps, p.waited = p.steps[1:], 0
	}
	return n, nil
}

func (p *playing) Close() error  { return nil }
func (p *playing) About() string { return "" }

// memory is a disk that can fill up, refuse to sync and lose power.
type memory struct {
	mu       sync.Mutex
	files    map[string]*memoryFile
	room     int64 // bytes left; a write takes what fits
	syncTime time.Duration
	syncErr  error
	cutErr   error // why Truncate does not work
	newErr   error // why no file can be begun
}

func newMemory() *memory { return &memory{files: map[string]*memoryFile{}, room: 1 << 40} }

type memoryFile struct {
	disk   *memory
	data   []byte
	synced int // bytes that outlive the loss of power
	closed bool
}

func (m *memory) create(path string) (file, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.newErr != nil {
		return nil, m.newErr
	}
	path = filepath.Base(path)
	if m.files[path] != nil {
		return nil, fs.ErrExist
	}
	f := &memoryFile{disk: m}
	m.files[path] = f
	return f, nil
}

func (m *memory) free(string) (int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.room, nil
}

func (m *memory) setRoom(n int64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.room = n
}

func (f *memoryFile) WriteAt(b []byte, at int64) (int, error) {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	if f.closed {
		return 0, fs.ErrClosed
	}
	if at != int64(len(f.data)) {
		return 0, fmt.Errorf("write at %d of a file of %d bytes", at, len(f.data))
	}
	n := int(min(int64(len(b)), f.disk.room))
	f.data = append(f.data, b[:n]...)
	f.disk.room -= int64(n)
	if n < len(b) {
		return n, syscall.ENOSPC
	}
	return n, nil
}

func (f *memoryFile) Truncate(size int64) error {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	if f.disk.cutErr != nil {
		return f.disk.cutErr
	}
	f.disk.room += int64(len(f.data)) - size
	f.data = f.data[:size]
	f.synced = min(f.synced, int(size))
	return nil
}

func (f *memoryFile) Sync() error {
	f.disk.mu.Lock()
	size, wait, err := len(f.data), f.disk.syncTime, f.disk.syncErr
	f.disk.mu.Unlock()
	time.Sleep(wait)
	if err != nil {
		return err
	}
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	f.synced = max(f.synced, min(size, len(f.data)))
	return nil
}

func (f *memoryFile) Close() error {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	if f.closed {
		return fs.ErrClosed
	}
	f.closed = true
	return nil
}

// names are those of the files, sorted.
func (m *memory) names() []string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Sorted(maps.Keys(m.files))
}

// content is what a file holds; synced, what would be left of it without power.
func (m *memory) content(name string, synced bool) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	f := m.files[name]
	if f == nil {
		return ""
	}
	if synced {
		return string(f.data[:f.synced])
	}
	return string(f.data)
}

// logs joins the logs in the order of their names.
func (m *memory) logs(synced bool) string {
	var b strings.Builder
	for _, name := range m.names() {
		if strings.HasSuffix(name, ".nmea") {
			b.WriteString(m.content(name, synced))
		}
	}
	return b.String()
}

// epoch is a second's sentences of an invented receiver.
func epoch(at time.Time, quality int) string {
	tod := at.Format("150405.00")
	status, mode := "A", "A"
	if quality == 0 {
		status, mode = "V", "N"
	}
	place := "4916.4500,N,01123.7600,E"
	if quality == 0 {
		place = ",,,"
	}
	return sentence(fmt.Sprintf("GNGGA,%s,%s,%d,18,0.6,545.4,M,46.9,M,1.2,0000", tod, place, quality)) +
		sentence(fmt.Sprintf("GNRMC,%s,%s,%s,0.5,54.7,%s,,,%s", tod, status, place, at.Format("020106"), mode)) +
		sentence(fmt.Sprintf("GNGST,%s,1.2,0.02,0.01,12.0,0.012,0.016,0.02", tod))
}

// seconds are n epochs from a time on, a step each.
func seconds(from time.Time, n, quality int) (steps []step) {
	for i := range n {
		steps = append(steps, step{wait: time.Second, says: epoch(from.Add(time.Duration(i)*time.Second), quality)})
	}
	return steps
}

func said(steps []step) string {
	var b strings.Builder
	for _, s := range steps {
		b.WriteString(s.says)
	}
	return b.String()
}

// heard collects what a recorder tells.
type heard struct {
	events []Event
	states []Status
}

func (h *heard) texts() (out []string) {
	for _, e := range h.events {
		out = append(out, e.Text)
	}
	return out
}

// recordPlay records a receiver until it ends or ctx does.
func recordPlay(t *testing.T, ctx context.Context, r *receiver, d disk, change func(*Options)) (Summary, *heard, error) {
	t.Helper()
	h := &heard{}
	opt := Options{Source: r.source("invented"), Dir: t.TempDir(), Silence: 15 * time.Second,
		Notify: func(e Event) { h.events = append(h.events, e) }, Show: func(s Status) { h.states = append(h.states, s) }}
	if change != nil {
		change(&opt)
	}
	sum, err := newRecorder(opt, d).Run(ctx)
	return sum, h, err
}

var errEnd = io.EOF
