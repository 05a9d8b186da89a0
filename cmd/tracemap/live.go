package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/term"

	"tracemap/internal/record"
)

// Keys with a meaning while recording.
const (
	keyInterrupt = 0x03 // Ctrl-C, which raw terminals hand on
	keyEscape    = 0x1b
	keyDelete    = 0x7f
	keyBackspace = 0x08
	keyEnter     = '\r'
)

// live is the recording as a person sees it: one line that shows the state, and
// keys for marks.
type live struct {
	*console
	rec    *record.Recorder
	source string
	zone   *time.Location
	bell   bool
	keys   bool
	end    func()

	lock   sync.Mutex // keys and state come from two goroutines
	status record.Status
	asking string // the kind of mark that is being typed, "" for none
	mark   record.Stamp
	text   []rune
	ended  bool
}

// notify tells an event.
func (l *live) notify(e record.Event) {
	l.lock.Lock()
	defer l.lock.Unlock()
	if e.Text != "" {
		text := e.UTC.Format("15:04:05Z ") + e.Text
		if e.Level == record.Warning {
			l.warn(text)
		} else {
			l.say("note", "36", text)
		}
	}
	if e.Ring && l.bell && l.terminal {
		io.WriteString(l.err, "\a")
	}
	l.draw()
}

// show shows what stands.
func (l *live) show(s record.Status) {
	l.lock.Lock()
	defer l.lock.Unlock()
	l.status = s
	l.draw()
}

func (l *live) close() {
	l.lock.Lock()
	defer l.lock.Unlock()
	l.ended = true
	l.endProgress()
}

// readKeys acts on keys until the keyboard is gone.
func (l *live) readKeys(in io.Reader) {
	r := bufio.NewReader(in)
	for {
		k, _, err := r.ReadRune()
		if err != nil {
			return
		}
		at := time.Now()
		if k == keyEscape && skipSequence(r) {
			continue
		}
		l.press(k, at)
	}
}

// skipSequence steps over the rest of an arrow or another key that a terminal
// sends as a sequence (ECMA-48: CSI up to a byte from @ to ~, SS3 and one byte). It
// gives false for the escape key itself.
func skipSequence(r *bufio.Reader) bool {
	if r.Buffered() == 0 {
		return false
	}
	next, _ := r.Peek(1)
	switch next[0] {
	case 'O':
		r.Discard(min(2, r.Buffered()))
	case '[':
		r.Discard(1)
		for r.Buffered() > 0 {
			if b, _ := r.ReadByte(); b >= '@' && b <= '~' {
				break
			}
		}
	default:
		return false
	}
	return true
}

// press acts on a key that was pressed at a time.
func (l *live) press(k rune, at time.Time) {
	l.lock.Lock()
	defer l.lock.Unlock()
	switch {
	case l.ended:
		return
	case k == keyInterrupt:
		for l.asking != "" {
			l.finish() // a text that is no time is left off, and the mark kept at the second go
		}
		l.end()
	case l.asking != "":
		l.typed(k)
	case k == ' ' || k == 's' || k == 'S':
		l.asking, l.mark = record.MarkSync, l.rec.Stamp(at)
	case k == 'n' || k == 'N':
		l.asking, l.mark = record.MarkNote, l.rec.Stamp(at)
	case k == 'q' || k == 'Q':
		l.end()
	}
	l.draw()
}

// typed goes on with the text of a mark.
func (l *live) typed(k rune) {
	switch {
	case k == keyEnter || k == '\n':
		l.finish()
	case k == keyEscape:
		l.asking, l.text = "", nil
	case (k == keyDelete || k == keyBackspace) && len(l.text) > 0:
		l.text = l.text[:len(l.text)-1]
	case unicode.IsPrint(k) && len(l.text) < 500:
		l.text = append(l.text, k)
	}
}

