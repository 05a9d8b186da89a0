package survey

import (
	"bytes"
	"slices"
	"time"
)

// daysOf gives the days that the first sentences of a receiver's log name (RMC), as
// far as they are of this century's tracked years: what a readings log leaves open
// about its own dates is settled by them.
func daysOf(head []byte) []time.Time {
	var out []time.Time
	for line := range bytes.Lines(head) {
		at := bytes.Index(line, []byte("RMC,"))
		if at < 0 {
			continue
		}
		f := bytes.Split(line[at:], []byte(","))
		if len(f) < 10 || len(f[2]) != 1 || f[2][0] != 'A' {
			continue
		}
		day, err := time.Parse("020106", string(f[9]))
		if err == nil && !slices.Contains(out, day) && len(out) < 4 {
			out = append(out, day)
		}
	}
	return out
}

// receiverDays are the days of all receiver's logs.
func (in *Inputs) receiverDays() []time.Time {
	var out []time.Time
	for _, i := range in.receiver() {
		for _, d := range i.days {
			if !slices.Contains(out, d) {
				out = append(out, d)
			}
		}
	}
	return out
}
