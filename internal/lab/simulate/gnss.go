package simulate

import (
	"iter"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// A Profile says what corrections the receiver has.
type Profile uint8

// The profiles.
const (
	RTKFixed   Profile = iota // fixed all day
	Mixed                     // fixed and float in turns, now and then differential only
	SBAS                      // differential
	Autonomous                // none
)

// GNSS says how the receiver behaves.
type GNSS struct {
	Profile Profile
	Rate    int       // epochs a second: 1, 5 or 10
	Slow    SlowModel // of the error that smoothing does not help
	Tau     float64   // s, its correlation time; 0 for the usual one of the quality
	Quick   float64   // share of the variance that is new at every epoch; 0 for the usual one of the quality
	Scale   float64   // multiplies every σ; 0 means 1

	GST      bool
	GSTScale float64 // what GST says ÷ the true σ
	Ellipse  bool    // GST's ellipse is filled in
	Restless float64 // how much what HDOP and GST tell goes up and down within seconds, σ of its logarithm
	Decimals int     // of the minutes; 0 means 7 with RTK, 5 without

	Outages    Spells // the log has a gap: the radio link to the logger broke
	NoFix      Spells // sentences without a position
	Jumps      Spells // multipath: the position is metres off for seconds
	FalseFixes Spells // wrong integers: quality 4, and 0.3–1.5 m off
	Floats     Spells // RTK float, whatever the profile

	Satellites bool // GSA and GSV of four systems every second
	VTG, ZDA   bool
}

// Qualities as GGA field 6 tells them.
const (
	qNone, qAutonomous, qDifferential, qFixed, qFloat = 0, 1, 2, 4, 5
)

// A grade is how good positions of one quality are at HDOP 1.
type grade struct {
	sigma float64 // m, one horizontal axis, all parts together
	quick float64 // share of its variance that is new at every epoch
	tau   float64 // s, correlation time of the rest
	mode  byte    // of RMC
	age   float64 // s, typical age of the corrections; 0 without
}

// σ by quality is common practice, without a source. Correlation times: carrier
// phase on baselines to 10 km 115 s on average (Miller, O'Keefe, Gao, J. Surv.
// Eng. 138(1), 2012, abstract); autonomous receivers have a knee near 1 min and
// a tail of tens of minutes (D. L. Wilson's measurements); the others common
// practice.
var grades = map[int]grade{
	qAutonomous:   {1.8, 0.02, 400, 'A', 0},
	qDifferential: {0.6, 0.03, 240, 'D', 4},
	qFixed:        {0.015, 0.25, 115, 'R', 1},
	qFloat:        {0.30, 0.02, 150, 'F', 1.4},
}

var profileQuality = map[Profile]int{RTKFixed: qFixed, Mixed: qFixed, SBAS: qDifferential, Autonomous: qAutonomous}

// upFactor is σ of the height ÷ σ of a horizontal axis: VDOP/HDOP is 1.5–2 in
// common practice.
const upFactor = 1.7

// An Epoch is what the receiver knew at one instant, and how wrong it was.
type Epoch struct {
	Time       float64 // UTC, s since the scenario's start
	UTC        time.Time
	Logged     bool        // false in an outage
	Quality    int         // as GGA field 6 tells it; 0 without a fix
	Antenna    plane.Pt    // truth, m
	Height     float64     // truth, ellipsoidal, m
	Error      vec         // east, north, up, m: what is told minus the truth
	Geo        geodesy.Geo // what is told
	Sigma      vec         // truth: σ of the error's east, north, up at this quality, m
	CovEN      float64     // m², truth
	Major      float64     // σ along the error ellipse's major axis, m, truth
	Minor      float64
	Azimuth    float64  // of the major axis, degrees
	HDOP       float64  //
	Satellites int      // in use
	Velocity   plane.Pt // truth, m/s
	Told       float64  // what HDOP and GST tell ÷ what they should; 1 unless restless
}

// A receiver makes epochs out of the truth.
type receiver struct {
	s       Scenario
	plane   *geodesy.Local
	rng     *rand.Rand
	slow    map[int]*[3]process // by quality: along both axes of the ellipse, and up
	tilt    [2]process          // forward, right
	dop     process
	azimuth float64 // degrees of the ellipse's major axis
	told    process
}

// axisRatio is major ÷ minor axis of the error ellipse: away from the equator
// positions are worse to the north. Common practice, no source.
const axisRatio = 1.25

func newReceiver(s Scenario) *receiver {
	rng := stream(s.Seed, "gnss")
	r := &receiver{s: s, plane: geodesy.NewLocal(s.Origin), rng: rng, slow: map[int]*[3]process{}}
	for _, q := range []int{qAutonomous, qDifferential, qFixed, qFloat} {
		tau := grades[q].tau
		if s.GNSS.Tau > 0 {
			tau = s.GNSS.Tau
		}
		r.slow[q] = &[3]process{}
		for i := range 3 {
			r.slow[q][i] = newProcess(s.GNSS.Slow, tau, rng)
		}
	}
	const tiltTime = 4.0 // s: a person levels the antenna anew
	r.tilt = [2]process{newMarkov(tiltTime, rng), newMarkov(tiltTime, rng)}
	r.dop = newMarkov(600, rng)
	// Satellites at the edge of what is usable come and go within seconds, and DOP
	// and GST with them; the error, filtered by the receiver, does not.
	const restlessTime = 10 // s
	r.told = newMarkov(restlessTime, stream(s.Seed, "told"))
	r.azimuth = 40 * (2*rng.Float64() - 1)
	return r
}

// Epochs gives the receiver's epochs in order of time. Each call gives the same.
func (d *Day) Epochs() iter.Seq[*Epoch] {
	return func(yield func(*Epoch) bool) {
		r := newReceiver(d.Scenario)
		stride := int(math.Round(1 / trackStep / float64(d.Scenario.GNSS.Rate)))
		open := d.Spells
		var active []Spell
		var last float64
		for i := range d.Tracks {
			t := &d.Tracks[i]
			for k := 0; k < len(t.Points); k += stride {
				now := t.Start + float64(k)*trackStep
				for len(open) > 0 && open[0].From <= now {
					active, open = append(active, open[0]), open[1:]
				}
				active = slices.DeleteFunc(active, func(s Spell) bool { return s.To < now })
				e := r.epoch(t, k, now, now-last, active)
				e.UTC = d.utc(now)
				last = now
				if !yield(e) {
					return
				}
			}
		}
	}
}

// ground is the ellipsoidal height of the surface: a gentle fall with waves.
func (s *Scenario) ground(p plane.Pt) float64 {
	return s.Origin.H + 0.012*p.E - 0.007*p.N + 0.25*math.Sin(p.E/37) + 0.2*math.Cos(p.N/29)
}

func (r *receiver) epoch(t *Track, k int, now, dt float64, active []Spell) *Epoch {
	e := &Epoch{Time: now, Logged: true, Quality: profileQuality[r.s.GNSS.Profile]}
	e.HDOP = 0.9 * math.Exp(0.12*r.dop.step(dt))
	e.Told = math.Exp(r.s.GNSS.Restless * r.told.step(dt))
	e.Satellites = min(max(int(math.Round(26/e.HDOP)), 5), 32)
	r.antenna(e, t, k, dt)
	for _, sp := range active {
		switch sp.Fault {
		case Outage:
			e.Logged = false
		case Degraded:
			e.Quality = sp.Quality
		}
	}
	for _, sp := range active {
		switch sp.Fault {
		case FalseFix: // only what calls itself fixed can be fixed wrongly
			e.Quality = qFixed
		case NoFix:
			e.Quality = qNone
		}
	}
	r.fail(e, dt)
	for _, sp := range active {
		if sp.Fault == Jump || sp.Fault == FalseFix {
			for i := range 3 {
				e.Error[i] += sp.Offset[i] + sp.Drift[i]*(now-(sp.From+sp.To)/2)
			}
		}
	}
	told := r.plane.Inverse(e.Antenna.Add(plane.Pt{E: e.Error[0], N: e.Error[1]}))
	told.H = e.Height + e.Error[2]
	e.Geo = told
	return e
}

// antenna places the antenna over the track: lever arm and tilt turn with the
// operator.
func (r *receiver) antenna(e *Epoch, t *Track, k int, dt float64) {
	m := r.s.Mount
	ahead := direction(float64(t.Heading[k]))
	right := ahead.Left().Mul(-1)
	lean := m.Height * m.Tilt * math.Pi / 180
	at := t.Points[k]
	e.Antenna = at.Add(ahead.Mul(m.Forward + lean*r.tilt[0].step(dt))).
		Add(right.Mul(m.Right + lean*r.tilt[1].step(dt)))
	e.Height = r.s.ground(at) + m.Height
	a, b := max(0, k-2), min(len(t.Points)-1, k+2)
	e.Velocity = t.Points[b].Sub(t.Points[a]).Mul(1 / (float64(b-a) * trackStep))
}

// fail adds the errors of the epoch's quality.
func (r *receiver) fail(e *Epoch, dt float64) {
	var slow [3]float64
	for _, q := range []int{qAutonomous, qDifferential, qFixed, qFloat} {
		for i, p := range r.slow[q] {
			if v := p.step(dt); q == e.Quality {
				slow[i] = v
			}
		}
	}
	g, ok := grades[e.Quality]
	if !ok {
		return
	}
	if r.s.GNSS.Quick > 0 {
		g.quick = r.s.GNSS.Quick
	}
	scale := r.s.GNSS.Scale
	if scale == 0 {
		scale = 1
	}
	sigma := g.sigma * e.HDOP * scale
	e.Minor = sigma * math.Sqrt(2/(1+axisRatio*axisRatio))
	e.Major = axisRatio * e.Minor
	e.Azimuth = r.azimuth
	var z [3]float64
	for i := range z {
		z[i] = math.Sqrt(g.quick)*r.rng.NormFloat64() + math.Sqrt(1-g.quick)*slow[i]
	}
	sin, cos := math.Sincos(e.Azimuth * math.Pi / 180)
	major, minor := e.Major*z[0], e.Minor*z[1]
	e.Error = vec{major*sin + minor*cos, major*cos - minor*sin, upFactor * sigma * z[2]}
	a2, b2 := e.Major*e.Major, e.Minor*e.Minor
	e.Sigma = vec{
		math.Sqrt(a2*sin*sin + b2*cos*cos), math.Sqrt(a2*cos*cos + b2*sin*sin), upFactor * sigma,
	}
	e.CovEN = (a2 - b2) * sin * cos
}
