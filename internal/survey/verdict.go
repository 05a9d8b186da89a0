package survey

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"tracemap/nmea"
	"tracemap/present"
	"tracemap/result"
)

// verdict returns the day's one verdict: on the map, or, where there is none, on what
// was read.
func (d *Day) verdict() result.Verdict {
	var v result.Verdict
	switch {
	case d.refusal != nil:
		text := sentence(d.refusal.Error())
		v = result.Verdict{Level: result.NotUsable, Summary: "These logs cannot give a map.", Reasons: []string{text}}
	case d.Located != nil:
		v = result.Judge(&result.Map{
			Lines: d.Located.Lines, Points: d.Located.Points, Readings: d.Located.Readings, Aside: d.Readings.Aside,
			Clock: d.Clock, Meta: result.Meta{Imperial: d.opt.Imperial},
		})
	default:
		v = d.verdictOnOneLog()
	}
	v.NotTold = d.notTold()
	return v
}

// Fault returns the first defect of the program that kept a part of the map from
// being computed; nil where there is none. The rest of the map stands.
func (d *Day) Fault() error {
	if d.Located == nil || len(d.Located.Faults) == 0 {
		return nil
	}
	f := d.Located.Faults[0]
	if more := len(d.Located.Faults) - 1; more > 0 {
		return fmt.Errorf("%w, and %s with it", f, present.Count(more, "other part", "other parts"))
	}
	return f
}

// verdictOnOneLog judges the logs of one kind by the rules for maps that concern them.
func (d *Day) verdictOnOneLog() result.Verdict {
	var v result.Verdict
	care := func(yes bool, text string, args ...any) {
		if yes {
			v.Level = result.WithCare
			v.Reasons = append(v.Reasons, fmt.Sprintf(text, args...))
		}
	}
	if d.Readings != nil {
		rows, unread := len(d.Readings.Readings)+len(d.Readings.Aside), len(d.Readings.Aside)
		v.Summary = fmt.Sprintf("Only the readings log was checked, %s; a map needs the receiver's log of the same day too.", present.Count(rows, "row", "rows"))
		care(float64(unread) > unreadBad*float64(rows), "%d of %d rows of the readings log could not be read.", unread, rows)
		return v
	}
	s := &d.NMEA.Stats
	v.Summary = fmt.Sprintf("Only the receiver's log was checked, %s; a map needs the readings log of the same day too.", present.Count(s.Epochs, "position", "positions"))
	weak, all := 0, 0
	for name, n := range s.Fix {
		all += n
		if name != nmea.QualityRTKFixed.String() && name != nmea.QualityRTKFloat.String() {
			weak += n
		}
	}
	care(float64(weak) > weakFixBad*float64(all), "%s of the positions have a fix weaker than RTK float.", percent(float64(weak)/float64(max(all, 1))))
	return v
}

// The verdict's limits for logs that are alone; export's for a map.
const (
	unreadBad  = 0.05 // of the rows
	weakFixBad = 0.1  // of the positions
)

// notTold lists what the crew did not state and the map had to assume. However good
// the logs are, these can move the map; they say nothing of how good the logs are.
func (d *Day) notTold() []string {
	var out []string
	if d.NMEA == nil || d.NMEA.Stats.Epochs == 0 {
		return out
	}
	if height, assumed := d.opt.Fuse.Antenna(); assumed {
		u := present.Units{Imperial: d.opt.Imperial}
		out = append(out, fmt.Sprintf("Antenna height: %s assumed; heights are off by the difference.", u.Depth(height)))
	}
	if d.opt.Frame == "" && d.hasRTK() {
		out = append(out, "Reference frame of the corrections: WGS 84 assumed; the whole map may be shifted by up to a metre or two.")
	}
	return out
}

// sentence makes an error's text a sentence: a capital first, a full stop at the end.
func sentence(text string) string {
	r, size := utf8.DecodeRuneInString(text)
	return strings.TrimSuffix(string(unicode.ToUpper(r))+text[size:], ".") + "."
}
