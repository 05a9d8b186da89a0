package survey

import "context"

// A Move says how positions were brought from one frame to another.
type Move struct {
	From, To string
	Shift    float64 // how far the ground moved by it, m
}

func (d *Day) move(ctx context.Context) error { d.Moved = Move{From: "WGS84", To: "WGS84"}; return nil }

func (d *Day) frameWarnings() []string { return nil }
