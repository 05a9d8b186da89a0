// Package remarks holds the one table of remarks that tracemap attaches to
// readings, vertices and line parts. A remark never changes a value; it says what
// a person should know before relying on it. Names are part of the files'
// contract: add rows, never rename one.
package remarks

import (
	"math/bits"
	"strings"
)

// Set is a set of remarks; its zero value is empty.
type Set uint64

// The remarks, in the order in which they are written.
const (
	NoFix              Set = 1 << iota // receiver had no usable position at that time
	OutsideLog                         // time lies outside the receiver's log
	InOutage                           // time lies inside a gap of the receiver's log
	FloatFix                           // RTK float
	CodeFix                            // differential or SBAS
	AutonomousFix                      // no corrections
	EstimatedFix                       // dead reckoning or extrapolation
	GNSSJump                           // position stepped faster than a person moves
	BadRow                             // row of the readings log could not be read
	TimeMissing                        // no usable time in the row
	FrequencyOdd                       // active frequency outside 98 Hz … 200 kHz
	DepthMissing                       // no depth read
	DepthImplausible                   // deeper than current and method can give, or not positive
	DepthPassive                       // depth claimed on a passive signal
	DepthWeak                          // null or single-coil response, or deep
	CurrentImplausible                 // current negative or beyond what transmitters give
	CoilsDisagree                      // logged depth or current against the two-coil values
	PeakNullApart                      // peak and null do not coincide: distorted field
	NeighbourLock                      // position, depth and current of another conductor
	Outlier                            // set aside by its position alone
	Distorted                          // stretch whose readings scatter more than their σ
	CurrentStep                        // current steps: branch, bond or change of line
	CurrentRises                       // current grows along the line beyond its error
	SinglePoint                        // part with one reading
	TwoPoints                          // part with two readings: a straight by assumption
	Gap                                // readings further apart than allowed
	CornerInferred                     // corner rebuilt between two readings
	ClockUncertain                     // clock offset not determined
	AntennaAssumed                     // antenna height not given
	FrameAssumed                       // reference frame not given although fixes are RTK
	PotholeUsed                        // depth corrected by a pothole nearby
	GroupedByPlace                     // no line name: grouped by attributes and place
	SetAsideByHand                     // set aside by a person
	NearEnd                            // within three depths of an end or a bend: depth reads shallow
	SpacingWide                        // readings sparse against the depth and the bends
	DateAssumed                        // receiver gave no date
	BadCell                            // a cell of the row could not be read
	OwnPositionFar                     // the reading's own position is far from the receiver's track
	PotholeContradicts                 // a pothole shows the line elsewhere than the map
	NotComputed                        // a defect kept its part from being computed
	LineBeside                         // a line within three depths widens it
)

// A Row is what the table holds about a remark.
type Row struct {
	Flag    Set
	Name    string // as written to files
	Meaning string // one sentence, for people
	Revisit string // what to do about it while the crew is near; "" when nothing
}

