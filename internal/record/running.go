package record

import (
	"errors"
	"fmt"
	"math"
	"time"
)

const (
	lowBytes = 200 << 20 // free disk that is too little
	lowHours = 1.0
)

// running is a recording under way. One goroutine owns it.
type running struct {
	*Recorder
	start  time.Time
	cutter cutter
	hours  hours
	watch  watch
	alarm  alarm
	writer writer
	syncer *syncer
	tee    *tee

	held    []byte    // lines that came before their hour was known
	holding time.Time // since when
	open    bool
	sum     Summary
	dated   bool  // sum.From rests on a date that the receiver told
	stuck   error // why the disk took nothing the last time
	rung    time.Time
	unsync  error // why it could not be made to keep something
	low     bool  // people were told that the disk fills up
}

func newRunning(r *Recorder) *running {
	s := &running{Recorder: r, start: r.now(), syncer: newSyncer()}
	s.watch.begun = s.start
	s.alarm.expect = r.opt.Expect
	s.writer = writer{disk: r.disk, dir: r.opt.Dir, prefix: r.opt.Prefix, suffix: ".nmea", closes: s.syncer.close}
	s.sum.Source = r.opt.Source.Name
	if r.opt.Tee != nil {
		s.tee = newTee(r.opt.Tee)
	}
	return s
}

// loop takes deliveries until they end.
func (s *running) loop(deliveries <-chan delivery) {
	ticker := time.NewTicker(tick)
	defer ticker.Stop()
	var news chan string
	if s.tee != nil {
		news = s.tee.news
	}
	for {
		select {
		case d, ok := <-deliveries:
			if !ok {
				return
			}
			s.take(d)
		case <-ticker.C:
			s.tick(s.now())
		case text := <-news:
			s.tell(Event{Text: text})
		}
	}
}

// take deals with one delivery.
func (s *running) take(d delivery) {
	switch {
	case d.opened:
		s.open = true
		s.sum.Opened++
		text := "reading " + s.opt.Source.Name
		if d.about != "" {
			text += ", " + d.about
		}
		s.tell(Event{Text: text})
	case d.lost != nil:
		s.open = false
		s.lines(s.cutter.broken(), d.at)
		if !s.opt.Source.Ends {
			s.tell(Event{Level: Warning, Ring: true, Text: fmt.Sprintf("lost %s: %v; trying again", s.opt.Source.Name, d.lost)})
		}
	case d.retry != nil:
		s.tell(Event{Level: Warning, Text: fmt.Sprintf("waiting for %s: %v", s.opt.Source.Name, d.retry)})
	default:
		s.watch.data = d.at
		s.lines(s.cutter.lines(d.data), d.at)
	}
}

// lines writes lines that came at a time into the logs of their hours.
func (s *running) lines(lines [][]byte, at time.Time) {
	if len(lines) == 0 {
		return
	}
	var batch, all []byte
	for _, line := range lines {
		t := hear(line)
		s.mu.Lock()
		utc, timed := s.clock.take(t, at)
		dated := s.clock.dated
		s.mu.Unlock()
		s.count(t, utc, timed, dated)
		s.watch.see(line, t, utc, timed, at)
		all = append(all, line...)
		if s.hours.current.IsZero() && !(timed && dated) {
			s.hold(line, at)
			continue
		}
		if timed {
			begun := s.hours.current
			if s.hours.at(utc) {
				if !begun.IsZero() {
					s.write(begun, batch)
				}
				batch = s.unheld()
			}
		}
		batch = append(batch, line...)
	}
	s.write(s.hours.current, batch)
	if s.tee != nil {
		s.tee.send(all)
	}
}

func (s *running) count(t told, utc time.Time, timed, dated bool) {
	s.sum.Lines++
	switch {
	case t.right:
		s.sum.Sentences++
	case t.wrong:
		s.sum.BadChecksum++
	}
	if !timed {
		return
	}
	// Times before the first date are guesses.
	if s.sum.From.IsZero() || dated && !s.dated {
		s.sum.From = utc
	}
	s.sum.To, s.dated = utc, dated
}

// hold keeps a line whose hour is not known yet.
func (s *running) hold(line []byte, at time.Time) {
	if s.holding.IsZero() {
		s.holding = at
	}
	s.held = append(s.held, line...)
}

// unheld gives what was held.
func (s *running) unheld() []byte {
	held := s.held
	s.held, s.holding = nil, time.Time{}
	return held
}

// name names the log of the lines that are held by the machine's clock, or by
// the time of day that the receiver tells.
func (s *running) name(now time.Time) {
	if len(s.held) == 0 {
		return
	}
	s.hours.at(s.Stamp(now).UTC)
	s.write(s.hours.current, s.unheld())
}

