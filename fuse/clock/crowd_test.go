package clock_test

import (
	"math"
	"testing"

	"tracemap/fuse/clock"
)

// A row that is written a hundred times tells the offset no better than three: the
// same offset, and the same σ to the last digit.
func TestCopiesHaveNoMoreSay(t *testing.T) {
	w := workedDay(t, "rtk-stopgo", 8_100_000)
	times := func(n int) *clock.Result {
		many := w
		many.rs = nil
		for _, r := range w.rs {
			for range n {
				many.rs = append(many.rs, r)
			}
		}
		return many.align(t, clock.Options{})
	}
	one, three, hundred := times(1), times(3), times(100)
	if hundred.Offset != three.Offset || hundred.Sigma != three.Sigma || hundred.Determined != three.Determined {
		t.Errorf("a hundred copies: %v ± %v, three: %v ± %v", hundred.Offset, hundred.Sigma, three.Offset, three.Sigma)
	}
	if math.Abs(hundred.Offset-one.Offset) > 2*one.Sigma {
		t.Errorf("a hundred copies: %v, one: %v ± %v", hundred.Offset, one.Offset, one.Sigma)
	}
}
