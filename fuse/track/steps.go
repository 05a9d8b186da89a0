package track

import "math"

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
			d := y.at.Sub(x.at.Add(x.vel.Mul(dt / 2)).Add(y.vel.Mul(dt / 2)))
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

func (tr *Track) duration(c *chain) float64 { return tr.nodes[c.last].t - tr.nodes[c.first].t }
