package readings

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// Times of a clock that counts twelve hours are put right where the log shows it, and no
// other log's are touched.
func TestHalfDays(t *testing.T) {
	oslo := time.FixedZone("", 2*3600)
	for _, c := range []struct {
		name, times, want string
		zone              *time.Location
	}{
		{"an afternoon", "9:05 11:50 12:20 1:10 2:30", "9:05 11:50 12:20 13:10 14:30", oslo},
		{"a lunch at noon", "7:30 11:40 1:15 4:59", "7:30 11:40 13:15 16:59", time.UTC},
		{"two days", "9:00 12:30 1:00 +1 8:00 12:10 1:05", "9:00 12:30 13:00 +1 8:00 12:10 13:05", oslo},
		{"two days, one afternoon", "9:00 12:30 1:00 +1 8:00 12:10", "9:00 12:30 13:00 +1 8:00 12:10", oslo},
		{"24 hours", "9:05 11:50 13:10 2:30", "", oslo},
		{"a night's work on 24 hours", "1:05 11:50 0:10 2:30", "", oslo},
		{"sorted by line", "9:05 9:30 11:50 9:07 9:41 11:53 3:00", "", oslo},
		{"the newest first", "11:50 9:05 3:00", "", oslo},
		{"a morning", "9:05 9:30 11:50", "", oslo},
		{"a clock that was set", "9:05 11:50 4:20 5:10", "", oslo},
		{"too short to tell", "5:50 1:10", "", oslo},
	} {
		var rs []Reading
		parse := func(text string) []time.Time {
			var out []time.Time
			day := 0
			for _, f := range strings.Fields(text) {
				if f == "+1" {
					day++
					continue
				}
				at, err := time.ParseInLocation("15:04", f, c.zone)
				if err != nil {
					t.Fatal(err)
				}
				out = append(out, at.AddDate(2031, 4, 5+day).UTC())
			}
			return out
		}
		for k, at := range parse(c.times) {
			rs = append(rs, Reading{File: "day.csv", Row: k + 2, Time: at})
		}
		said := halfDays(rs, c.zone)
		want := parse(c.want)
		if c.want == "" {
			want = parse(c.times)
		}
		var got []time.Time
		for _, r := range rs {
			got = append(got, r.Time)
		}
		if !slices.Equal(got, want) || (len(said) > 0) != (c.want != "") {
			t.Errorf("%s: %v %q, want %v", c.name, got, said, want)
		}
	}
}
