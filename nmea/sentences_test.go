package nmea_test

import (
	"fmt"
	"slices"
	"testing"

	"tracemap/nmea"
)

// A line's sentences are framed wherever they stand in it; the one that lost its end
// has no checksum.
func TestSentences(t *testing.T) {
	for _, c := range []struct {
		line string
		want []string
	}{
		{"no sentence\r\n", nil},
		{"10:15 > $GPZDA,1,2*00\r\n", []string{"GPZDA 1,2 wrong"}},
		{"$GNGGA,0815$GPTXT,01,01,02,ok*0A\r\n", []string{"GNGGA 0815 none", "GPTXT 01,01,02,ok wrong"}},
		{"$GPTXT,a*02$GPTXT,b*01", []string{"GPTXT a right", "GPTXT b right"}},
		{"$*00\n", nil},
	} {
		var got []string
		for s := range nmea.Sentences([]byte(c.line)) {
			got = append(got, fmt.Sprintf("%s %s %s", s.Address, s.Fields, [...]string{"none", "right", "wrong"}[s.Checksum]))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%q: %q, want %q", c.line, got, c.want)
		}
	}
}
