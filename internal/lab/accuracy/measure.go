package main

import (
	"context"
	"fmt"
	"hash/fnv"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"
)

// measure judges all days, as many at a time as there are processors, and gives
// them in order: preset by preset, seed by seed.
func measure(ctx context.Context, o *order, spent *stopwatch) ([]*day, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	out := make([]*day, len(o.presets)*o.seeds)
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				p := o.presets[i/o.seeds]
				d, err := judge(ctx, p, base(p.name)+o.first+uint64(i%o.seeds), o.knownClock, spent)
				if err != nil {
					cancel(err)
				}
				out[i] = d
			}
		})
	}
	for i := range out {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	wait.Wait()
	return out, context.Cause(ctx)
}

// base keeps the seeds of presets apart: with the same seed, presets share their
// ground and their errors, and a hundred days would be worth twenty. It hangs on
// the name alone, so that a new preset changes no other's days.
func base(preset string) uint64 {
	h := fnv.New32a()
	h.Write([]byte(preset))
	const room = 1000 // seeds
	return uint64(h.Sum32()%10000) * room
}

// A stopwatch adds up what the stages of all days took. It is for the people
// who wait; no figure of the table comes from it.
type stopwatch struct {
	mu     sync.Mutex
	stages []string // in the order of their first coming
	sum    map[string]time.Duration
}

// start begins a day's first stage. What it returns ends the stage and begins
// the next one; "" ends the day. The same stage again goes on.
func (w *stopwatch) start(stage string) func(next string) {
	began := time.Now()
	return func(next string) {
		w.mu.Lock()
		defer w.mu.Unlock()
		if next == stage || stage == "" {
			return
		}
		if w.sum == nil {
			w.sum = map[string]time.Duration{}
		}
		if !slices.Contains(w.stages, stage) {
			w.stages = append(w.stages, stage)
		}
		now := time.Now()
		w.sum[stage] += now.Sub(began)
		stage, began = next, now
	}
}

// String tells the sums over all days, seconds of one processor.
func (w *stopwatch) String() string {
	var all time.Duration
	for _, d := range w.sum {
		all += d
	}
	var b strings.Builder
	for _, s := range w.stages {
		fmt.Fprintf(&b, "%8.1f s  %4.1f %%  %s\n", w.sum[s].Seconds(), 100*w.sum[s].Seconds()/all.Seconds(), s)
	}
	return b.String()
}
