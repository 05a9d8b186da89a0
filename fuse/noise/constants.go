// Package noise is the one table of the estimators' constants: how large each
// error is before any data speak, how much of it is shared between readings,
// and over what time or distance. Every constant carries its unit, its meaning
// and its source. Estimators adapt the scales to the day (see fuse); these are
// the priors they start from.
package noise

import "tracemap/nmea"

// Confidence factors. The only other place that may know them is the border of
// the program, where files name a figure "95".
const (
	// K95 turns one σ of one coordinate into its 95 % half-width (normal law: 1.95996),
	// rounded as it is told.
	K95 = 1.96
)

// A Fix is what a fix quality is worth with HDOP 1 and no word from the receiver.
type Fix struct {
	Sigma    float64 // m, one horizontal axis, total error
	Floor    float64 // m, below this no receiver's own σ is believed
	Quick    float64 // share of the variance that is independent from second to second
	Tau      float64 // s, correlation time of the rest (first-order Gauss–Markov)
	Vertical float64 // vertical σ as a multiple of the horizontal
	Usable   bool    // may be placed at all
}

// Fixes by quality.
//
// Sigma: common practice, no source, for open sky; bounded by the EU open SBAS
// service limit (95 % lateral 3 m: Implementing Decision (EU) 2015/1183) and by
// the SPS standard. Tau: RTK and float – 115 s on baselines to 10 km (Miller,
// O'Keefe, Gao, J. Surv. Eng. 138(1), 2012), 13–17 min in network RTK
// (Odolinski, GPS Solutions 16, 2012): 300 s lies between and errs to the wide
// side of the shorter; code – minutes (common practice); autonomous – a knee
// near 1 min and a tail over tens of minutes (D. L. Wilson's published
// autocorrelations). Quick: measured on real logs (docs/gnss-noise.md: 0.085 RTK
// parked, 0.001 … 0.010 differential, 0.04 autonomous); each day measures its own
// (track).
var Fixes = map[nmea.Quality]Fix{
	nmea.QualityAutonomous: {Sigma: 1.8, Floor: 0.5, Quick: 0.02, Tau: 300, Vertical: 1.8, Usable: true},
	nmea.QualityDGPS:       {Sigma: 0.6, Floor: 0.2, Quick: 0.02, Tau: 240, Vertical: 1.7, Usable: true},
	nmea.QualityPPS:        {Sigma: 1.0, Floor: 0.3, Quick: 0.10, Tau: 300, Vertical: 1.8, Usable: true},
	nmea.QualityRTKFixed:   {Sigma: 0.015, Floor: 0.010, Quick: 0.10, Tau: 300, Vertical: 1.7, Usable: true},
	nmea.QualityRTKFloat:   {Sigma: 0.30, Floor: 0.05, Quick: 0.05, Tau: 300, Vertical: 1.8, Usable: true},
	nmea.QualityEstimated:  {Sigma: 5.0, Floor: 5.0, Quick: 0.05, Tau: 300, Vertical: 2, Usable: true},
	nmea.QualityUnknown:    {Sigma: 3.0, Floor: 1.0, Quick: 0.05, Tau: 300, Vertical: 2, Usable: true},
}

// Walking.
const (
	// TiltSigma is how far, in radians, a carried antenna leans, one axis. Common
	// practice, no source: about 1.5° for a pole on the shoulder or the locator.
	TiltSigma = 0.025
	// MaxBridge is the longest silence of the receiver, s, over which a position
	// is interpolated; beyond it readings count as unplaced.
	MaxBridge = 3.0
	// HandAccel, m/s², and HandSpeed, m/s, are the most that an arm does to an antenna
	// on a pole: a swing at 2 m/s that stops within 0.1 s, with some room, and twice
	// that pace. From memory; half or twice as much moves the least step that is told
	// at 5 Hz without the receiver's velocity, 0.3 m, likewise.
	HandAccel = 30.0
	HandSpeed = 4.0
)

