// Package parallel does work side by side and keeps a fault where it happens: a
// defect that panics becomes an error that names what was being worked on.
//
// A panic cannot be recovered from outside its goroutine. So a Group takes it along
// and raises it again where it is waited for, and Recover, deferred by whoever does a
// nameable piece of work, turns it into an error there.
package parallel

import (
	"fmt"
	"runtime/debug"
	"strings"
	"sync"
	"sync/atomic"
)

// A Fault is a panic as an error: a defect of the program, not of its input.
type Fault struct {
	Part  string // what was being worked on, the innermost name last
	Value any    // what was panicked with
	Stack string // of the goroutine that panicked
}

// Error returns one line.
func (f *Fault) Error() string {
	return fmt.Sprintf("%s failed by a defect of tracemap: %s", f.Part, strings.Join(strings.Fields(fmt.Sprint(f.Value)), " "))
}

// Report returns all that is known, for whoever mends it.
func (f *Fault) Report() string {
	return fmt.Sprintf("%v\n\n%s", f, f.Stack)
}

// caught makes a fault of a recovered panic. One that was caught before keeps its stack.
func caught(part string, p any) *Fault {
	if f, ok := p.(*Fault); ok {
		return &Fault{join(part, f.Part), f.Value, f.Stack}
	}
	return &Fault{part, p, string(debug.Stack())}
}

// join names a part within another.
func join(outer, inner string) string {
	if inner == "" || outer == inner {
		return outer
	}
	return outer + ": " + inner
}

// Recover, deferred, turns a panic of the function into its error, a *Fault that
// names part.
func Recover(part string, err *error) {
	if p := recover(); p != nil {
		*err = caught(part, p)
	}
}

// Catch runs f and returns its error, or a *Fault that names part if it panics.
func Catch(part string, f func() error) (err error) {
	defer Recover(part, &err)
	Trip(part)
	return f()
}

// A Group runs functions side by side. Its zero value is ready.
type Group struct {
	Part  string // what they work on
	wait  sync.WaitGroup
	mu    sync.Mutex
	fault *Fault
}

// Go runs f in a goroutine of its own.
func (g *Group) Go(f func()) {
	g.wait.Go(func() {
		err := g.run(f)
		if err == nil {
			return
		}
		g.mu.Lock()
		defer g.mu.Unlock()
		if g.fault == nil {
			g.fault = err.(*Fault)
		}
	})
}

func (g *Group) run(f func()) (err error) {
	defer Recover(g.Part, &err)
	f()
	Trip(g.Part) // behind f, which may owe others a word
	return nil
}

// Wait waits until all functions have returned. If one has panicked, Wait panics with
// its *Fault.
func (g *Group) Wait() {
	g.wait.Wait()
	if g.fault != nil {
		panic(g.fault)
	}
}

// broken is the part at which a test has the program fail; nil outside tests.
var broken atomic.Pointer[string]

// Trip panics where a test asked for it by Break; else it does nothing.
func Trip(part string) {
	if b := broken.Load(); b != nil && strings.HasPrefix(part, *b) {
		var none []int
		_ = none[len(part)] // as a defect does
	}
}

// Break makes every part whose name begins with the given one panic, until mend is
// called. It is for tests alone.
func Break(part string) (mend func()) {
	broken.Store(&part)
	return func() { broken.Store(nil) }
}