// finish keeps the mark whose text has been typed.
func (l *live) finish() {
	text := strings.TrimSpace(string(l.text))
	m := record.Mark{Stamp: l.mark, Kind: l.asking, Text: text}
	if l.asking == record.MarkSync && text != "" {
		clock, err := record.ParseClock(text, l.mark.UTC, l.zone)
		if err != nil {
			l.warn(err.Error() + "; Esc drops the mark, Enter on an empty line keeps it without the locator's time")
			l.text = nil
			return
		}
		m.Clock, m.Text = clock, ""
	}
	l.asking, l.text = "", nil
	if m.Kind == record.MarkNote && m.Text == "" {
		return
	}
	if err := l.rec.Mark(m); err != nil {
		l.warn(err.Error() + "; it is tried again")
	}
	said := m.Kind + " at " + m.Stamp.UTC.Format("15:04:05.0Z")
	if sync := m.Sync(); sync != "" {
		said = "--sync " + sync
	}
	l.say("note", "36", said)
}

// tail cuts a text to so many characters; what is being typed stands at its end.
func tail(s string, most int) string {
	r := []rune(s)
	if len(r) <= most || most < 2 {
		return s
	}
	return "…" + string(r[len(r)-most+1:])
}

// draw writes the line.
func (l *live) draw() {
	if !l.terminal || l.ended {
		return
	}
	width := 80
	if f, ok := l.err.(interface{ Fd() uintptr }); ok {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			width = w
		}
	}
	parts := l.parts()
	var b strings.Builder
	used := 0
	for k, p := range parts {
		if k == 0 {
			p.text = tail(p.text, width-1)
		}
		n := utf8.RuneCountInString(p.text)
		if used+n > width-1 {
			break
		}
		used += n
		if l.colour && p.colour != "" {
			p.text = "\x1b[" + p.colour + "m" + p.text + "\x1b[0m"
		}
		b.WriteString(p.text)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.shown = true
	fmt.Fprint(l.err, "\r\x1b[K"+b.String())
}

// Fd is that of the terminal behind.
func (w returning) Fd() uintptr {
	if f, ok := w.Writer.(*os.File); ok {
		return f.Fd()
	}
	return ^uintptr(0)
}

// A part of the line, the more important ones first.
type part struct{ text, colour string }

const (
	green  = "32"
	yellow = "33"
	red    = "1;31"
)

// parts are what the line shows.
func (l *live) parts() []part {
	switch l.asking {
	case record.MarkSync:
		return []part{{fmt.Sprintf("sync mark %s – the locator shows: %s_", l.mark.UTC.Format("15:04:05.0Z"), string(l.text)), ""}, {"  (Enter; Esc drops it)", ""}}
	case record.MarkNote:
		return []part{{fmt.Sprintf("note %s: %s_", l.mark.UTC.Format("15:04:05.0Z"), string(l.text)), ""}, {"  (Enter; Esc drops it)", ""}}
	}
	s := &l.status
	if s.Stamp.UTC.IsZero() {
		return []part{{"waiting for " + l.source, ""}}
	}
	out := []part{{s.Stamp.UTC.Format("15:04:05Z "), ""}, {fmt.Sprintf("%-12s", s.State), stateColour(s.State)}}
	number := func(name string, v float64, format, colour string) {
		if !math.IsNaN(v) {
			out = append(out, part{"  " + name + fmt.Sprintf(format, v), colour})
		}
	}
	if s.State > record.StateNoFix {
		out = append(out, part{fmt.Sprintf("  %d sat", s.Sats), ""})
	}
	number("σ ", s.Sigma, "%.3f m", "")
	number("age ", s.Age, "%.1f s", ageColour(s.Age))
	number("", s.Rate, "%.1f Hz", "")
	switch {
	case s.Waiting > 0:
		out = append(out, part{"  DISK FULL, " + size(int64(s.Waiting)) + " wait", red})
	case s.Free >= 0:
		out = append(out, part{"  free " + size(s.Free), ""})
	}
	out = append(out, part{fmt.Sprintf("  %d lines", s.Lines), ""})
	if l.keys {
		out = append(out, part{"  [space] sync [n] note [q] end", ""})
	}
	return out
}

func stateColour(s record.State) string {
	switch {
	case s >= record.StateFixed:
		return green
	case s <= record.StateNoFix && s != record.StateUnknown:
		return red
	}
	return yellow
}

// ageColour warns of corrections that have not come for a while; receivers give
// up a fixed solution after a minute or so (common practice, no source).
func ageColour(age float64) string {
	if age > 10 {
		return yellow
	}
	return ""
}
