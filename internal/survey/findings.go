package survey

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tracemap/nmea"
	"tracemap/present"
	"tracemap/remarks"
)

// A Finding is one thing that the logs do well, or that the crew can do better. It
// takes no part in the verdict, which is about the map.
type Finding struct {
	Weak bool // something to better, today or next time
	Text string
}

// Limits between what is normal and what is worth a word. Common practice, no source.
const (
	fixedGood   = 0.95 // share of fixed positions
	damagedGood = 0.01 // share of sentences with a wrong checksum
	stepGood    = 1.5  // s between positions
	gstGood     = 0.9  // share of positions with the receiver's own σ
	depthGood   = 0.9  // share of readings with a depth
)

// Findings returns what was found in the logs, in the order of the stages.
func (d *Day) Findings() []Finding {
	var f []Finding
	add := func(weak bool, format string, args ...any) {
		f = append(f, Finding{weak, fmt.Sprintf(format, args...)})
	}
	if d.NMEA != nil && d.NMEA.Stats.Epochs > 0 {
		d.judgeFixes(add)
		d.judgeLog(add)
	}
	if d.Readings != nil && len(d.Readings.Readings) > 0 {
		d.judgeReadings(add)
	}
	if d.Located != nil && d.placed() > 0 {
		d.judgeTogether(add)
	}
	return f
}

type adder func(weak bool, format string, args ...any)

func (d *Day) judgeFixes(add adder) {
	fix := d.NMEA.Stats.Fix
	all := 0
	for _, n := range fix {
		all += n
	}
	rate := func(q nmea.Quality) float64 { return float64(fix[q.String()]) / float64(max(all, 1)) }
	fixed, float := rate(nmea.QualityRTKFixed), rate(nmea.QualityRTKFloat)
	switch {
	case fixed >= fixedGood:
		add(false, "RTK fixed for %s of the positions", percent(fixed))
	case fixed+float > 0:
		add(true, "RTK fixed for %s of the positions only, float for %s: wait for a fixed solution before reading", percent(fixed), percent(float))
	default:
		add(true, "no RTK: positions are good to metres, and so are the widths; use corrections")
	}
	withGST := 0
	for i := range d.NMEA.Epochs {
		if d.NMEA.Epochs[i].HasGST() {
			withGST++
		}
	}
	switch share := float64(withGST) / float64(len(d.NMEA.Epochs)); {
	case d.onTracks():
		add(true, "positions come from a track, which tells its own σ for %s of them: log NMEA with GGA and GST in the GNSS receiver", percent(share))
	case share >= gstGood:
		add(false, "the GNSS receiver logs its own uncertainty (GST)")
	default:
		add(true, "GST for %s of the positions: the uncertainty is taken from DOP and the kind of fix; switch GST on in the receiver", percent(share))
	}
}

func (d *Day) judgeLog(add adder) {
	s := &d.NMEA.Stats
	if step := d.Step().Seconds(); step > stepGood {
		add(true, "a position every %.1f s: set the receiver to 1 s or faster", step)
	}
	var lost, longest float64
	for _, g := range d.NMEA.Gaps {
		lost += g.Seconds()
		longest = max(longest, g.Seconds())
	}
	if len(d.NMEA.Gaps) > 0 {
		add(true, "%s in the receiver's log, %.0f s in all, the longest %.0f s: readings in them have no place", present.Count(len(d.NMEA.Gaps), "gap", "gaps"), lost, longest)
	} else {
		add(false, "no gaps in the receiver's log")
	}
	if share := float64(s.BadChecksum) / float64(max(counted(d.NMEA), 1)); share > damagedGood {
		add(true, "%s of the sentences are damaged: check the cable or the radio link between receiver and logger", percent(share))
	}
	if d.NMEA.DateUnknown {
		add(true, "the log has no date: switch on RMC or ZDA in the GNSS receiver")
	}
}

// Step is the usual time between positions; zero with fewer than two.
func (d *Day) Step() time.Duration {
	e := d.NMEA.Epochs
	if len(e) < 2 {
		return 0
	}
	steps := make([]int64, 0, len(e)-1)
	for i := 1; i < len(e); i++ {
		steps = append(steps, e[i].Nanos-e[i-1].Nanos)
	}
	slices.Sort(steps)
	return time.Duration(steps[len(steps)/2])
}

func (d *Day) judgeReadings(add adder) {
	rs := d.Readings.Readings
	if n := len(d.Readings.Aside); n > 0 {
		add(true, "%s could not be read", present.Count(n, "row", "rows"))
	} else {
		add(false, "every row of the readings log could be read")
	}
	onLine, deep, named, timed := 0, 0, 0, 0
	for i := range rs {
		if !rs[i].Time.IsZero() {
			timed++
		}
		if !rs[i].OnLine() {
			continue
		}
		onLine++
		if !math.IsNaN(rs[i].BestDepth()) {
			deep++
		}
		if rs[i].Line != "" {
			named++
		}
	}
	if timed < len(rs) {
		add(true, "%s without a time: it cannot be placed", present.Count(len(rs)-timed, "reading is", "readings are"))
	}
	if onLine == 0 {
		return
	}
	if share := float64(deep) / float64(onLine); share < depthGood {
		add(true, "a depth for %s of the readings only: read the depth at every reading", percent(share))
	}
	if named < onLine {
		add(true, "no line name for %s: they are grouped by utility, method, frequency and place", present.Count(onLine-named, "reading", "readings"))
	}
}

// judgeTogether adds what the verdict does not say of the two logs together.
func (d *Day) judgeTogether(add adder) {
	if warnings := d.clockWarnings(); len(warnings) > 0 {
		add(true, "%s", warnings[0])
	} else {
		add(false, "the locator's clock adds nothing worth mentioning to the widths")
	}
	locks := 0
	for i := range d.Located.Readings {
		if d.Located.Readings[i].Flags.Has(remarks.NeighbourLock) {
			locks++
		}
	}
	if locks > 0 {
		add(true, "%s to another conductor: locate there again from a direct connection", present.Count(locks, "reading seems to belong", "readings seem to belong"))
	}
}

// percent writes a share so that neither "100 %" nor "0 %" hides an exception.
func percent(share float64) string {
	switch {
	case share > 0 && share < 0.01:
		return "under 1 %"
	case share < 1 && share > 0.99:
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}
