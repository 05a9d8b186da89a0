package parallel_test

import (
	"errors"
	"strings"
	"sync/atomic"
	"testing"

	"tracemap/internal/parallel"
)

// A panic in one goroutine is raised where the group is waited for, after the others
// have ended, and becomes an error with the names of both, one line, and the stack of
// the place itself.
func TestGroupTakesPanicsAlong(t *testing.T) {
	var done atomic.Int32
	work := func() (err error) {
		defer parallel.Recover("the clock", &err)
		side := parallel.Group{Part: "fine search"}
		for k := range 8 {
			side.Go(func() {
				if k == 3 {
					var none []int
					none[k] = 1
				}
				done.Add(1)
			})
		}
		side.Wait()
		return nil
	}
	err := work()
	var f *parallel.Fault
	if !errors.As(err, &f) || f.Part != "the clock: fine search" || strings.Contains(err.Error(), "\n") || !strings.Contains(err.Error(), "index out of range") {
		t.Fatalf("error %v", err)
	}
	if !strings.Contains(f.Report(), "parallel_test.go") {
		t.Errorf("the report does not say where: %s", f.Report())
	}
	if done.Load() != 7 {
		t.Errorf("%d of 7 others ended", done.Load())
	}
}

func TestCatchLeavesErrorsAlone(t *testing.T) {
	want := errors.New("as it should be")
	if err := parallel.Catch("x", func() error { return want }); err != want {
		t.Errorf("%v", err)
	}
	if err := parallel.Catch("x", func() error { return nil }); err != nil {
		t.Errorf("%v", err)
	}
}

// Only what a test breaks breaks, and only until it is mended.
func TestBreak(t *testing.T) {
	mend := parallel.Break("line W-1")
	nothing := func() error { return nil }
	if parallel.Catch("line W-1 part 2", nothing) == nil || parallel.Catch("line G-1", nothing) != nil {
		t.Error("the wrong part broke")
	}
	mend()
	if err := parallel.Catch("line W-1 part 2", nothing); err != nil {
		t.Error(err)
	}
}
