package fuse

import (
	"tracemap/geodesy"
)

// Options of Locate. Callers start from DefaultOptions.
type Options struct {
	AntennaHeight  float64 // antenna's phase centre above the ground, m
	HeightAssumed  bool    // nobody measured it
	AntennaForward float64 // antenna ahead of the locator in walking direction, m
	AntennaRight   float64 // antenna right of the locator, m
	MaxGap         float64 // readings further apart are not joined, m
	// Progress, when set, is told lines done of lines in all.
	Progress func(done, all int)
}

// DefaultOptions are what a day without any word on them is computed with.
func DefaultOptions() Options {
	return Options{AntennaHeight: 2.0, HeightAssumed: true, MaxGap: 15}
}

// Result is a day's lines and what became of every reading.
type Result struct {
	Lines    []Line
	Points   []Point
	Readings []Placed // one for each reading, in the log's order
	Plane    *geodesy.Local
	Warnings []string
}
