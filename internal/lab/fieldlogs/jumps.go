package fieldlogs

import (
	"context"
	"time"

	"tracemap/fuse/track"
	"tracemap/nmea"
	"tracemap/remarks"
)

// Jumps is how often the track takes a log of a walk for one of a receiver that jumps.
// A receiver that is suddenly tens of metres elsewhere has jumped; what a person may
// have done in that second is taken as false, for nobody saw a receiver jump.
type Jumps struct {
	Log         string
	Hours       float64 // with a fix
	Steps       int     // all jumps found
	Walked      int     // of which a person may have walked
	FlaggedPart float64 // share of the epochs that lie in a stretch said to be displaced
}

// FalsePerHour is the jumps an hour that a person may have walked.
func (j Jumps) FalsePerHour() float64 { return float64(j.Walked) / j.Hours }

// personReach is how far a running person comes within a second, m.
const personReach = 5.0

// walks are the logs that were carried by a person.
var walks = []string{walkLog, "handheld-q6-walk.nmea", "walk-rmc-only.log", "phone-logger-prefix-suffix.nmea"}

// WalkedJumps reads the logs of walks in a folder and counts jumps.
func WalkedJumps(ctx context.Context, dir string) ([]Jumps, error) {
	var out []Jumps
	for _, log := range walks {
		es, err := read(ctx, dir, log, time.Time{})
		if err != nil {
			return nil, err
		}
		j, err := jumps(ctx, log, es)
		if err != nil {
			return nil, err
		}
		out = append(out, j)
	}
	return out, nil
}

func jumps(ctx context.Context, log string, es []nmea.Epoch) (Jumps, error) {
	tr, err := track.Build(ctx, es)
	if err != nil {
		return Jumps{}, err
	}
	j := Jumps{Log: log, Steps: len(tr.Steps)}
	for _, s := range tr.Steps {
		if s.By.Len() < personReach {
			j.Walked++
		}
	}
	flagged, n := 0, 0
	for i := range es {
		if s, ok := tr.At(tr.Seconds(es[i].UTC())); ok {
			n++
			if s.Flags.Has(remarks.GNSSJump) {
				flagged++
			}
		}
		// A silence is no walk: more than a minute of it counts as a minute.
		if i > 0 {
			j.Hours += min(float64(es[i].Nanos-es[i-1].Nanos)*1e-9, 60) / 3600
		}
	}
	j.FlaggedPart = float64(flagged) / float64(max(n, 1))
	return j, nil
}
