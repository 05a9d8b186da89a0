package nmea

import (
	"slices"
	"time"
)

// Stats counts what a log held. Every sentence is in exactly one of Sentences,
// BadChecksum and NoChecksum.
type Stats struct {
	Bytes     int64
	Lines     int64            // a last line without an end counts
	Sentences map[string]int   // with right checksum, by type without talker
	Other     map[string]Other // those of Sentences from which nothing is taken

	BadChecksum         int
	NoChecksum          int
	UsedWithoutChecksum int // of NoChecksum: they were whole, and nothing spoke against them
	Malformed           int // with right checksum or none, but a field that epochs need cannot be read

	Bare        int   // sentences without their '$', of any checksum
	Signed      int   // sentences with a sign before latitude or longitude
	MidLine     int   // sentences that do not start a line
	Merged      int   // sentences cut off by the start of another
	Overlong    int   // sentences that run on for 1024 bytes and more
	Trailing    int   // sentences with text between checksum and line end
	TextLines   int   // lines that hold something, but no sentence
	BinaryBytes int64 // bytes that no text has

	Epochs   int            // distinct times with a valid position
	From, To time.Time      // first and last of them; zero without any
	Fix      map[string]int // times of day heard by quality, those without a fix as "none"
	Repeated int            // positions for a time that already had one from the same kind of sentence
	Backward int            // epochs that lie before the one heard just before them

	OtherReceiver int // epochs left out because they are of another receiver in the same log
}

// Gap is a stretch without a valid position.
type Gap struct {
	From, To time.Time // the epochs before and after
}

// Seconds is the length of the gap.
func (g Gap) Seconds() float64 { return g.To.Sub(g.From).Seconds() }

// File says what one source held.
type File struct {
	Name      string
	Bytes     int64
	Lines     int64
	Sentences int // with right checksum, wrong one or none
	Epochs    int // that rest on this source

	// Resolution is what the last digit of its positions is worth on the ground, m;
	// 0 where there are none.
	Resolution float64
	Err        error // what ended the reading too early, nil in most cases

	cells  bool  // its fields stand in a table's cells
	digits uint8 // decimals of the minutes in the positions used
}

// SetAside is a sentence that could not be read, or only in part.
type SetAside struct {
	File   string
	Line   int64
	Type   string // without talker
	Field  int    // number of the field, from 1; 0 for the sentence as a whole
	Reason string
}

// Gaps gives the stretches without an epoch that are longer than 3 s and than
// five times the usual step.
func Gaps(epochs []Epoch) []Gap {
	steps := make([]int64, 0, len(epochs))
	for i := 1; i < len(epochs); i++ {
		steps = append(steps, epochs[i].Nanos-epochs[i-1].Nanos)
	}
	if len(steps) == 0 {
		return nil
	}
	slices.Sort(steps)
	limit := max(3*second, 5*steps[len(steps)/2])
	var found []Gap
	for i := 1; i < len(epochs); i++ {
		if epochs[i].Nanos-epochs[i-1].Nanos > limit {
			found = append(found, Gap{epochs[i-1].UTC(), epochs[i].UTC()})
		}
	}
	return found
}
