package otherdays

import (
	"fmt"
	"time"
)

// A Day is an invented day: two logs, what the crew tells of it, and the truth.
type Day struct {
	Kind     string
	NMEA     []byte
	Readings []byte
	Antenna  float64 // height of the antenna above the ground, m
	Walked   bool    // readings were taken without a stop
	Passes   int     // times that each line was gone along
	Fixed    bool    // RTK fixed from the first epoch to the last
	Truth    Truth
}

// Truth is what the day's logs were made from.
type Truth struct {
	Lines []Line
	// Ahead is, for each instrument, the mean of its log's times minus UTC, s:
	// with times that are cut, this is what puts the readings right.
	Ahead []float64
	// Rows are those of the readings log, in its order.
	Rows []Row
	// Fixes are the positions as they were logged.
	Fixes []Fix
	// Wrong lists when the receiver's integers were wrong.
	Wrong []Spell
	// Steady says that the receiver kept one quality of fix and right integers.
	Steady bool
	Start  time.Time // of the receiver's log
	End    time.Time
}

// A Row is the truth behind a reading.
type Row struct {
	Time       time.Time // when it was taken
	Stamp      time.Time // what the locator's clock made of that
	Line       int       // index into Lines
	Station    float64   // along the line, m
	Feature    string
	Locked     bool // it was taken on another line
	Instrument int
}

// A Fix is a logged position.
type Fix struct {
	Time     time.Time
	Lat, Lon float64
}

// A Spell is a stretch of time.
type Spell struct{ From, To time.Time }

// A Line is the true course of what was located, a point every quarter of a
// metre between the ends of the job.
type Line struct {
	Name   string
	Points []Point
	Steps  []float64 // stations of real steps of the current, m; none on a plain line
}

// A Point is a place on the ground over the line's centre: degrees, the
// ground's ellipsoidal height and the depth of the centre below it, m.
type Point struct{ Lat, Lon, Ground, Depth float64 }

// Make invents the day of a kind and a seed; the kind is one of Kinds.
func Make(name string, seed uint64) (*Day, error) {
	k, ok := find(name)
	if !ok {
		return nil, fmt.Errorf("no kind of day is called %q", name)
	}
	d := newDice(name, seed)
	o := plane{d.between(-55, 62), d.between(-170, 170)}
	start := time.Date(2026, time.Month(1+d.IntN(12)), 1+d.IntN(28), 7+d.IntN(9), d.IntN(60), d.IntN(60), 0, time.UTC)
	antenna := d.between(1.6, 2.2)
	list := k.ground(d)
	w := k.walk(d, list)
	epochs, wrong := k.receive(d, w, antenna)
	day := &Day{Kind: name, Antenna: antenna, Walked: k.through, Passes: k.passes, Fixed: k.sky.fix == fixed.fix && !k.mixed}
	day.NMEA = writeNMEA(epochs, o, start, !k.noGST && d.chance(0.7))
	day.Readings, day.Truth.Rows, day.Truth.Ahead = k.writeReadings(d, w, list, start)
	for _, e := range epochs {
		lat, lon := o.degrees(e.at)
		day.Truth.Fixes = append(day.Truth.Fixes, Fix{start.Add(time.Duration(e.t * float64(time.Second))), lat, lon})
	}
	day.Truth.Steady = !k.mixed && len(wrong) == 0
	after := func(t float64) time.Time { return start.Add(time.Duration(t * float64(time.Second))) }
	day.Truth.Start, day.Truth.End = start, after(w.now())
	for _, x := range wrong {
		day.Truth.Wrong = append(day.Truth.Wrong, Spell{after(x.from), after(x.to)})
	}
	for _, c := range list {
		l := Line{Name: c.name, Steps: c.steps}
		for s := 0.0; s <= c.length(); s += grain {
			p := c.place(s)
			lat, lon := o.degrees(p)
			l.Points = append(l.Points, Point{lat, lon, groundHeight(p), c.deep(s)})
		}
		day.Truth.Lines = append(day.Truth.Lines, l)
	}
	return day, nil
}
