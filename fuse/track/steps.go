package track

import (
	"math"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
)

// judgeSteps decides what a step of the position means for the readings on
// either side: one side is wrong, by as much as the step. The worse fix pays, and
// between equals the shorter stretch – a displaced spell lies between two steps
// and is short against what is around it. Its error is enlarged by the step;
// nothing is moved, for a displaced fix is no evidence of where it should be.
func (tr *Track) judgeSteps() {
	known := map[float64]Step{}
	for _, s := range tr.Steps {
		known[s.T] = s
	}
	for i := 1; i < len(tr.chains); i++ {
		a, b := &tr.chains[i-1], &tr.chains[i]
		x, y := &tr.nodes[a.last], &tr.nodes[b.first]
		dt := y.t - x.t
		step, seen := known[y.t]
		if !seen {
			if dt > 10 {
				continue // an outage: the walker may be anywhere
			}
			before, after := tr.velocities(i)
			d := y.at.Sub(x.at.Add(before.Mul(dt / 2)).Add(after.Mul(dt / 2)))
			// What both errors and a person allow.
			errors := x.slow.Mean() + y.slow.Mean() + x.quick + y.quick
			if d.Len() < math.Sqrt(gate*errors)+bodily(dt) {
				continue
			}
			step = Step{By: d, Odds: 1}
		}
		pays := a
		switch sa, sb := x.slow.Mean(), y.slow.Mean(); {
		case sb > 2*sa:
			pays = b
		case sa > 2*sb:
		case tr.duration(b) < tr.duration(a):
			pays = b
		}
		pays.extra = math.Max(pays.extra, step.Odds*step.By.Dot(step.By))
		pays.suspect = true
	}
}

// velocities are those before and after the border between chains i−1 and i, m/s. A
// chain of one fix says nothing of its own: the next one beyond it that does within
// noise.MaxBridge answers for it, or else the other side; 0 where none does.
func (tr *Track) velocities(i int) (before, after plane.Pt) {
	before, knownBefore := tr.velocityOf(i-1, -1, tr.nodes[tr.chains[i].first].t)
	after, knownAfter := tr.velocityOf(i, 1, tr.nodes[tr.chains[i-1].last].t)
	switch {
	case !knownBefore:
		before = after
	case !knownAfter:
		after = before
	}
	return before, after
}

// velocityOf is the velocity at the near end of the first chain of two and more fixes
// from chain k on, onwards (step 1) or back (−1), seen from time t.
func (tr *Track) velocityOf(k, step int, t float64) (v plane.Pt, known bool) {
	for ; k >= 0 && k < len(tr.chains); k += step {
		c := &tr.chains[k]
		near := &tr.nodes[c.first]
		if step < 0 {
			near = &tr.nodes[c.last]
		}
		if math.Abs(near.t-t) > noise.MaxBridge {
			break
		}
		if c.last > c.first {
			return near.vel, true
		}
	}
	return plane.Pt{}, false
}

func (tr *Track) duration(c *chain) float64 { return tr.nodes[c.last].t - tr.nodes[c.first].t }
