package track_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/fuse/track"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// A velocityKind is what a receiver tells of its velocity.
type velocityKind struct {
	name string
	none bool
	lag  float64 // s, time constant of the receiver's first-order filter
	late float64 // s, by which it is told too late besides
}

var velocityKinds = []velocityKind{
	{name: "no velocity", none: true},
	{name: "fresh velocity"},
	{name: "velocity filtered over 0.2 s", lag: 0.2},
	{name: "velocity filtered over 0.5 s", lag: 0.5},
	{name: "velocity filtered over 1 s", lag: 1},
	{name: "velocity 0.6 s late", late: 0.6},
}

// A pole is how an antenna on a pole is carried: planted, swung, swept over the
// ground, with starts and stops that last so many seconds.
type pole struct {
	rng    *rand.Rand
	abrupt bool
	at     plane.Pt
	path   []plane.Pt // every poleStep
}

const poleStep = 0.02 // s

// start is how long the pole takes to reach its pace, or to halt.
func (p *pole) start() float64 {
	if p.abrupt {
		return 0.1 + 0.2*p.rng.Float64()
	}
	return 0.8 + 0.4*p.rng.Float64()
}

func (p *pole) stand(seconds float64) {
	for range int(seconds / poleStep) {
		p.path = append(p.path, p.at)
	}
}

// move goes straight to a place, at rest before and behind.
func (p *pole) move(to plane.Pt, pace float64) {
	way := to.Sub(p.at)
	length := way.Len()
	up, down := p.start(), p.start()
	pace = min(pace, 2*length/(up+down)*0.999)
	even := length/pace - (up+down)/2
	from := p.at
	for t := poleStep; t < up+even+down; t += poleStep {
		var s float64
		switch {
		case t < up:
			s = pace * t * t / (2 * up)
		case t < up+even:
			s = pace * (t - up/2)
		default:
			left := up + even + down - t
			s = length - pace*left*left/(2*down)
		}
		p.path = append(p.path, from.Add(way.Mul(s/length)))
	}
	p.at = to
}

func (p *pole) between(lo, hi float64) float64 { return lo + (hi-lo)*p.rng.Float64() }

// crewWork is an hour or so of stop and go: walk some metres, sweep across the
// line, plant, wait, swing the pole aside to look at the locator, and on.
func crewWork(rng *rand.Rand, abrupt bool, seconds float64) []plane.Pt {
	p := &pole{rng: rng, abrupt: abrupt}
	ahead := 0.0
	for float64(len(p.path))*poleStep < seconds {
		ahead += p.between(-0.4, 0.4)
		sin, cos := math.Sincos(ahead)
		dir := plane.Pt{E: sin, N: cos}
		p.move(p.at.Add(dir.Mul(p.between(1, 6))), p.between(0.9, 1.5))
		line := p.at
		for range 1 + rng.IntN(4) {
			p.move(line.Add(dir.Left().Mul(p.between(-0.6, 0.6))), p.between(0.6, 1.8))
		}
		p.move(line, p.between(0.6, 1.8))
		p.stand(p.between(1, 8))
		if rng.IntN(3) == 0 {
			p.move(p.at.Add(dir.Left().Mul(p.between(-0.9, 0.9))), p.between(1, 2))
			p.stand(p.between(1, 4))
		}
	}
	return p.path
}

// A displaced spell is a time with wrong integers.
type displaced struct {
	from, to float64 // s
	by       plane.Pt
}

// poleDay has an antenna on a pole seen by an RTK receiver: quick noise of a few
// millimetres, a slow part, a velocity of the kind asked for.
func poleDay(seed uint64, abrupt bool, rate, seconds float64, kind velocityKind, gst bool, spells int) ([]nmea.Epoch, []displaced, []plane.Pt) {
	rng := rand.New(rand.NewPCG(seed, 77))
	path := crewWork(rng, abrupt, seconds)
	var wrong []displaced
	for k := range spells {
		from := seconds * (float64(k) + 0.1 + 0.6*rng.Float64()) / float64(spells)
		sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
		size := 0.2 + 0.7*rng.Float64()
		wrong = append(wrong, displaced{from, from + 10 + 50*rng.Float64(), plane.Pt{E: sin, N: cos}.Mul(size)})
	}
	var out []nmea.Epoch
	truth := make([]plane.Pt, len(path)) // with the slow error
	var told, sway, slow plane.Pt
	every := 1 / rate
	normal := func(s float64) plane.Pt { return plane.Pt{E: s * rng.NormFloat64(), N: s * rng.NormFloat64()} }
	late := int(kind.late / poleStep)
	next := 0.0
	for k := 1; k+1 < len(path); k++ {
		j := max(1, k-late)
		v := path[j+1].Sub(path[j-1]).Mul(1 / (2 * poleStep))
		if kind.lag > 0 {
			told = told.Add(v.Sub(told).Mul(1 - math.Exp(-poleStep/kind.lag)))
		} else {
			told = v
		}
		sway = sway.Mul(math.Exp(-poleStep / 1.0)).Add(normal(0.006 * math.Sqrt(2*poleStep)))
		slow = slow.Mul(math.Exp(-poleStep / 150)).Add(normal(0.012 * math.Sqrt(2*poleStep/150)))
		truth[k] = path[k].Add(sway).Add(slow)
		t := float64(k) * poleStep
		if t < next-1e-9 {
			continue
		}
		next += every
		at := truth[k].Add(normal(0.004))
		for _, w := range wrong {
			if t >= w.from && t < w.to {
				at = at.Add(w.by)
			}
		}
		e := epochAt(t, at)
		if !kind.none {
			setVelocity(&e, told.Add(normal(0.03)))
		}
		if gst {
			e.SigmaN, e.SigmaE, e.SigmaU = 0.014, 0.011, 0.02
		}
		out = append(out, e)
	}
	return out, wrong, truth
}

