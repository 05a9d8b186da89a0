package result

import (
	"encoding/json"
	"fmt"

	"tracemap/fuse/clock"
	"tracemap/present"
)

// OwnClock is one of the clocks of a day that has several: an instrument's, or the same
// instrument's from where its date and time were lost.
type OwnClock struct {
	Name     string  `json:"name"` // of the instrument, or of the file
	From     string  `json:"from"` // RFC 3339, on this clock
	To       string  `json:"to"`
	Readings int     `json:"readings"`
	Offset   float64 `json:"offset_s"` // null where nothing ties it to UTC
	Sigma    float64 `json:"sigma_s"`
	Drift    float64 `json:"drift_ppm"`
	Method   string  `json:"method"`
	State    string  `json:"state"`
}

// MarshalJSON writes what is not known as null.
func (c OwnClock) MarshalJSON() ([]byte, error) {
	type plain OwnClock
	return json.Marshal(struct {
		plain
		Offset *float64 `json:"offset_s"`
		Sigma  *float64 `json:"sigma_s"`
		Drift  *float64 `json:"drift_ppm"`
	}{plain(c), orNull(c.Offset, 4), orNull(c.Sigma, 4), orNull(c.Drift, 3)})
}

// ClockList says of each clock of a day that has several whose it is, how far it is from
// UTC, and from where on a clock has lost its date.
func ClockList(r *clock.Result) []string {
	if r == nil {
		return nil
	}
	var out []string
	for _, own := range r.Several {
		text := fmt.Sprintf("%s, %s", own.Name, present.Count(own.Readings, "reading", "readings"))
		if !own.After.IsZero() {
			text += fmt.Sprintf(" from %s on, where the clock fell back from %s", own.From.UTC().Format("2006-01-02 15:04:05"), own.After.UTC().Format("2006-01-02 15:04:05"))
		}
		switch {
		case own.Result == nil:
			text += ": could not be tied to UTC, and these readings have no place"
		case own.State == clock.Unknown:
			text += ": not known"
		default:
			text += fmt.Sprintf(": %+.1f s against UTC, ±%.1f s (95 %%)", own.Offset, present.HalfWidth(own.Sigma))
		}
		out = append(out, text)
	}
	return out
}
