package record

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"
)

// maxWaiting is how much may wait in memory for a disk to have room again: some
// hours of a usual receiver.
const maxWaiting = 64 << 20

// hourFormat names a log by the UTC hour that it begins in, without a colon,
// which some file systems refuse.
const hourFormat = "2006-01-02T15Z"

// A segment is lines that belong to one hour's log and are not written yet.
type segment struct {
	hour time.Time
	data []byte
}

// writer writes lines into hourly logs. A log that exists is never written to:
// the name gets a number.
type writer struct {
	disk   disk
	dir    string
	prefix string
	suffix string // ".nmea"

	hour   time.Time // of the open file
	file   file      // nil when none is open
	path   string
	size   int64 // of the whole lines in it
	dirty  bool  // written to since it was last handed to the syncer
	torn   bool  // a write stopped within a line, and the rest could not be cut off yet
	files  []string
	bytes  int64 // in all logs
	lost   int64 // bytes let go because the disk stayed full for too long
	queue  []segment
	waits  int        // bytes in queue
	closes func(file) // syncs and closes a file that is complete
}

// add takes whole lines of an hour and writes them, and what waits before them.
// An error means that they wait.
func (w *writer) add(hour time.Time, lines []byte) error {
	if len(lines) == 0 {
		return nil
	}
	if w.waits+len(lines) > maxWaiting {
		w.lost += int64(len(lines))
		return w.flush()
	}
	if n := len(w.queue); n > 0 && w.queue[n-1].hour.Equal(hour) {
		w.queue[n-1].data = append(w.queue[n-1].data, lines...)
	} else {
		w.queue = append(w.queue, segment{hour, append([]byte(nil), lines...)})
	}
	w.waits += len(lines)
	return w.flush()
}

// flush writes what waits.
func (w *writer) flush() error {
	for len(w.queue) > 0 {
		s := w.queue[0]
		if w.file == nil || !s.hour.Equal(w.hour) {
			if err := w.open(s.hour); err != nil {
				return err
			}
		}
		if err := w.write(s.data); err != nil {
			return err
		}
		w.queue = w.queue[1:]
		w.waits -= len(s.data)
	}
	return nil
}

// write writes lines, all or none of them: what a full disk took of them is cut
// off again, so that the log ends with a whole line.
func (w *writer) write(lines []byte) error {
	if w.torn {
		if err := w.file.Truncate(w.size); err != nil {
			return err
		}
		w.torn = false
	}
	if _, err := w.file.WriteAt(lines, w.size); err != nil {
		w.torn = w.file.Truncate(w.size) != nil
		return err
	}
	w.size += int64(len(lines))
	w.bytes += int64(len(lines))
	w.dirty = true
	return nil
}

// open begins the log of an hour.
func (w *writer) open(hour time.Time) error {
	w.end()
	for k := 1; ; k++ {
		path := filepath.Join(w.dir, w.prefix+hour.Format(hourFormat)+number(k)+w.suffix)
		f, err := w.disk.create(path)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return err
		}
		w.file, w.path, w.hour, w.size, w.torn, w.dirty = f, path, hour, 0, false, false
		w.files = append(w.files, path)
		return nil
	}
}

// number tells files of one name apart.
func number(k int) string {
	if k == 1 {
		return ""
	}
	return fmt.Sprintf("-%d", k)
}

// end hands the open file over to be synced and closed.
func (w *writer) end() {
	if w.file == nil {
		return
	}
	if w.torn {
		w.file.Truncate(w.size)
	}
	w.closes(w.file)
	w.file, w.dirty = nil, false
}
