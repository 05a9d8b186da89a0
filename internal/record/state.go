package record

import "tracemap/nmea"

// State says how well the receiver does; a higher one is better.
type State int

// The states. StateUnknown is before anything could be told.
const (
	StateUnknown      State = iota
	StateSilent             // nothing comes
	StateUnreadable         // bytes come, and no sentence with a right checksum
	StateNoFix              // sentences come, and no position
	StateEstimated          // dead reckoning
	StatePosition           // a position without a word on its quality
	StateAutonomous         // no corrections
	StateDifferential       // corrected code: differential, SBAS, PPS
	StateFloat              // RTK, ambiguities not fixed
	StateFixed              // RTK
)

var stateNames = [...]string{"waiting", "silent", "unreadable", "no fix", "estimated", "position", "autonomous", "differential", "RTK float", "RTK fixed"}

// String is the word for people.
func (s State) String() string { return stateNames[s] }

// stateOf ranks a position's quality.
func stateOf(q nmea.Quality) State {
	switch q {
	case nmea.QualityRTKFixed:
		return StateFixed
	case nmea.QualityRTKFloat:
		return StateFloat
	case nmea.QualityDGPS, nmea.QualityPPS:
		return StateDifferential
	case nmea.QualityAutonomous:
		return StateAutonomous
	case nmea.QualityEstimated:
		return StateEstimated
	}
	return StatePosition
}
