package clock

import "time"

// Mode says where the offset comes from.
type Mode int

// The modes of Align.
const (
	Auto  Mode = iota // estimate it
	Given             // Options.Offset holds
	Trust             // the locator's clock is UTC
)

// A Mark ties an instant of the locator's clock to UTC.
type Mark struct{ Locator, UTC time.Time }

// Options of Align.
type Options struct {
	Mode   Mode
	Offset time.Duration // locator's clock minus UTC, with Given
	Marks  []Mark        // used before any estimate; two or more give drift
}
