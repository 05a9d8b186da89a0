package record

import (
	"fmt"
	"time"
)

// How often the bell rings again while nothing usable comes, and while the fix is
// worse than it should be. Common practice, no source.
const (
	ringStopped  = 10 * time.Second
	ringDegraded = time.Minute
)

// Level says how much an event matters.
type Level int

// The levels of events.
const (
	Info    Level = iota // for the record
	Warning              // something is lost or worse
)

// An Event is something that a person should be told once.
type Event struct {
	UTC   time.Time
	Level Level
	Text  string // "" where only the bell rings again
	Ring  bool   // with the bell
}

// alarm tells when the state has changed. A change must be seen twice in a row:
// a single epoch without a fix is no news.
type alarm struct {
	expect State // what is good enough; StateUnknown is the best that was seen

	shown State
	since time.Time // shown
	next  State     // seen once
	rung  time.Time
}

// judge takes the state of a second. It gives false where there is nothing to
// tell.
func (a *alarm) judge(s State, now time.Time) (Event, bool) {
	if s == StateUnknown {
		return Event{}, false
	}
	if s == a.shown || s != a.next {
		a.next = s
		return a.again(now)
	}
	was, since := a.shown, a.since
	a.shown, a.since = s, now
	if a.next = StateUnknown; s > a.expect {
		a.expect = s
	}
	switch {
	case was == StateUnknown && s <= StateNoFix:
		return a.ring(now, "the receiver: "+what(s)), true
	case was == StateUnknown:
		return Event{Text: "the receiver: " + what(s)}, true
	case s < was:
		return a.ring(now, fmt.Sprintf("%s, after %s", what(s), was)), true
	}
	return Event{Text: fmt.Sprintf("%s, after %s of %s", s, now.Sub(since).Round(time.Second), was)}, true
}

// again rings while things stay bad.
func (a *alarm) again(now time.Time) (Event, bool) {
	every := ringDegraded
	switch {
	case a.shown == StateUnknown || a.shown >= a.expect:
		return Event{}, false
	case a.shown <= StateNoFix:
		every = ringStopped
	}
	if now.Sub(a.rung) < every {
		return Event{}, false
	}
	return a.ring(now, ""), true
}

func (a *alarm) ring(now time.Time, text string) Event {
	a.rung = now
	return Event{Level: Warning, Text: text, Ring: true}
}

// what says a state as news.
func what(s State) string {
	switch s {
	case StateSilent:
		return "nothing comes"
	case StateUnreadable:
		return "what comes is no NMEA: is the baud rate right, and does the receiver send NMEA on this port"
	case StateNoFix:
		return "no fix"
	case StatePosition:
		return "position of unknown quality"
	}
	return s.String()
}
