package record

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"tracemap/readings"
)

// MarkSync and MarkNote are the kinds of marks, in the words of the readings
// log's column feature.
const (
	MarkSync = "sync"
	MarkNote = "note"
)

// A Mark is an instant that a person marked.
type Mark struct {
	Stamp Stamp
	Kind  string    // MarkSync or MarkNote
	Clock time.Time // what the locator's clock showed; zero where it was not read off
	Text  string
}

// Sync is the mark as convert takes it with --sync; "" where the locator's clock
// was not read off.
func (m Mark) Sync() string {
	if m.Kind != MarkSync || m.Clock.IsZero() {
		return ""
	}
	return stampFormat(m.Clock) + "=" + stampFormat(m.Stamp.UTC)
}

// row gives the cells of readings.MarkColumns.
func (m Mark) row() []string {
	row := []string{stampFormat(m.Stamp.UTC), m.Kind, m.Text, "", m.Sync(), "", "", stampFormat(m.Stamp.Machine)}
	if !m.Clock.IsZero() {
		row[3] = stampFormat(m.Clock)
	}
	if m.Stamp.Known() {
		row[5] = stampFormat(m.Stamp.Receiver)
		row[6] = strconv.FormatFloat(m.Stamp.Age.Seconds(), 'f', 3, 64)
	}
	return row
}

// stampFormat writes a time to the millisecond, RFC 3339.
func stampFormat(t time.Time) string { return t.Format("2006-01-02T15:04:05.000Z07:00") }

// marks keeps what was marked, in a file that begins with the first mark. It may
// be used by several goroutines.
type marks struct {
	disk   disk
	dir    string
	prefix string

	mu      sync.Mutex
	all     []Mark
	file    *writer // one log, whose "hour" is that of the first mark
	waiting []byte
}

// add keeps a mark and brings it to the disk. After an error it waits there until
// the next try.
func (k *marks) add(m Mark) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if len(k.all) == 0 {
		w.Write(readings.MarkColumns)
	}
	w.Write(m.row())
	w.Flush()
	k.all = append(k.all, m)
	k.waiting = append(k.waiting, b.Bytes()...)
	return k.save()
}

// flush tries again to write what waits.
func (k *marks) flush() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.save()
}

func (k *marks) save() error {
	if len(k.waiting) == 0 {
		return nil
	}
	if k.file == nil {
		k.file = &writer{disk: k.disk, dir: k.dir, prefix: k.prefix, suffix: "-marks.csv", closes: func(f file) { f.Close() }}
	}
	if k.file.file == nil {
		if err := k.file.open(k.all[0].Stamp.UTC.Truncate(time.Hour)); err != nil {
			return err
		}
	}
	if err := k.file.write(k.waiting); err != nil {
		return err
	}
	k.waiting = nil
	return k.file.file.Sync()
}

// close ends the file and gives its path, "" where nothing was marked.
func (k *marks) close() (path string, all []Mark) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.file == nil {
		return "", k.all
	}
	k.file.end()
	return filepath.ToSlash(k.file.path), k.all
}

// ParseClock reads what the locator's clock showed at an instant: RFC 3339, local
// 2006-01-02 15:04:05, or the time of day alone, which is that nearest to the
// instant. Seconds may have decimals. Times without an offset are in zone.
func ParseClock(text string, at time.Time, zone *time.Location) (time.Time, error) {
	text = strings.TrimSpace(text)
	if t, err := time.Parse(time.RFC3339, strings.ToUpper(text)); err == nil {
		return t, nil
	}
	if t, err := time.ParseInLocation(time.DateTime, strings.Replace(text, "T", " ", 1), zone); err == nil {
		return t, nil
	}
	for _, layout := range []string{time.TimeOnly, "15:04", "150405"} {
		t, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		best := time.Time{}
		near := at.In(zone)
		for day := -1; day <= 1; day++ {
			c := time.Date(near.Year(), near.Month(), near.Day()+day, t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), zone)
			if best.IsZero() || c.Sub(at).Abs() < best.Sub(at).Abs() {
				best = c
			}
		}
		return best, nil
	}
	return time.Time{}, fmt.Errorf("%q is no time such as 08:01:34 or 2026-05-12 08:01:34", text)
}
