package readings

import (
	"fmt"
	"strings"
	"time"
)

// A clock of twelve hours that writes neither am nor pm shows 1 after 12: in a log that
// else runs forward the times go back by this much at the least, and by less than half
// a day. The crew then paused for three hours at the most (a choice); a clock that goes
// back further, or less, has been set.
const leastHalfDay = 9 * time.Hour

// halfDays adds half a day to the afternoon's readings of each file whose clock counts
// twelve hours, and returns a remark about each such file. The hours of such a log are
// 1 to 12 only, in the zone of its times.
func halfDays(rs []Reading, zone *time.Location) []string {
	var out []string
	var files []string
	index := map[string][]int{}
	for i := range rs {
		if rs[i].Time.IsZero() {
			continue
		}
		key := rs[i].File + "\x00" + strings.ToLower(rs[i].Instrument)
		if index[key] == nil {
			files = append(files, key)
		}
		index[key] = append(index[key], i)
	}
	for _, key := range files {
		if text := halfDay(rs, index[key], zone); text != "" {
			out = append(out, text)
		}
	}
	return out
}

// halfDay does so for the readings, by index, of one clock.
func halfDay(rs []Reading, index []int, zone *time.Location) string {
	var back []int // into index: the first reading of each afternoon
	for k, i := range index {
		if h := rs[i].Time.In(zone).Hour(); h < 1 || h > 12 {
			return ""
		}
		if k == 0 {
			continue
		}
		switch step := rs[i].Time.Sub(rs[index[k-1]].Time); {
		case step >= 0:
		case step <= -leastHalfDay && step > -12*time.Hour && rs[i].Time.In(zone).YearDay() == rs[index[k-1]].Time.In(zone).YearDay():
			back = append(back, k)
		default:
			return "" // a log that is sorted otherwise
		}
	}
	if len(back) == 0 {
		return ""
	}
	first, before := rs[index[back[0]]], rs[index[back[0]-1]]
	moved := 0
	for n, k := range back {
		end := len(index)
		if n+1 < len(back) {
			end = back[n+1]
		}
		day := rs[index[k]].Time.In(zone).YearDay()
		for _, i := range index[k:end] {
			if rs[i].Time.In(zone).YearDay() != day {
				break // the next morning
			}
			rs[i].Time = rs[i].Time.Add(12 * time.Hour)
			moved++
		}
	}
	const layout = "15:04:05"
	return fmt.Sprintf("%s line %d: the clock goes from %s to %s, as a 12-hour clock does at noon: 12 hours were added to the times of %d readings. If that is wrong, write the times with am and pm or on 24 hours",
		first.File, first.Row, before.Time.In(zone).Format(layout), rs[index[back[0]]].Time.Add(-12*time.Hour).In(zone).Format(layout), moved)
}