func hours(epochs []nmea.Epoch) float64 {
	return float64(epochs[len(epochs)-1].Nanos-epochs[0].Nanos) / 3600e9
}

// found counts how many ends of the spells have a step within an epoch or so, and
// how many steps have no such end.
func found(tr *track.Track, wrong []displaced, offset, every float64) (ends, extra int) {
	used := map[int]bool{}
	for _, w := range wrong {
		for _, at := range []float64{w.from, w.to} {
			for k, s := range tr.Steps {
				if d := s.T + offset - at; !used[k] && d > -1.5*every && d < 2.5*every {
					used[k], ends = true, ends+1
					break
				}
			}
		}
	}
	return ends, len(tr.Steps) - len(used)
}

// An antenna on a pole that is planted, swung and swept is not a receiver that jumps,
// and what the receiver says of its velocity, however late, does not make it one. The
// spells with wrong integers are found all the same: as many as a rule of 0.2 m, or
// seven times the usual, found in smooth work, and more at 5 and 10 Hz. With an abrupt
// pole and one epoch a second nothing tells a swing of 0.9 m from a step of 0.9 m;
// that rule had found 39 of 48 there among 154 false ones an hour.
func TestAbruptPole(t *testing.T) {
	const seconds, spells = 1800, 8
	type work struct {
		abrupt bool
		rate   float64
	}
	// Least share of the ends of spells that is found.
	least := map[work]float64{{true, 1}: 0, {true, 5}: 0.75, {true, 10}: 0.95, {false, 1}: 0.55, {false, 5}: 0.9, {false, 10}: 0.95}
	for w, least := range least {
		if testing.Short() && w.rate == 10 {
			continue
		}
		var ends, of float64
		for k, kind := range velocityKinds {
			epochs, _, _ := poleDay(uint64(k), w.abrupt, w.rate, seconds, kind, k%2 == 0, 0)
			tr := build(t, epochs)
			if n := len(tr.Steps); n > 0 {
				t.Errorf("%+v, %s: %d false steps in %.1f h", w, kind.name, n, hours(epochs))
			}
			for u := 5.0; u < seconds-5; u += 7.7 {
				if s, ok := tr.At(u); ok && math.Sqrt(s.Slow.Mean()) > 0.02 {
					t.Errorf("%+v, %s, %v s: slow σ %.3f m", w, kind.name, u, math.Sqrt(s.Slow.Mean()))
					break
				}
			}
			if w.rate == 1 && kind.none {
				continue // smooth or not: a step is a walk there
			}
			epochs, wrong, _ := poleDay(uint64(k)+10, w.abrupt, w.rate, seconds, kind, k%2 == 0, spells)
			tr = build(t, epochs)
			found, extra := found(tr, wrong, float64(epochs[0].Nanos-dawn.UnixNano())*1e-9, 1/w.rate)
			ends, of = ends+float64(found), of+2*spells
			if extra > 1 {
				t.Errorf("%+v, %s: %d false steps beside %d true ones", w, kind.name, extra, found)
			}
		}
		t.Logf("%+v: %.0f of %.0f ends found", w, ends, of)
		if ends < least*of {
			t.Errorf("%+v: %.0f of %.0f ends found, want %.0f %%", w, ends, of, 100*least)
		}
	}
}

// How far the smoothed place is off, and how far it is said to be, between epochs too:
// where the pole stands and where it moves. At one epoch a second nobody knows what a
// pole does in between.
func TestPoleIsFollowed(t *testing.T) {
	type tally struct{ n, off, told, ratio float64 }
	for _, c := range []struct {
		abrupt        bool
		rate          float64
		still, moving float64 // m, most that the place is off
		most          float64 // of the mean square of error ÷ σ told
	}{
		{false, 1, 0.010, 0.025, 1.5}, {false, 5, 0.005, 0.006, 1.5}, {false, 10, 0.004, 0.004, 1.5},
		{true, 1, 0.020, 0.090, 5}, {true, 5, 0.005, 0.010, 1.5}, {true, 10, 0.004, 0.006, 1.5},
	} {
		epochs, _, truth := poleDay(3, c.abrupt, c.rate, 1800, velocityKinds[1], false, 0)
		tr := build(t, epochs)
		offset := float64(epochs[0].Nanos-dawn.UnixNano()) * 1e-9
		var still, moving tally
		for k := 500; k < len(truth)-500; k += 7 {
			s, ok := tr.At(float64(k)*poleStep - offset)
			if !ok {
				t.Fatalf("%+v: no place", c)
			}
			e := place(tr, s).Sub(truth[k])
			to := &moving
			if truth[k+40].Dist(truth[k-40]) < 0.03 && truth[k].Dist(truth[k-40]) < 0.02 {
				to = &still
			}
			*to = tally{to.n + 1, to.off + e.Dot(e)/2, to.told + s.QuickVar, to.ratio + e.Dot(e)/2/s.QuickVar}
		}
		for _, x := range []struct {
			what string
			tally
			off float64
		}{{"still", still, c.still}, {"moving", moving, c.moving}} {
			off, told := math.Sqrt(x.tally.off/x.n), math.Sqrt(x.told/x.n)
			t.Logf("%+v, %s: %.4f m off, %.4f m told, square %.2f", c, x.what, off, told, x.ratio/x.n)
			// σ told may be larger than the error: the day's density is one for standing and walking.
			if off > x.off || x.ratio/x.n > c.most || told > 3.5*off {
				t.Errorf("%+v, %s: %.4f m off, %.4f m told, mean square of their ratio %.2f", c, x.what, off, told, x.ratio/x.n)
			}
		}
	}
}
