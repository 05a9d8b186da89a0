package readings

import (
	"slices"
	"time"
)

// Of a log whose times were cut, so many readings are needed to say so, and so
// large a share of them lies on the step: a reading or two may have been added by
// hand. Ten readings at full seconds all lie on multiples of 5 s once in ten
// million logs.
const (
	fewestCut = 10
	shareCut  = 0.98
	sharePace = 0.9 // of the ways from one time to the next that are alike: a timer's
)

// TimeStep returns the step to which the times of a log were cut, as a spreadsheet
// that shows minutes does: a minute, 30, 10 or 5 s; 0 where they were not. Times
// that come at one pace are not taken for cut: a timer took those
// readings.
func TimeStep(rs []Reading) time.Duration {
	var at []time.Time
	for i := range rs {
		if !rs[i].Time.IsZero() {
			at = append(at, rs[i].Time)
		}
	}
	if len(at) < fewestCut {
		return 0
	}
	slices.SortFunc(at, time.Time.Compare)
	for _, step := range []time.Duration{time.Minute, 30 * time.Second, 10 * time.Second, 5 * time.Second} {
		on := 0
		for _, t := range at {
			if t.Equal(t.Truncate(step)) { // of the day: each step divides one
				on++
			}
		}
		if float64(on) >= shareCut*float64(len(at)) && !paced(at) {
			return step
		}
	}
	return 0
}

// paced reports whether nearly all ways from one time to the next are alike.
func paced(at []time.Time) bool {
	count := map[time.Duration]int{}
	most := 0
	for i := 1; i < len(at); i++ {
		if d := at[i].Sub(at[i-1]); d > 0 {
			count[d]++
			most = max(most, count[d])
		}
	}
	return float64(most) >= sharePace*float64(len(at)-1)
}
