package web

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"
)

// Who sends many pieces of work does not keep others from a first one, and who
// gives up while waiting leaves no place taken.
func TestLaneIsFair(t *testing.T) {
	l := newLane(1, time.Hour)
	_, leave, err := l.enter(t.Context(), "ann")
	if err != nil {
		t.Fatal(err)
	}
	order := make(chan string, 10)
	waiting := 0
	var queued sync.WaitGroup
	queue := func(ctx context.Context, who string) {
		queued.Go(func() {
			_, leave, err := l.enter(ctx, who)
			if err != nil {
				order <- "gave up"
				return
			}
			order <- who
			leave()
		})
		for waiting++; ; time.Sleep(time.Millisecond) {
			l.mu.Lock()
			n := len(l.waiting)
			l.mu.Unlock()
			if n == waiting {
				return
			}
		}
	}
	tired, giveUp := context.WithCancel(t.Context())
	queue(t.Context(), "ann")
	queue(tired, "eve")
	queue(t.Context(), "ann")
	queue(t.Context(), "bob")
	giveUp()
	if got := <-order; got != "gave up" {
		t.Fatalf("first %q", got)
	}
	leave()
	leave() // a second time does nothing
	// ann has no piece under way any more, and has waited longest.
	for _, want := range []string{"ann", "ann", "bob"} {
		if got := <-order; got != want {
			t.Errorf("next is %q, want %q", got, want)
		}
	}
	queued.Wait() // what has come out of the lane has left it, too
	if l.free != 1 || len(l.working) != 0 {
		t.Errorf("%d free, %v working; want 1 and none", l.free, l.working)
	}
	two := newLane(2, time.Hour)
	if _, _, err := two.enter(t.Context(), "ann"); err != nil {
		t.Fatal(err)
	}
	_, second, err := two.enter(t.Context(), "ann") // nobody else waits
	if err != nil {
		t.Fatal(err)
	}
	waiting = 0
	l = two
	queue(t.Context(), "ann")
	queue(t.Context(), "bob")
	second()
	if got := <-order; got != "bob" {
		t.Errorf("next is %q, want bob: ann has one under way", got)
	}
	<-order
	queued.Wait()
}

// Work that takes too long ends, and its error says so.
func TestLaneEndsLongWork(t *testing.T) {
	l := newLane(1, 10*time.Millisecond)
	work, leave, err := l.enter(t.Context(), "ann")
	if err != nil {
		t.Fatal(err)
	}
	defer leave()
	<-work.Done()
	if err := tookTooLong(work, work.Err()); !errors.Is(err, errTooLong) {
		t.Errorf("error %v, want %v", err, errTooLong)
	}
	if err := tookTooLong(t.Context(), errors.New("other")); err == nil || err.Error() != "other" {
		t.Errorf("error %v, want the work's own", err)
	}
}
