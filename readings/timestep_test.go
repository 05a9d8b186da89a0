package readings_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"tracemap/readings"
)

func TestTimeStep(t *testing.T) {
	day := time.Date(2026, 5, 12, 8, 0, 0, 0, time.UTC)
	rng := rand.New(rand.NewPCG(1, 2))
	log := func(n int, next func(i int) time.Duration, cut time.Duration) (rs []readings.Reading) {
		at := day
		for i := range n {
			at = at.Add(next(i))
			rs = append(rs, readings.Reading{Time: at.Truncate(cut)})
		}
		return rs
	}
	walked := func(int) time.Duration { return time.Duration(2+rng.IntN(30))*time.Second + 300*time.Millisecond }
	for _, c := range []struct {
		what string
		rs   []readings.Reading
		want time.Duration
	}{
		{"as they were", log(200, walked, time.Millisecond), 0},
		{"whole seconds", log(200, walked, time.Second), 0},
		{"whole minutes", log(200, walked, time.Minute), time.Minute},
		{"half minutes", log(200, walked, 30*time.Second), 30 * time.Second},
		{"10 s", log(200, walked, 10*time.Second), 10 * time.Second},
		{"5 s", log(200, walked, 5*time.Second), 5 * time.Second},
		{"a timer of 10 s", log(200, func(int) time.Duration { return 10 * time.Second }, time.Second), 0},
		{"a timer of 5 s that missed some", log(200, func(i int) time.Duration { return time.Duration(5+5*(i%15/14)) * time.Second }, time.Second), 0},
		{"few readings", log(9, walked, time.Minute), 0},
		{"none", nil, 0},
	} {
		if got := readings.TimeStep(c.rs); got != c.want {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
}
