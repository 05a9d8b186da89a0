package clock_test

import (
	"errors"
	"math"
	"testing"

	"tracemap/fuse/clock"
)

// On walked days, whatever lines there are and whatever names they have, the error stays
// within 3 σ, and none that is called known is off by more than a second; a day on which
// every line was walked once without a halt is never known. The bounds were set beforehand.
func TestWalksKnowNoMoreThanTheySay(t *testing.T) {
	days := 5
	if testing.Short() {
		days = 1 // the race detector needs no numbers
	}
	for n, kind := range walkKinds {
		t.Run(kind.name, func(t *testing.T) {
			t.Parallel()
			narrow := 0
			for seed := range uint64(days) {
				w := inventWalk(t, kind, 1000*uint64(n+1)+seed)
				r, err := clock.Align(t.Context(), w.tr, w.rs, clock.Options{})
				if errors.Is(err, clock.ErrNoOverlap) && kind.zone {
					continue // a day off, and nothing that tells
				}
				if err != nil {
					t.Fatal(err)
				}
				mid := w.rs[len(w.rs)/2].Time
				e := r.OffsetAt(mid) - w.off(mid)
				if math.Abs(e) > 3*r.Sigma {
					t.Errorf("seed %d: %s, off by %.1f s, σ %.2f s, from %s", w.seed, r.State, e, r.Sigma, r.Method)
				}
				if r.State == clock.Known && math.Abs(e) > 1 {
					t.Errorf("seed %d: known, and off by %.1f s, σ %.2f s, from %s", w.seed, e, r.Sigma, r.Method)
				}
				if r.State == clock.Known && kind.returns == 0 && kind.pauses == 0 {
					t.Errorf("seed %d: walked once, and known from %s to ±%.2f s", w.seed, r.Method, r.Sigma)
				}
				if r.State != clock.Unknown {
					narrow++
				}
			}
			// Lines walked both ways tell: unknown is too easy an answer.
			if kind.returns == 1 && narrow < days/2 {
				t.Errorf("not unknown on %d of %d days", narrow, days)
			}
		})
	}
}
