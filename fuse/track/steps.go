package track

import "math"

// judgeSteps decides what a step of the position means for the readings on
// either side. A step out and, within ten minutes, a step back say that the
// stretch between was displaced: its error is enlarged by the step. A single
// step, or a change of the fix that moves the position by more than both fixes'
// errors allow, says that one side is wrong but not which: the shorter side pays.
// Nothing is moved: a displaced fix is not evidence of where it should have been.
func (tr *Track) judgeSteps() {
	for i := 1; i < len(tr.chains); i++ {
		a, b := &tr.chains[i-1], &tr.chains[i]
		x, y := &tr.nodes[a.last], &tr.nodes[b.first]
		dt := y.t - x.t
		if dt > 10 {
			continue // an outage: the walker may be anywhere
		}
		d := y.at.Sub(x.at.Add(x.vel.Mul(dt / 2)).Add(y.vel.Mul(dt / 2)))
		// What both errors and a walker's acceleration allow.
		allowed := x.slow.Mean() + y.slow.Mean() + x.quick + y.quick + tr.Accel*dt*dt*dt/3
		if d.Dot(d) < gate*allowed {
			continue
		}
		short := a
		if tr.duration(b) < tr.duration(a) {
			short = b
		}
		if tr.nodes[short.first].quality != tr.nodes[a.first].quality || tr.nodes[short.first].quality != tr.nodes[b.first].quality {
			// Between unlike fixes the worse one is wrong.
			short = a
			if tr.nodes[b.first].slow.Mean() > tr.nodes[a.first].slow.Mean() {
				short = b
			}
		}
		short.extra = math.Max(short.extra, d.Dot(d))
		short.suspect = true
	}
}

func (tr *Track) duration(c *chain) float64 { return tr.nodes[c.last].t - tr.nodes[c.first].t }
