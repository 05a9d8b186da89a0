package readings

import (
	"math"

	"tracemap/remarks"
)

// Bounds of what a reading can be. A reading beyond them keeps its values and
// gets a flag.
const (
	// Active frequencies of transmitters, Hz: common practice, no source.
	lowestActive, highestActive = 98, 200e3

	// Relative error of one coil's field, one standard deviation, and the
	// spacing of the coils where the log does not give it, m: common practice,
	// no source.
	coilError     = 0.01
	commonSpacing = 0.4
	// Field that a receiver still resolves, T: about 5 µA at 1 m, the order that
	// makers state at their best frequency (from memory). B = µ0·I/2πd.
	smallestField = 1e-12

	// Share of the depth, one standard deviation, from which a depth is weak: 12 %
	// is what coilError makes of 3 m, the depth up to which 5 % is customary
	// (common practice); and from which it says nothing: at a quarter, 95 % of
	// chance reaches from half the depth to one and a half.
	weakShare, emptyShare = 0.12, 0.25

	// Largest current of a portable transmitter, mA: √(P/R) for 10 W into a
	// metallic loop of 10 Ω (common practice).
	largestCurrent = 1000

	// What a locator's display rounds away, and the error of its current besides
	// that of its depth (5 % in a clean field: common practice).
	depthRounding      = 0.03 // m
	currentRounding    = 0.1  // mA
	currentCalibration = 0.05

	// Null to peak, as a share of the depth, beyond which the field is distorted.
	// At 1 m depth a parallel conductor 1 m aside with a quarter of the current
	// coming back moves them 0.07 to 0.09 m apart and makes the depth read 14 %
	// shallow (computed from two infinite wires); the bound is a choice.
	nullApart = 0.1
)

// depthShare is the standard deviation of a two-coil depth as a share of it. A
// relative error ε of each coil makes √2·ε·(d + s)/s of a line's depth, and a
// third of it of a sonde's (differentiate LineDepth and SondeDepth). Where the
// current (mA) is known, the smallest field adds to ε. NaN stands for unknown.
func depthShare(depth, spacing, current float64, method Method) float64 {
	if math.IsNaN(spacing) {
		spacing = commonSpacing
	}
	eps := coilError
	if method != Sonde && current > 0 {
		eps = math.Hypot(eps, smallestField*twoPiOverMu0*depth/(current*1e-3))
	}
	share := math.Sqrt2 * eps * (depth + spacing) / spacing
	if method == Sonde {
		share /= 3
	}
	return share
}

// checked are the remarks that check makes.
const checked = remarks.FrequencyOdd | remarks.CurrentImplausible | remarks.DepthMissing | remarks.DepthImplausible | remarks.DepthWeak | remarks.DepthPassive | remarks.PeakNullApart

// check gives the flags that a reading's own values deserve.
func check(r *Reading) remarks.Set {
	s := checkFrequency(r) | checkCurrent(r) | checkDepth(r)
	if offset := math.Abs(r.NullOffset); !math.IsNaN(offset) {
		depth := r.BestDepth()
		if math.IsNaN(depth) {
			depth = 1 // m: an ordinary depth, where none was read
		}
		if offset > nullApart*depth {
			s |= remarks.PeakNullApart
		}
	}
	return s
}

// onMains reports whether the frequency is that of a power grid: nothing but a
// passive signal, whatever the method column says or leaves out.
func onMains(hz float64) bool { return hz == 50 || hz == 60 }

func isPassive(r *Reading) bool {
	return r.Method == Passive || r.Method == "" && onMains(r.Frequency)
}

func checkFrequency(r *Reading) remarks.Set {
	switch f := r.Frequency; {
	case math.IsNaN(f):
		return 0
	case f < 0, !isPassive(r) && (f < lowestActive || f > highestActive):
		return remarks.FrequencyOdd
	}
	return 0
}

func checkCurrent(r *Reading) remarks.Set {
	c := r.Current
	if c < 0 || !isPassive(r) && (c == 0 || c > largestCurrent) {
		return remarks.CurrentImplausible
	}
	return 0
}

func checkDepth(r *Reading) remarks.Set {
	depth := r.BestDepth()
	if math.IsNaN(depth) {
		if r.OnLine() {
			return remarks.DepthMissing
		}
		return 0
	}
	var s remarks.Set
	current := r.Current
	if !math.IsNaN(r.CoilCurrent) {
		current = r.CoilCurrent
	}
	share := depthShare(depth, r.CoilSpacing, current, r.Method)
	if r.Depth <= 0 || depth <= 0 || share > emptyShare {
		s |= remarks.DepthImplausible
	}
	if r.Response == Null || r.Response == Single || share > weakShare {
		s |= remarks.DepthWeak
	}
	if isPassive(r) {
		s |= remarks.DepthPassive
	}
	return s
}