// Steps of the position.
const (
	// LeastStep, m, is the least step that is looked for: wrong integers move a position
	// by a wavelength (0.19 m) or so. What is less than 3 σ of a fix is its error.
	LeastStep = 0.2
	// StepRate is how many steps of each size a receiver makes before any data speak, an
	// hour and a metre of size. Common practice, no source; only its logarithm counts.
	StepRate = 1.0
)

// Pin-pointing: how far the operator stands from the line, across it.
const (
	// PinBase and PinDepth make σ = √(PinBase² + (PinDepth·depth)²), m, in a clean
	// field with a peak response. Common practice, no source.
	PinBase  = 0.02
	PinDepth = 0.05
	// PinShared is the share of that variance which neighbouring readings have in
	// common, and PinLength, m, how far along the line they have it (distortion by
	// neighbours, bends, tees reaches a few depths: computed from Biot–Savart).
	PinShared = 0.4
	PinLength = 12.0
	// NullShare is one σ of the peak's error as a share of the distance to the null:
	// between a sixth (differential coils) and all of it (a single coil), by
	// Biot–Savart with a second conductor about a depth away.
	NullShare = 0.3
	// SharedKept is the share of the shared part's variance that goes into the
	// width again, whole, beside what the fit makes of it: how far it reaches is
	// not known, and a fit that bends with it cannot see it. With errors exactly as in
	// this table nothing of it is needed (straights are 1.4 times as wide as they need be
	// for it, and 1.07 times without); where the errors are other ones it is: see
	// docs/estimate.md for what 0.25 and 0 come to.
	SharedKept = 0.5
	// Wander, m, is how far a laid pipe or cable leaves the straights and curves
	// that it is drawn with. From memory of as-built tolerances.
	Wander = 0.015
	// BendRadius, m, is one σ of the radius that a bend drawn as a corner may
	// have: fittings to 1.5 diameters, cables to some 15. From memory.
	BendRadius = 0.25
	// ChamferShare of the way between two readings is one σ of where a line goes
	// that turns twice between them.
	ChamferShare = 0.15
)

// Depth of one reading by a locator: σ = √(DepthBase² + (DepthRel·d)²), m; to
// which comes DepthCommon·d for the whole line (calibration, soil). Common
// practice, no source; growth with depth from the two-coil formula.
const (
	DepthBase   = 0.03
	DepthRel    = 0.05
	DepthShared = 0.4
	DepthCommon = 0.025
	DepthLength = 12.0
	// DepthKept is the share of the shared part's variance that goes into a depth's σ
	// again, as SharedKept does for the place. Chosen so that errors drawn with the
	// table's own lengths and shares, the scales measured, lie within their 95 %.
	DepthKept = 0.2
	// DepthSure and DepthDeep, m: σ doubles steadily from the one to the other.
	// Common practice has 5 % down to about 3 m and no law beyond; by the two-coil
	// formula the share doubles from 1 to 2.4 m and again to 5.2 m.
	DepthSure = 2.5
	DepthDeep = 3.5
	// DepthApart is one σ of a depth, as a share of it, where peak and null lie
	// apart: −14 % beside a quarter of the current flowing back a depth away
	// (Biot–Savart).
	DepthApart = 0.15
	// BendKept is the share of a bend's effect on the depth that stays in the
	// width: all readings beside a bend are off to one side, so none corrects another.
	BendKept = 0.5
	// BendCurrent is by how much a bend lowers ln(current), as a multiple of the
	// share by which it makes the depth shallow: half of the field is missing right at
	// it, a seventh one depth away. Biot–Savart.
	BendCurrent = 2.2
)

// The share of a line's current that flows back in the located lines within three depths
// of it, all together: its mean, and one σ about that. Common practice, no source: up to a
// quarter flows back on bonded neighbours, so that a quarter is 2 σ; some flows along with
// the signal. See docs/estimate.md for what half and twice as much comes to.
const (
	BackMean  = 0.06
	BackShare = 0.1
)

// CurrentRel is one σ of a logged current as a share of it. Common practice, no source.
const CurrentRel = 0.08
