package simulate

import (
	"math"
	"slices"
)

// A Preset is a named kind of day.
type Preset struct {
	Name, About string
	change      func(*Scenario, int)
}

// Scenario gives a day of this kind. Seeds give other ground, other work, other
// errors, another clock, and in turn each model of the slow satellite error.
func (p Preset) Scenario(seed uint64) Scenario {
	s := New(p.Name, seed)
	rng := stream(seed, "preset")
	s.Clock.Offset = sign(rng) * math.Pow(10, Range{0, 2.8}.draw(rng)) // 1 s to 10 min
	s.Clock.Drift = 20 * rng.NormFloat64()
	s.GNSS.Slow = SlowModel(seed % 3)
	p.change(&s, rng.IntN(1<<20))
	return s
}

// Named gives the preset of a name.
func Named(name string) (Preset, bool) {
	i := slices.IndexFunc(presets, func(p Preset) bool { return p.Name == name })
	if i < 0 {
		return Preset{}, false
	}
	return presets[i], true
}

// Presets lists the kinds of days that accuracy is measured on. The crew-day,
// there for its size, is not among them: see CrewDay.
func Presets() []Preset { return slices.Clone(presets) }

// walking makes a day of continuous walking.
func walking(s *Scenario, r Returns) {
	s.Work.Style, s.Work.Returns = Walking, r
	s.Work.Speed, s.Work.Spacing = Range{0.5, 1.3}, Range{2, 5}
	s.Work.Sweep, s.Work.Pause, s.Work.Corners = 0, 0, 0
}

// hourMistakes are zones that a clock may be set to by mistake, s.
var hourMistakes = []float64{3600, -3600, 7200, -5 * 3600, 5.5 * 3600, 10 * 3600, -11 * 3600, 12 * 3600}

// street makes a day on five lines that run side by side.
func street(s *Scenario, _ int) {
	s.World.Pipes, s.World.Curves, s.World.Cables, s.World.Street = 0, 0, 0, 5
	s.World.Straight, s.World.Bends, s.World.Onward, s.World.Steps = Range{15, 40}, []float64{11.25, 22.5}, 1, 0
}

