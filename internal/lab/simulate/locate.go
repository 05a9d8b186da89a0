package simulate

import (
	"math"
	"math/rand/v2"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// A Reading is a row of the locator's log and the truth behind it. What was not
// read is NaN.
type Reading struct {
	Line      *Line  // nil for a note of the time
	Pass      int    // from 0: how often the line had been walked before
	Feature   string // "" for a reading on a line
	Station   float64
	True      plane.Pt // the line at that station
	Depth     float64  // true, m
	Current   float64  // true, mA
	Lock      bool     // on a neighbour
	Distorted bool     // in a distorted stretch
	Shift     float64  // m that the field itself moves the response to the left, noise apart

	Time float64  // UTC, s since the scenario's start
	At   plane.Pt // where the locator was, m

	spot         plane.Pt // where the operator meant to stand
	offset       float64  // of spot, left of the line
	DepthRead    float64
	CurrentRead  float64
	NullOffset   float64 // m, positive to the left of the line's drawn direction
	Measured     float64 // m, depth seen in a pothole
	Compass      float64 // degrees, of the line
	Bottom, Top  float64 // nT, fields at the coils
	Signal, Gain float64 // %, dB, as the display showed them
	Own          geodesy.Geo
	OwnHDOP      float64
	OwnFix, Note string
}

// A finder takes readings.
type finder struct {
	locate      Locate
	log         Log
	rng         *rand.Rand
	calibration float64 // of the day, standard normal
}

func newFinder(s Scenario, lines []*Line) *finder {
	rng := stream(s.Seed, "locator")
	f := &finder{locate: s.Locate, log: s.Log, rng: rng, calibration: rng.NormFloat64()}
	for _, l := range lines {
		length := s.Locate.PointLength.draw(rng)
		l.point = newProfile(l.Path.Length(), length, rng)
		l.depth = newProfile(l.Path.Length(), length, rng)
		if s.Locate.Worse {
			f.worsen(l)
		}
	}
	return f
}

// worsen gives some lines a weaker method or response.
func (f *finder) worsen(l *Line) {
	switch f.rng.IntN(6) {
	case 0:
		l.Method = "induction"
	case 1:
		l.Coil = Vertical
	case 2:
		l.Coil = Single
	case 3:
		l.Method, l.Frequency, l.Coil, l.NoDepths = "passive", 50, Total, true
	}
}

// Common practice, no source: a null is taken twice as badly as a peak, a total
// field or a passive signal three times; induction doubles the depth's error.
func (l *Line) pointFactor() float64 {
	switch {
	case l.Coil == Total || l.Method == "passive":
		return 3
	case l.Coil == Vertical:
		return 2
	}
	return 1
}

func (l *Line) depthFactor() float64 {
	switch {
	case l.Method == "passive":
		return 3
	case l.Method == "induction" || l.Coil == Vertical:
		return 2
	}
	return 1
}

// sweepReach is how far to either side an operator follows a response, m.
const sweepReach = 1.5

// read takes a reading at a station of a line: finds the response, stands on
// it, reads depth and current there.
func (f *finder) read(l *Line, station float64) *Reading {
	r := f.at(l, station)
	if l.Method == "sonde" {
		return f.sonde(r)
	}
	cut := f.section(l, station)
	r.Shift = cut.peak(l.Coil, sweepReach)
	if math.IsNaN(r.Shift) {
		r.Shift = cut.peak(Differential, sweepReach)
	}
	sigma := math.Hypot(f.locate.PointFloor, f.locate.PointShare*r.Depth) * l.pointFactor()
	white := math.Sqrt(f.locate.PointWhite) * studentT(f.rng, f.locate.Tails)
	slow := math.Sqrt(1-f.locate.PointWhite) * l.point.at(station)
	r.offset = r.Shift + sigma*(white+slow)
	depth, current := cut.measure(min(max(r.offset, -0.5*r.Depth), 0.5*r.Depth))
	if f.locate.Plain {
		depth, current = r.Depth, r.Current
	}
	f.note(r, l, depth, current)
	if null := cut.null(sweepReach); f.log.NullOffsets && !math.IsNaN(null) {
		r.NullOffset = null - r.Shift + f.locate.PointFloor*f.rng.NormFloat64()
	}
	r.stand()
	return r
}

// section is the field that the locator is swept through.
func (f *finder) section(l *Line, station float64) section {
	if !f.locate.Plain {
		return l.section(station, f.locate.CoilSpacing)
	}
	foot, along := l.Path.At(station), l.Path.Along(station)
	const far = 1000.0 // m
	a, b := foot.Sub(along.Mul(far)), foot.Add(along.Mul(far))
	up := -l.DepthAt(station)
	left := along.Left()
	return section{
		wires:   []filament{{a: vec{a.E, a.N, up}, b: vec{b.E, b.N, up}, current: l.CurrentAt(station)}},
		foot:    vec{foot.E, foot.N, 0},
		left:    vec{left.E, left.N, 0},
		spacing: f.locate.CoilSpacing,
	}
}

// sonde locates a transmitter pushed along the pipe: a point with a depth and
// no current. Its depth errs twice as much as a line's in common practice.
func (f *finder) sonde(r *Reading) *Reading {
	lc := f.locate
	r.Current = 0
	r.offset = math.Hypot(lc.PointFloor, lc.PointShare*r.Depth) * studentT(f.rng, lc.Tails)
	sigma := 2 * math.Hypot(lc.DepthFloor, lc.DepthShare*r.Depth)
	r.DepthRead = max(0.05, r.Depth+sigma*studentT(f.rng, lc.Tails))
	r.stand()
	return r
}

// at is an empty reading at a station.
func (f *finder) at(l *Line, station float64) *Reading {
	nan := math.NaN()
	return &Reading{
		Line: l, Station: station, True: l.Path.At(station),
		Depth: l.DepthAt(station), Current: l.CurrentAt(station), Distorted: l.distorted(station),
		DepthRead: nan, CurrentRead: nan, NullOffset: nan, Measured: nan, Compass: nan,
		Bottom: nan, Top: nan, Signal: nan, Gain: nan, Own: geodesy.Geo{Lat: nan, Lon: nan, H: nan}, OwnHDOP: nan,
	}
}

func (r *Reading) stand() {
	r.spot = r.True.Add(r.Line.Path.Along(r.Station).Left().Mul(r.offset))
}

// note adds the errors of depth and current to what the field gives, and what
// the display shows beside them. The current is computed with the depth
// (I = d·B/k), so it inherits the depth's relative error.
func (f *finder) note(r *Reading, l *Line, depth, current float64) {
	lc := f.locate
	slow := max(0, 1-lc.DepthWhite-lc.DepthCalibration)
	e := math.Sqrt(lc.DepthWhite)*studentT(f.rng, lc.Tails) +
		math.Sqrt(slow)*l.depth.at(r.Station) + math.Sqrt(lc.DepthCalibration)*f.calibration
	sigma := math.Hypot(lc.DepthFloor, lc.DepthShare*depth) * l.depthFactor()
	read := max(0.05, depth+sigma*e)
	current *= read / depth * (1 + lc.CurrentNoise*f.rng.NormFloat64())
	turned := 8 * math.Pi / 180 * f.rng.NormFloat64() // coil against the line
	current *= math.Abs(math.Cos(turned))
	r.Compass = math.Mod(azimuthOf(l.Path.Along(r.Station))+turned*180/math.Pi+720, 180)
	// The operator sets the gain so that the signal stands near 70 %.
	field := 20 * math.Log10(0.2*current/read)
	r.Gain = math.Round(80 - field + 3*f.rng.NormFloat64())
	r.Signal = min(99, 70*math.Pow(10, (field+r.Gain-80)/20))
	blank := f.rng.Float64() < lc.NoDepth
	if l.NoDepths || blank {
		return
	}
	r.DepthRead, r.CurrentRead = read, current
	if f.log.Coils {
		r.Bottom = 0.2 * current / read
		r.Top = 0.2 * current / (read + lc.CoilSpacing)
	}
}

// A neighbour is what the operator takes for the line for some readings.
type neighbour struct {
	away, depth, share float64 // m left of the line, m, its current ÷ the line's
	readings           int     // still to be taken on it
}

// neighbour draws a conductor that nobody knows of, for a run of readings.
func (f *finder) neighbour(depth float64, readings int) neighbour {
	return neighbour{
		away:     sign(f.rng) * f.locate.LockDistance.draw(f.rng),
		depth:    depth * Range{0.6, 1.5}.draw(f.rng),
		share:    Range{0.15, 0.65}.draw(f.rng),
		readings: readings,
	}
}

// lock takes a reading on a neighbour instead: the line beside it where there
// is one, else the one that nobody knows of.
func (f *finder) lock(l *Line, station float64, n neighbour) *Reading {
	r := f.at(l, station)
	r.Lock = true
	if l.Method == "sonde" {
		return f.read(l, station)
	}
	if len(l.Beside) > 0 && !l.Beside[0].Joined {
		other := l.Beside[0].Line
		there, off := other.Path.Nearest(r.True)
		n.away = -off * math.Copysign(1, other.Path.Along(there).Dot(l.Path.Along(station)))
		n.depth, n.share = other.DepthAt(there), max(0.1, math.Abs(l.Beside[0].Share))
	}
	sigma := math.Hypot(f.locate.PointFloor, f.locate.PointShare*n.depth)
	r.offset = n.away + sigma*f.rng.NormFloat64()
	f.note(r, l, n.depth, n.share*r.Current)
	r.stand()
	return r
}