// write writes lines, and tells when the disk begins or ceases to refuse them.
func (s *running) write(hour time.Time, lines []byte) {
	if len(lines) > 0 {
		s.took(s.writer.add(hour, lines))
	}
}

func (s *running) took(err error) {
	now := s.now()
	switch {
	case err != nil && (s.stuck == nil || now.Sub(s.rung) >= ringStopped):
		e := Event{Level: Warning, Ring: true}
		if s.stuck == nil {
			e.Text = fmt.Sprintf("the disk takes nothing more (%v): lines wait in memory until there is room", err)
		}
		s.rung = now
		s.tell(e)
	case err == nil && s.stuck != nil:
		text := "the disk takes lines again; nothing was lost"
		if s.writer.lost > 0 {
			text = fmt.Sprintf("the disk takes lines again; %d bytes were lost", s.writer.lost)
		}
		s.tell(Event{Text: text})
	}
	s.stuck = err
}

// tick is what is done every second.
func (s *running) tick(now time.Time) {
	if !s.holding.IsZero() && now.Sub(s.holding) >= untold {
		s.name(now)
	}
	if stamp := s.Stamp(now); !s.hours.current.IsZero() && (!stamp.Known() || stamp.Age > timeless) {
		s.hours.at(stamp.UTC)
	}
	if s.stuck != nil {
		s.took(s.writer.flush())
	}
	s.marks.flush()
	if s.writer.dirty && s.syncer.sync(s.writer.file) {
		s.writer.dirty = false
	}
	s.checkSync()
	st := s.status(now)
	s.checkDisk(st)
	if e, ok := s.alarm.judge(st.State, now); ok {
		s.tell(e)
	}
	if s.opt.Show != nil {
		s.opt.Show(st)
	}
}

func (s *running) status(now time.Time) Status {
	st := Status{
		View: s.watch.look(now), Stamp: s.Stamp(now), Open: s.open, FreeFor: math.NaN(),
		Lines: s.sum.Lines, Bytes: s.writer.bytes, File: s.writer.path, Waiting: s.writer.waits,
	}
	free, err := s.disk.free(s.opt.Dir)
	if err != nil {
		free = -1
	}
	st.Free = free
	if hours := now.Sub(s.start).Hours(); st.Bytes > 0 && hours > 0 && free >= 0 {
		st.FreeFor = float64(free) / (float64(st.Bytes) / hours)
	}
	return st
}

// checkDisk tells once that the disk fills up.
func (s *running) checkDisk(st Status) {
	low := st.Free >= 0 && (st.Free < lowBytes || st.FreeFor < lowHours)
	if low && !s.low {
		s.tell(Event{Level: Warning, Ring: true, Text: fmt.Sprintf("the disk is nearly full: %d MB free", st.Free>>20)})
	}
	s.low = low
}

// checkSync tells once that the disk does not keep what is written.
func (s *running) checkSync() {
	if err := s.syncer.failure(); err != nil && s.unsync == nil {
		s.unsync = err
		s.tell(Event{Level: Warning, Ring: true, Text: fmt.Sprintf("the disk does not confirm that it keeps what is written: %v", err)})
	}
}

func (s *running) tell(e Event) {
	if s.opt.Notify != nil {
		e.UTC = s.Stamp(s.now()).UTC
		s.opt.Notify(e)
	}
}

// finish brings everything to the disk.
func (s *running) finish() (Summary, error) {
	now := s.now()
	s.lines(s.cutter.broken(), now)
	s.name(now)
	stuck := s.writer.flush()
	s.writer.end()
	s.syncer.stop()
	s.checkSync()
	if s.tee != nil {
		s.tee.close()
	}
	unmarked := s.marks.flush()
	sum := &s.sum
	sum.Files, sum.Bytes = s.writer.files, s.writer.bytes
	sum.HalfLines, sum.HalfBytes = s.cutter.dropped, s.cutter.droppedBytes
	sum.LostBytes = s.writer.lost + int64(s.writer.waits)
	var all []Mark
	sum.MarksFile, all = s.marks.close()
	sum.Marks = len(all)
	for _, m := range all {
		if text := m.Sync(); text != "" {
			sum.Syncs = append(sum.Syncs, text)
		}
	}
	if ahead, ok := s.watch.ahead(); ok && !s.opt.Source.Ends {
		seconds := ahead.Seconds()
		sum.ClockAhead = &seconds
	}
	switch {
	case sum.LostBytes > 0:
		if stuck == nil {
			stuck = errors.New("it was full for too long")
		}
		return *sum, fmt.Errorf("%d bytes did not fit on the disk and are lost: %w", sum.LostBytes, stuck)
	case unmarked != nil:
		return *sum, fmt.Errorf("writing the marks: %w", unmarked)
	case s.unsync != nil:
		return *sum, fmt.Errorf("the disk did not confirm that it keeps what was written: %w", s.unsync)
	}
	return *sum, nil
}