// Table lists every remark once, in the order of its bits.
var Table = []Row{
	{NoFix, "no_fix", "The GNSS receiver had no usable position at that time.", "Take the reading again where the sky is open, or wait for a fix."},
	{OutsideLog, "outside_log", "The time lies outside the GNSS receiver's log.", "Check that the GNSS receiver was logging, and the locator's clock."},
	{InOutage, "in_outage", "The time lies in a gap of the GNSS receiver's log.", "Take the reading again with the GNSS receiver connected."},
	{FloatFix, "float_fix", "Position from RTK float: decimetres, not centimetres.", "Wait for a fixed solution and take the reading again."},
	{CodeFix, "code_fix", "Position from differential or SBAS corrections only.", "Take it again with RTK corrections."},
	{AutonomousFix, "autonomous_fix", "Position without corrections: metres.", "Take it again with corrections."},
	{EstimatedFix, "estimated_fix", "Position from dead reckoning or extrapolation.", "Take it again with a real fix."},
	{GNSSJump, "gnss_jump", "The GNSS position jumped faster than a person can move.", "Take it again after the GNSS receiver has initialised anew."},
	{BadRow, "bad_row", "The row could not be read.", "Correct the row in the log and convert again."},
	{TimeMissing, "time_missing", "The row has no usable time.", "Correct the row in the log and convert again."},
	{FrequencyOdd, "frequency_odd", "Frequency outside 98 Hz to 200 kHz for an active signal.", ""},
	{DepthMissing, "depth_missing", "No depth was read.", "Read the depth."},
	{DepthImplausible, "depth_implausible", "The depth is not positive, or deeper than the current and method can give.", "Read the depth again; check it by raising the locator by a known height."},
	{DepthPassive, "depth_passive", "A depth was logged on a passive signal, where none can be relied on.", "Read the depth again with an active signal."},
	{DepthWeak, "depth_weak", "The depth was taken in a response or at a depth where it is weak.", ""},
	{CurrentImplausible, "current_implausible", "The current is negative or beyond what a transmitter can give.", ""},
	{CoilsDisagree, "coils_disagree", "The logged depth or current disagrees with the two coils.", "Read again; run the locator's self-test."},
	{PeakNullApart, "peak_null_apart", "Peak and null do not coincide: the field is distorted.", "Locate again with another frequency or connection, or expose."},
	{NeighbourLock, "neighbour_lock", "Position, depth and current fit another conductor: set aside.", "Locate again from a direct connection."},
	{Outlier, "outlier", "Position does not fit the line: set aside.", "Locate again."},
	{Distorted, "distorted", "Readings here scatter more than they should: width enlarged.", "Locate again with another frequency or connection, or expose."},
	{CurrentStep, "current_step", "The current steps here: a branch, a bond or a change of line.", "Search for a branch to either side."},
	{CurrentRises, "current_rises", "The current grows along the line beyond its error.", "Check that it is still the same line."},
	{SinglePoint, "single_point", "One reading only: a point, not a line.", "Take readings to either side."},
	{TwoPoints, "two_points", "Two readings only: a straight by assumption.", "Take readings between and beyond."},
	{Gap, "gap", "Readings are too far apart to be joined: the line ends here.", "Take readings in the gap."},
	{CornerInferred, "corner_inferred", "The corner lies between two readings and was rebuilt from both straights.", ""},
	{ClockUncertain, "clock_uncertain", "The locator's clock could not be tied to UTC; the width includes that.", "If you know the offset, or one moment by both clocks, give it; next time, note the locator's clock against UTC."},
	{AntennaAssumed, "antenna_assumed", "The antenna height was assumed.", ""},
	{FrameAssumed, "frame_assumed", "The reference frame of the corrections was assumed.", ""},
	{PotholeUsed, "pothole_used", "The depth was corrected by a pothole nearby.", ""},
	{GroupedByPlace, "grouped_by_place", "No line name: grouped by utility, method, frequency and place.", ""},
	{SetAsideByHand, "set_aside_by_hand", "Set aside by a person.", ""},
	{NearEnd, "near_end", "Within three depths of an end or a bend, where depths read shallow.", ""},
	{SpacingWide, "spacing_wide", "Readings are sparse here.", "Take readings between."},
	{DateAssumed, "date_assumed", "The GNSS receiver's log has no date: it was taken from the readings log.", ""},
	{BadCell, "bad_cell", "A cell of the row could not be read; its text is in the note.", ""},
	{OwnPositionFar, "own_position_far", "The reading's own position disagrees with the GNSS receiver's track: not used.", ""},
	{PotholeContradicts, "pothole_contradicts", "A test hole shows the line elsewhere than the map, beyond the width: width enlarged.", "Find out which line the test hole shows, and locate again beside it."},
	{NotComputed, "not_computed", "A defect of the program kept this part of the line from being computed: it is missing from the map.", ""},
	{LineBeside, "line_beside", "A neighbouring line within three depths may carry part of the signal back: width enlarged.", "Compare with another frequency or connection, or expose."},
}

// Has reports whether s holds every remark of f.
func (s Set) Has(f Set) bool { return s&f == f }

// Any reports whether s holds at least one remark of f.
func (s Set) Any(f Set) bool { return s&f != 0 }

// Names lists the names of the remarks in s, in the table's order.
func (s Set) Names() []string {
	if s == 0 {
		return nil
	}
	out := make([]string, 0, bits.OnesCount64(uint64(s)))
	for _, r := range Table {
		if s&r.Flag != 0 {
			out = append(out, r.Name)
		}
	}
	return out
}

// String joins the names with semicolons, as files write them; empty for none.
func (s Set) String() string { return strings.Join(s.Names(), ";") }
