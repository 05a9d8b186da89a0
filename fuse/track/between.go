package track

import "math"

// How well the antenna's place between two epochs is known. The smoothed nodes keep
// only their own position's variance; what is wanted here also needs that of the
// velocities and how both go together. All of these depend on the times alone, and
// a filter forgets what lies a few epochs back, so they are made anew from the
// epochs around.

// remembered is how many epochs on either side are asked: at any rate from 1 to
// 20 Hz what lies beyond changes the variance by less than one in a hundred.
const remembered = 16

// unknownSpeed, m/s: nothing is known of the velocity at the far end.
const unknownSpeed = 30.0

// spread is the covariance of position and velocity of one axis.
type spread struct{ pp, pv, vv float64 }

// after lets h seconds pass under white acceleration of density q.
func (s spread) after(h, q float64) spread {
	return spread{
		pp: s.pp + h*(2*s.pv+h*s.vv) + q*h*h*h/3,
		pv: s.pv + h*s.vv + q*h*h/2,
		vv: s.vv + q*h,
	}
}

// seen takes in a position of variance r.
func (s spread) seen(r float64) spread {
	k := 1 / (s.pp + r)
	return spread{pp: s.pp * r * k, pv: s.pv * r * k, vv: s.vv - s.pv*s.pv*k}
}

// inverse of the two-by-two covariance.
func (s spread) inverse() spread {
	det := s.pp*s.vv - s.pv*s.pv
	return spread{pp: s.vv / det, pv: -s.pv / det, vv: s.pp / det}
}

// quickBetween is the variance, m², of one axis of the smoothed place at time t
// between nodes k−1 and k of one chain: what the epochs before say of it and what
// those after say, put together (two-filter smoother: Fraser, Potter, IEEE Trans.
// Automat. Contr. 14(4), 1969).
func (tr *Track) quickBetween(k int, t float64) float64 {
	accel := float64(tr.nodes[k].accel)
	before, after := tr.saidBefore(k-1, t, accel), tr.saidAfter(k, t, accel)
	after.pv = -after.pv // seen from t, time ran backwards
	a, b := before.inverse(), after.inverse()
	return spread{pp: a.pp + b.pp, pv: a.pv + b.pv, vv: a.vv + b.vv}.inverse().pp
}

// quickBeside is the variance, m², of one axis of the place at time t to which node k,
// the first or the last of its chain, is carried: what its own chain says of it.
func (tr *Track) quickBeside(k int, t float64) float64 {
	accel := max(tr.Accel, usualAccel)
	said := tr.saidBefore(k, t, accel)
	if t < tr.nodes[k].t {
		said = tr.saidAfter(k, t, accel)
	}
	return max(tr.nodes[k].quick, said.pp)
}

// saidBefore is what node k and those before it in its chain say of time t.
func (tr *Track) saidBefore(k int, t, accel float64) spread {
	return tr.said(k, max(tr.chains[tr.nodes[k].chain].first, k-remembered+1), t, accel)
}

// saidAfter is what node k and those after it in its chain say of time t.
func (tr *Track) saidAfter(k int, t, accel float64) spread {
	return tr.said(k, min(tr.chains[tr.nodes[k].chain].last, k+remembered-1), t, accel)
}

// said is what the nodes from far to near, which lie on one side of t, say of the
// place and velocity at t, the latter in the direction away from them. accel is the
// density of the acceleration between the nearest and t.
func (tr *Track) said(near, far int, t, accel float64) spread {
	step := 1
	if far > near {
		step = -1
	}
	r := tr.Quick[tr.nodes[near].quality]
	r = max(r*r, leastQuick)
	s := spread{pp: r, vv: unknownSpeed * unknownSpeed}
	if far == tr.chains[tr.nodes[far].chain].first {
		s.vv = firstSpeed * firstSpeed // what the filter began with
	}
	for m := far; m != near; m += step {
		s = s.after(math.Abs(tr.nodes[m+step].t-tr.nodes[m].t), float64(tr.nodes[max(m, m+step)].accel)).seen(r)
	}
	return s.after(math.Abs(t-tr.nodes[near].t), accel)
}
