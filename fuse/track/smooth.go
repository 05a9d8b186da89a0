package track

import (
	"math"

	"tracemap/fuse/noise"
	"tracemap/geodesy/plane"
	"tracemap/internal/parallel"
	"tracemap/nmea"
)

// gate is the squared Mahalanobis distance (two axes) beyond which a position is
// not believed: once in ten million under the model.
const gate = 32.0

// maxDoubt is how long, s, and maxDoubted how many fixes are set aside before the
// track follows them.
const (
	maxDoubt   = 3.0
	maxDoubted = 64
)

// lively is the squared Mahalanobis distance (two axes) from where the track is
// expected beyond which a person is taken to have started or stopped in between: one
// fix in seven under the rule alone. With 3 or 6 in its place the error of the
// smoothed place is the same to a tenth of a millimetre at 5 and 10 Hz.
const lively = 4.0

const (
	firstSpeed = 2.0  // m/s, one σ of what nobody has seen yet: a person
	leastQuick = 1e-6 // m², of a fix's quick error
)

// filtered is a fix after the forward pass: position and velocity of three axes
// with one covariance (pp, pv, vv) between position and velocity of an axis.
type filtered struct {
	p, v       [3]float64
	pp, pv, vv float64
	accel      float64 // density of the acceleration since the fix before, m²/s³
}

// smooth runs a Kalman filter forward and the Rauch–Tung–Striebel smoother back
// over each chain: an integrated Wiener process for each axis (position,
// velocity) under white acceleration of density Accel, observed with the quick
// part of the GNSS error. East, north and up share one gain, so one covariance
// serves all three. (Rauch, Tung, Striebel, AIAA J. 3(8), 1965.)
func (tr *Track) smooth(raw []fix) {
	tr.nodes = make([]node, 0, len(raw))
	steps := newStepper(raw, tr.Quick)
	var run []filtered
	var fixes []int32
	behind := parallel.Group{Part: "smoothing"} // smooths the chains that are complete
	type chainRoom struct {
		run   []filtered
		fixes []int32
	}
	rooms := make(chan chainRoom, 1)
	rooms <- chainRoom{}
	finish := func() {
		if len(run) == 0 {
			return
		}
		first := len(tr.nodes)
		tr.nodes = tr.nodes[:first+len(run)]
		index := int32(len(tr.chains))
		tr.chains = append(tr.chains, chain{first: first, last: first + len(run) - 1})
		nodes, done := tr.nodes[first:], chainRoom{run, fixes}
		behind.Go(func() {
			defer func() { rooms <- done }() // whatever happens, the next chain waits for it
			tr.back(raw, done.fixes, done.run, nodes, index)
		})
		room := <-rooms
		run, fixes = room.run[:0], room.fixes[:0]
	}
	until := 0 // the chain goes on until there at most
	begin := func(k int) {
		for until = max(until, k+1); until < len(raw) && raw[until].quality == raw[k].quality && raw[until].t-raw[until-1].t <= noise.MaxBridge; {
			until++
			tr.looks++
		}
		// Growing would leave as much again behind.
		if n := until - k; cap(run) < n {
			run, fixes = make([]filtered, 0, n+n/4), make([]int32, 0, n+n/4)
		}
		run, fixes = append(run, start(&raw[k], tr.quickVar(&raw[k]))), append(fixes, int32(k))
	}
	var doubted []int
	for k := 0; k < len(raw); k++ {
		tr.looks++
		f := &raw[k]
		r := tr.quickVar(f)
		if len(run) == 0 {
			begin(k)
			continue
		}
		last := &raw[fixes[len(fixes)-1]]
		if f.quality != last.quality || f.t-last.t > noise.MaxBridge && len(doubted) == 0 {
			tr.Rejected += len(doubted)
			doubted = doubted[:0]
			finish()
			begin(k)
			continue
		}
		var before, next *fix
		if len(fixes) > 1 {
			before = &raw[fixes[len(fixes)-2]]
		}
		if k+1 < len(raw) {
			next = &raw[k+1]
		}
		_, _, far := steps.between(before, last, f, next)
		if n := len(doubted); n > 0 && !far {
			// Back where the track was expected: by a step back, or by walking there?
			var before *fix
			if n > 1 {
				before = &raw[doubted[n-2]]
			}
			_, _, back := steps.between(before, &raw[doubted[n-1]], f, next)
			far = !back
		}
		if far {
			doubted = append(doubted, k)
			if f.t-raw[doubted[0]].t < maxDoubt && len(doubted) < maxDoubted {
				continue
			}
			// The fixes stay where they are: the position has stepped. Begin anew
			// with the first of them.
			k = doubted[0]
			by, odds, _ := steps.between(before, last, &raw[k], &raw[doubted[min(1, len(doubted)-1)]])
			tr.Steps = append(tr.Steps, Step{T: raw[k].t, By: by, Odds: odds, From: last.quality, To: f.quality})
			doubted = doubted[:0]
			finish()
			begin(k)
			continue
		}
		tr.Rejected += len(doubted)
		doubted = doubted[:0]
		run, fixes = append(run, update(tr.expect(&run[len(run)-1], len(run) == 1, f.t-last.t, f, r), f, r)), append(fixes, int32(k))
	}
	tr.Rejected += len(doubted)
	finish()
	behind.Wait()
}

