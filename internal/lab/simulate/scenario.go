package simulate

import (
	"time"

	"tracemap/geodesy"
)

// A Scenario says what a day is like. Start from New, which gives a plain day,
// and change what matters; then everything follows from the Seed.
type Scenario struct {
	Name   string
	Seed   uint64
	Start  time.Time   // UTC of the receiver's first epoch, a whole second
	Origin geodesy.Geo // of the plane; H is the ground's ellipsoidal height there
	World  World
	Work   Work
	GNSS   GNSS
	Mount  Mount
	Locate Locate
	Clock  Clock
	Second *Clock // of a second locator, which takes every other line; nil: there is one locator
	Log    Log
	Dirt   Dirt
	Record Record
}

// A Style is how the operator works.
type Style uint8

const (
	// StopAndGo: sweeps across the line, stands still where it is loudest and
	// takes the reading there.
	StopAndGo Style = iota
	// Walking: follows the line without a halt and takes readings on the fly.
	Walking
)

// Returns says when lines are walked a second time, the other way.
type Returns uint8

// The kinds of second passes.
const (
	NoReturn   Returns = iota
	AtOnce             // back along the same line, minutes apart
	LaterOn            // when all lines are done, hours apart
	SomeOfBoth         // every other line at once, the rest later
	DaysApart          // two more sessions, one and two days later, the first of them the other way
)

// Work says how the operator goes about it.
type Work struct {
	Style    Style
	Returns  Returns
	Speed    Range   // m/s along the line
	Spacing  Range   // m between readings
	Stop     Range   // s that a stop lasts
	Sweep    float64 // m that the locator is swept to either side before a stop; 0 for none
	Corners  float64 // chance that a reading is taken at a fitting's corner
	Pause    float64 // chance after a reading of standing about for 15–90 s without taking one
	Lead     float64 // s of log before the first line is begun
	Tail     float64 // s of log after the last
	Apart    float64 // s between passes, with LaterOn and SomeOfBoth
	Readings int     // stop work after so many; 0 for no limit
	Duration float64 // s that the log goes on at least
	Potholes int     // on lines, with the depth seen
	Marks    int     // notes of UTC against the locator's clock
}

// Mount says how the antenna stands on the locator.
type Mount struct {
	Height         float64 // m of the phase centre above ground
	Forward, Right float64 // m from the locator, as the operator faces
	Tilt           float64 // degrees, σ of each axis, over seconds
}

// Clock says how the locator's clock differs from UTC.
type Clock struct {
	Offset float64 // s, locator − UTC at the start of the day
	Drift  float64 // ppm
	Step   float64 // s, resolution of the stamps
	Cut    bool    // stamps are cut, not rounded, to the resolution
}

// Locate says how well the locator and its operator find a line. The σ of a
// located position in a clean field is √(PointFloor² + (PointShare·depth)²),
// and likewise for the depth; each is made up of a part that is new at every
// reading and of a part that is correlated along the line.
type Locate struct {
	PointFloor, PointShare float64
	PointWhite             float64 // share of the variance that is new at every reading
	PointLength            Range   // m, correlation length of the rest, one a line
	Tails                  int     // degrees of freedom of Student's t for the new part; 0 for normal

	DepthFloor, DepthShare float64
	DepthWhite             float64 // share of the variance that is new at every reading
	DepthCalibration       float64 // share that is one bias the whole day; the rest is correlated along the line

	CurrentNoise float64 // relative, σ, beside what the depth's error does to it
	CoilSpacing  float64 // m
	Locks        float64 // share of the readings locked on a neighbouring line
	LockDistance Range   // m to an invented neighbour
	NoDepth      float64 // share of the readings without a depth
	Worse        bool    // some lines in null, single coil, induction or passive, with their larger errors
	Plain        bool    // the field at every reading is that of one long straight conductor
}

// Own says whether readings carry a position of their own.
type Own uint8

// The kinds of positions in a readings log.
const (
	OwnNone     Own = iota
	OwnReceiver     // of the same receiver, passed on over the air
	OwnPhone        // of a phone: metres off
)

// Log says how the locator writes its log.
type Log struct {
	NoLine      bool // no line names
	Own         Own
	NullOffsets bool // peak and null both taken
	Coils       bool // raw fields of both coils
	Local       bool // local times without an offset from UTC
	Features    bool // tees, bends and ends as points of their own
}

// New gives a plain day: RTK fixed at 1 Hz, stop-and-go, a clock off by some
// seconds.
func New(name string, seed uint64) Scenario {
	return Scenario{
		Name:   name,
		Seed:   seed,
		Start:  time.Date(2026, 5, 12, 6, 30, 0, 0, time.UTC),
		Origin: geodesy.Geo{Lat: 47.5, Lon: -17.75, H: 72}, // open sea
		World: World{
			Pipes: 4, Curves: 1, Cables: 1,
			Length: Range{50, 110}, Straight: Range{8, 30}, Bends: fittings,
			Depth: Range{0.6, 1.8}, Steps: 0.2, Onward: 0.7,
			DistortShare: Range{0.1, 0.4},
		},
		Work: Work{
			Speed: Range{0.8, 1.2}, Spacing: Range{2.5, 5}, Stop: Range{1, 4}, Sweep: 0.6,
			Corners: 0.5, Pause: 0.04, Lead: 90, Tail: 60, Apart: 7200,
		},
		GNSS:  GNSS{Profile: RTKFixed, Rate: 1, GST: true, GSTScale: 1, Ellipse: true},
		Mount: Mount{Height: 2, Tilt: 0.6},
		Locate: Locate{
			PointFloor: 0.02, PointShare: 0.05, PointWhite: 0.6, PointLength: Range{10, 20},
			DepthFloor: 0.03, DepthShare: 0.05, DepthWhite: 0.5, DepthCalibration: 0.15,
			CurrentNoise: 0.04, CoilSpacing: 0.4, Locks: 0.02, LockDistance: Range{0.3, 1.2},
		},
		Clock:  Clock{Offset: 37.4, Drift: 12, Step: 0.01},
		Record: Record{Accuracy: 0.05},
	}
}