var presets = []Preset{
	{"rtk-stopgo", "RTK fixed, stop-and-go", func(*Scenario, int) {}},
	{"rtk-stopgo-10hz", "the same at 10 Hz", func(s *Scenario, _ int) { s.GNSS.Rate = 10 }},
	{"rtk-stopgo-5hz-no-gst", "5 Hz, no GST, no sweep before a stop", func(s *Scenario, _ int) {
		s.GNSS.Rate, s.GNSS.GST, s.Work.Sweep = 5, false, 0
	}},
	{"rtk-walk", "walked once, readings with positions of the receiver", func(s *Scenario, _ int) {
		walking(s, NoReturn)
		s.Log.Own = OwnReceiver
	}},
	{"rtk-return", "walked both ways, some at once, some hours later", func(s *Scenario, _ int) { walking(s, SomeOfBoth) }},
	{"mixed-stopgo", "fixed and float in turns", func(s *Scenario, _ int) { s.GNSS.Profile = Mixed }},
	{"mixed-return", "fixed and float in turns, walked both ways", func(s *Scenario, _ int) {
		s.GNSS.Profile = Mixed
		walking(s, SomeOfBoth)
	}},
	{"sbas-stopgo", "SBAS, stop-and-go", func(s *Scenario, _ int) { s.GNSS.Profile = SBAS }},
	{"sbas-return", "SBAS, walked both ways", func(s *Scenario, _ int) {
		s.GNSS.Profile = SBAS
		walking(s, SomeOfBoth)
	}},
	{"autonomous-stopgo", "no corrections, stop-and-go", func(s *Scenario, _ int) { s.GNSS.Profile = Autonomous }},
	{"autonomous-walk", "no corrections, walked both ways at once", func(s *Scenario, _ int) {
		s.GNSS.Profile = Autonomous
		walking(s, AtOnce)
	}},
	{"rtk-gst-low", "GST says 0.7 of the true σ", func(s *Scenario, _ int) { s.GNSS.GSTScale = 0.7 }},
	{"rtk-gst-high", "GST says 1.3 of the true σ, without its ellipse", func(s *Scenario, _ int) {
		s.GNSS.GSTScale, s.GNSS.Ellipse = 1.3, false
	}},
	{"rtk-false-fix", "two spells with wrong integers", func(s *Scenario, _ int) {
		s.GNSS.FalseFixes = Spells{2, Range{60, 300}}
	}},
	{"rtk-broken", "outages, jumps, float, no fix, dirt in the log", func(s *Scenario, _ int) {
		s.GNSS.Outages, s.GNSS.Jumps = Spells{4, Range{20, 200}}, Spells{6, Range{2, 8}}
		s.GNSS.Floats, s.GNSS.NoFix = Spells{2, Range{30, 200}}, Spells{2, Range{10, 60}}
		s.Dirt = Dirty(0.002)
	}},
	{"rtk-distorted", "most lines run beside an unknown conductor for a while", func(s *Scenario, _ int) {
		s.World.Distorted, s.Log.NullOffsets = 0.7, true
	}},
	{"rtk-locks", "5 % of the readings on a neighbour, errors with heavy tails", func(s *Scenario, _ int) {
		s.Locate.Locks, s.Locate.Tails = 0.05, 4
	}},
	{"rtk-correlated", "most of the locating error is the same for 20 m", func(s *Scenario, _ int) {
		s.Locate.PointWhite, s.Locate.DepthWhite, s.Locate.PointLength = 0.25, 0.25, Range{20, 20}
	}},
	{"rtk-white", "all of the locating error is new at every reading, no locks", func(s *Scenario, _ int) {
		s.Locate.PointWhite, s.Locate.DepthWhite, s.Locate.DepthCalibration, s.Locate.Locks = 1, 1, 0, 0
	}},
	{"rtk-plain", "no field but that of one long straight conductor, normal errors", func(s *Scenario, _ int) {
		s.Locate.Plain, s.Locate.DepthCalibration = true, 0
	}},
	{"rtk-weak-methods", "null, single coil, induction and passive among the lines", func(s *Scenario, _ int) {
		s.Locate.Worse, s.Locate.NoDepth = true, 0.1
	}},
	{"rtk-coils-potholes", "raw coil fields, two lines dug free, 10 Hz", func(s *Scenario, _ int) {
		s.Log.Coils, s.Work.Potholes, s.GNSS.Rate, s.Log.Features = true, 2, 10, true
	}},
	{"rtk-lever-arm", "the antenna stands before and beside the locator, and tilts more", func(s *Scenario, _ int) {
		s.Mount = Mount{Height: 1.6, Forward: 0.35, Right: -0.2, Tilt: 1.2}
	}},
	{"rtk-no-names", "no line names in the log, water and gas only", func(s *Scenario, _ int) {
		s.Log.NoLine, s.World.Utilities = true, 2
	}},
	{"rtk-coarse-stamps", "times cut to whole seconds", func(s *Scenario, _ int) { s.Clock.Step, s.Clock.Cut = 1, true }},
	{"rtk-bends", "fittings of 90° only, a reading at every other corner", func(s *Scenario, _ int) {
		s.World.Pipes, s.World.Curves, s.World.Cables = 6, 0, 0
		s.World.Bends, s.World.Straight = []float64{90}, Range{8, 20}
	}},
	{"cables-and-curves", "gently curving cables and bends of long radius", func(s *Scenario, _ int) {
		s.World.Pipes, s.World.Curves, s.World.Cables = 0, 3, 3
	}},
	{"loops-and-parallels", "closed rings, pairs 0.6 m apart, branches", func(s *Scenario, _ int) {
		s.World.Pipes, s.World.Curves, s.World.Cables = 0, 0, 1
		s.World.Loops, s.World.Pairs, s.World.Forks = 2, 2, 1
		s.World.Onward = 0.9
	}},
	{"rtk-street", "five lines 0.7–1.6 m apart, up to a quarter of the signal on each flows back on the others", street},
	{"rtk-street-nulls", "the same, peak and null both taken", func(s *Scenario, n int) {
		street(s, n)
		s.Log.NullOffsets = true
	}},
	{"several-passes-days-apart", "walked on three days, either way", func(s *Scenario, _ int) { walking(s, DaysApart) }},
	{"walk-no-evidence", "walked once without a halt: the clock cannot be known", func(s *Scenario, _ int) {
		walking(s, NoReturn)
		s.Work.Lead, s.Work.Tail = 900, 900
	}},
	{"hour-zone", "stop-and-go, the clock set to a wrong zone besides", func(s *Scenario, n int) {
		s.Clock.Offset += hourMistakes[n%len(hourMistakes)]
		s.Log.Local = true
	}},
	{"sync-marks", "walked once, two notes of UTC", func(s *Scenario, _ int) {
		walking(s, NoReturn)
		s.Work.Marks = 2
	}},
	{"sbas-smooth", "SBAS, stop-and-go, errors that hardly change within a minute", func(s *Scenario, _ int) {
		s.GNSS.Profile, s.GNSS.Slow, s.GNSS.Quick = SBAS, Smooth, 0.003
	}},
	{"autonomous-smooth", "no corrections, walked both ways at once, the same", func(s *Scenario, _ int) {
		s.GNSS.Profile, s.GNSS.Slow, s.GNSS.Quick = Autonomous, Smooth, 0.001
		walking(s, AtOnce)
	}},
	{"sbas-restless", "SBAS, stop-and-go, HDOP and GST go up and down within seconds, the error does not", func(s *Scenario, _ int) {
		s.GNSS.Profile, s.GNSS.Restless = SBAS, 0.25
	}},
	{"rtk-restless", "RTK, walked both ways, the same without GST", func(s *Scenario, _ int) {
		s.GNSS.Restless, s.GNSS.GST = 0.25, false
		walking(s, SomeOfBoth)
	}},
	{"phone-positions", "walked once, readings with a phone's positions", func(s *Scenario, _ int) {
		walking(s, NoReturn)
		s.Log.Own = OwnPhone
	}},
	{"rtk-deep", "lines 2 to 5 m deep", func(s *Scenario, _ int) { s.World.Depth = Range{2, 5} }},
	{"rtk-deep-return", "lines 2 to 5 m deep, walked both ways, a reading every 1 to 1.8 m", func(s *Scenario, _ int) {
		walking(s, SomeOfBoth)
		s.World.Depth, s.Work.Spacing = Range{2, 5}, Range{1, 1.8}
	}},
	{"rtk-good-hand", "pin-pointing twice as good as usual", func(s *Scenario, _ int) { s.Locate.point(0.5) }},
	{"rtk-poor-hand", "pin-pointing half as good as usual", func(s *Scenario, _ int) { s.Locate.point(2) }},
	{"rtk-dense-walk", "walked once, a reading every 0.5 to 1 m, depth errors all new", func(s *Scenario, _ int) {
		walking(s, NoReturn)
		s.Work.Spacing, s.Locate.DepthWhite, s.Locate.DepthCalibration = Range{0.5, 1}, 1, 0
	}},
	{"rtk-walk-clock-right", "walked once, the locator on UTC", func(s *Scenario, _ int) {
		walking(s, NoReturn)
		s.Clock.Offset, s.Clock.Drift = 0, 0
	}},
	{"two-locators", "stop-and-go, two locators in one log, their clocks 3 to 60 s apart", func(s *Scenario, n int) {
		second := s.Clock
		second.Offset += 3 + 57*float64(n%1000)/1000
		s.Second = &second
	}},
	{"two-locators-return", "walked both ways, two locators in one log, their clocks 3 to 60 s apart", func(s *Scenario, n int) {
		walking(s, SomeOfBoth)
		second := s.Clock
		second.Offset -= 3 + 57*float64(n%1000)/1000
		s.Second = &second
	}},
}

// point makes the technician's pin-pointing so many times as large.
func (l *Locate) point(factor float64) {
	l.PointFloor, l.PointShare = factor*l.PointFloor, factor*l.PointShare
}

// CrewDay is a full day of a crew, made for its size: 2,500 readings, and
// 1.9 million sentences (140 MB) of a receiver that logs everything it can at
// 10 Hz for ten and a half hours.
func CrewDay(seed uint64) Scenario {
	s := New("crew-day", seed)
	s.World.Pipes, s.World.Curves, s.World.Cables, s.World.Forks = 50, 20, 20, 5
	s.World.Length = Range{90, 190}
	s.Work.Readings, s.Work.Duration, s.Work.Pause = 2500, 38200, 0.015
	s.Work.Speed, s.Work.Stop = Range{0.9, 1.3}, Range{1, 3.5}
	s.GNSS.Rate, s.GNSS.Satellites, s.GNSS.ZDA = 10, true, true
	s.GNSS.Outages, s.GNSS.Jumps = Spells{5, Range{20, 200}}, Spells{8, Range{2, 8}}
	s.GNSS.Floats = Spells{10, Range{30, 300}}
	s.Dirt = Dirty(0.0001)
	return s
}