// expect is where the track is expected at fix f, h seconds after s. People start and
// stop at once: where f lies farther off than the usual acceleration allows, the
// acceleration in between was as much larger as makes f as far off as that. Where s is
// the first fix of its chain nothing was known of the velocity, and its variance grows
// instead: a vehicle that is under way when the fix changes has not just started.
func (tr *Track) expect(s *filtered, first bool, h float64, f *fix, r float64) filtered {
	p := predict(s, h, tr.Accel)
	d := plane.Pt{E: f.at.E - p.p[0], N: f.at.N - p.p[1]}
	more := d.Dot(d)/lively - (p.pp + r)
	if !(more > 0) || h <= 0 {
		return p
	}
	if first {
		s.vv += more / (h * h)
		return predict(s, h, tr.Accel)
	}
	return predict(s, h, tr.Accel+more/(h*h*h/3))
}

// quickVar is the variance of one axis of a fix's quick error, m². It follows
// the epoch's own total error, so that a bad DOP counts less.
func (tr *Track) quickVar(f *fix) float64 {
	q := tr.Quick[f.quality]
	return max(q*q, leastQuick)
}

func start(f *fix, r float64) filtered {
	return filtered{p: [3]float64{f.at.E, f.at.N, f.h}, pp: r, vv: firstSpeed * firstSpeed}
}

func predict(s *filtered, h, q float64) filtered {
	o := *s
	for a := range o.p {
		o.p[a] += h * o.v[a]
	}
	o.pp = s.pp + h*(2*s.pv+h*s.vv) + q*h*h*h/3
	o.pv = s.pv + h*s.vv + q*h*h/2
	o.vv = s.vv + q*h
	o.accel = q
	return o
}

func update(s filtered, f *fix, r float64) filtered {
	kp := s.pp / (s.pp + r)
	kv := s.pv / (s.pp + r)
	z := [3]float64{f.at.E, f.at.N, f.h}
	for a := range z {
		if math.IsNaN(s.p[a]) {
			s.p[a] = z[a] // the first height
		}
		d := z[a] - s.p[a]
		if math.IsNaN(d) {
			continue // no height this time
		}
		s.p[a] += kp * d
		s.v[a] += kv * d
	}
	// Joseph form, which keeps the covariance positive.
	pp, pv, vv := s.pp, s.pv, s.vv
	s.pp = (1-kp)*(1-kp)*pp + kp*kp*r
	s.pv = (1-kp)*(pv-kv*pp) + kp*kv*r
	s.vv = vv - 2*kv*pv + kv*kv*(pp+r)
	return s
}

// back smooths one chain into its nodes.
func (tr *Track) back(raw []fix, fixes []int32, run []filtered, nodes []node, index int32) {
	noHeight := true
	for _, k := range fixes {
		if !math.IsNaN(raw[k].h) {
			noHeight = false
			break
		}
	}
	s := run[len(run)-1]
	for k := len(run) - 1; k >= 0; k-- {
		if k < len(run)-1 {
			s = rts(&run[k], &s, raw[fixes[k+1]].t-raw[fixes[k]].t, run[k+1].accel)
		}
		f := &raw[fixes[k]]
		n := &nodes[k]
		*n = node{
			t: f.t, at: plane.Pt{E: s.p[0], N: s.p[1]}, vel: plane.Pt{E: s.v[0], N: s.v[1]},
			h: s.p[2], quick: s.pp, accel: float32(run[k].accel), chain: index, quality: f.quality,
		}
		n.slow = tr.slowPart(f)
		n.sigmaH = float32(math.Sqrt(max(float64(f.vertical)*float64(f.vertical), s.pp)))
		if noHeight {
			n.h = math.NaN()
		}
	}
}

// rts combines the filtered state a with the smoothed state b that follows it
// after h seconds.
func rts(a, b *filtered, h, q float64) filtered {
	p := predict(a, h, q)
	// G = P_f Fᵀ P_p⁻¹, two by two.
	c00, c01 := a.pp+h*a.pv, a.pv
	c10, c11 := a.pv+h*a.vv, a.vv
	det := p.pp*p.vv - p.pv*p.pv
	i00, i01, i11 := p.vv/det, -p.pv/det, p.pp/det
	g00, g01 := c00*i00+c01*i01, c00*i01+c01*i11
	g10, g11 := c10*i00+c11*i01, c10*i01+c11*i11
	s := *a
	for x := range s.p {
		dp, dv := b.p[x]-p.p[x], b.v[x]-p.v[x]
		s.p[x] += g00*dp + g01*dv
		s.v[x] += g10*dp + g11*dv
	}
	d00, d01, d11 := b.pp-p.pp, b.pv-p.pv, b.vv-p.vv
	t00, t01 := g00*d00+g01*d01, g00*d01+g01*d11
	t10, t11 := g10*d00+g11*d01, g10*d01+g11*d11
	s.pp = a.pp + t00*g00 + t01*g01
	s.pv = a.pv + t00*g10 + t01*g11
	s.vv = a.vv + t10*g10 + t11*g11
	return s
}

// slowPart is what is left of the total once the measured quick part is taken
// off; never less than the share that the table calls slow at the least.
func (tr *Track) slowPart(f *fix) noise.Horizontal {
	total := f.total.Mean()
	q := tr.Quick[f.quality]
	least := 1 - noise.Fixes[f.quality].Quick - 0.3
	share := max(1-q*q/total, least)
	return noise.Horizontal{EE: f.total.EE * share, NN: f.total.NN * share, EN: f.total.EN * share}
}

// qualitiesOf lists the fix qualities in raw in ascending order.
func qualitiesOf(raw []fix) []nmea.Quality {
	var seen [256]bool
	for i := range raw {
		seen[raw[i].quality] = true
	}
	var out []nmea.Quality
	for q := range seen {
		if seen[q] {
			out = append(out, nmea.Quality(q))
		}
	}
	return out
}
