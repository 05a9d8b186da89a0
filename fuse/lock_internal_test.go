package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/geodesy/plane"
)

// worked is a line read every 3 m or so along legs, with the errors of a clean
// field: position 5 cm, depth 5 %, current 5 %.
func worked(rng *rand.Rand, legs ...leg) []Placed {
	pts, _, _ := follow(3, legs...)
	ps := placedAt(shaken(rng, pts, 0.04))
	for k := range ps {
		r := ps[k].Reading
		r.Depth = 1.1 * (1 + 0.05*rng.NormFloat64())
		r.Current = 50 * math.Exp(-0.002*float64(k)+0.05*rng.NormFloat64())
	}
	return ps
}

// aside lists the readings of a shaped part that are not in its fit.
func aside(p *shapedPart) map[int]bool {
	out := map[int]bool{}
	for m := range p.fit.samples {
		if p.fit.samples[m].out {
			out[p.fit.samples[m].i] = true
		}
	}
	return out
}

// lock puts one reading onto a neighbour: off by a vector, its depth and current
// multiplied.
func lock(ps []Placed, k int, off plane.Pt, depth, current float64) {
	ps[k].At = ps[k].At.Add(off)
	ps[k].Reading.Depth *= depth
	ps[k].Reading.Current *= current
}

// A single reading on a neighbour, plainly so in position, depth and current, is
// set aside, and hardly another with it: on 57 of 60 lines, of the others at the
// most one in a hundred. The line then passes where it is.
func TestLockIsSetAside(t *testing.T) {
	sc := unitScales()
	missed, wronged, others := 0, 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 61))
		legs := []leg{{n: 20}}
		if seed%2 == 1 {
			legs = []leg{{n: 12}, {n: 12, turn: 60 * degree}}
		}
		ps := worked(rng, legs...)
		k := 3 + rng.IntN(5)
		truth := ps[k].At
		across := ps[k+1].At.Sub(ps[k-1].At).Unit().Left()
		lock(ps, k, across.Mul(sign(rng.Float64()-0.5)*(0.5+0.6*rng.Float64())), 0.55+0.15*rng.Float64(), 0.25+0.2*rng.Float64())
		p := shape(ps, all(len(ps)), &sc)
		out := aside(p)
		if !out[k] {
			missed++
		}
		for i := range ps {
			if i != k {
				others++
				if out[i] {
					wronged++
				}
			}
		}
		if out[k] {
			if d := strays(located(p.marks()), []plane.Pt{truth}); d > 0.25 {
				t.Errorf("seed %d: the line is %.2f m off beside the lock", seed, d)
			}
		}
	}
	if missed > 3 {
		t.Errorf("%d of 60 locks not set aside", missed)
	}
	if wronged > others/100 {
		t.Errorf("%d of %d good readings set aside with them", wronged, others)
	}
}

// Position alone, or current alone, is no lock: the line may wander, the current
// may be misread. A depth and a current that differ where the position does not
// mean a misread, too, unless they differ plainly.
func TestOneOddValueIsNoLock(t *testing.T) {
	sc := unitScales()
	wrong := 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 62))
		ps := worked(rng, leg{n: 20})
		switch seed % 3 {
		case 0:
			ps[8].Reading.Depth *= 1.15
		case 1:
			ps[8].Reading.Current *= 0.8
		case 2:
			ps[8].At = ps[8].At.Add(plane.Pt{E: -0.6, N: 0.8}.Mul(0.12)) // across the way that follow takes
		}
		if len(aside(shape(ps, all(len(ps)), &sc))) > 0 {
			wrong++
		}
	}
	if wrong > 2 {
		t.Errorf("on %d of 40 lines a reading is set aside for one value", wrong)
	}
}

// A reading at, beside or between true right angles is on its line and stays in
// the fit – though field and depth there read low, as beside every bend.
func TestCornerIsNoLock(t *testing.T) {
	sc := unitScales()
	set, lines := 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 63))
		ps := worked(rng, leg{n: 9}, leg{n: 9, turn: 90 * degree})
		// Biot–Savart: beside the corner the field of both legs is missing in part.
		low := func(k int, share float64) {
			ps[k].Reading.Depth *= 1 - share
			ps[k].Reading.Current *= math.Exp(-2.2 * share)
		}
		low(8, 0.16)
		low(9, 0.16)
		if seed%3 == 1 { // one reading right at the corner
			_, _, corners := follow(3, leg{n: 9}, leg{n: 9, turn: 90 * degree})
			ps[8].At = corners[0]
			low(8, 0.1)
		}
		if seed%3 == 2 { // a short offset: two right angles 3 m apart with a reading in between
			ps = worked(rng, leg{n: 8}, leg{n: 1, turn: 90 * degree}, leg{n: 8, turn: -90 * degree})
		}
		lines++
		out := aside(shape(ps, all(len(ps)), &sc))
		for k := 7; k <= 10; k++ {
			if out[k] {
				set++
				t.Logf("seed %d: reading %d beside a right angle set aside", seed, k)
			}
		}
	}
	if set > 0 {
		t.Errorf("%d readings beside right angles set aside on %d lines", set, lines)
	}
}

// However odd the readings, never more than a fifth of a line is set aside by the
// judging of single readings, and every reading is either in the fit or not.
func TestNotTooManyAside(t *testing.T) {
	sc := unitScales()
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 64))
		ps := worked(rng, leg{n: 25})
		for k := range ps {
			if rng.IntN(2) == 0 {
				lock(ps, k, plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(0.5), 0.4+rng.Float64(), 0.2+rng.Float64())
			}
		}
		p := shape(ps, all(len(ps)), &sc)
		if len(p.fit.own())+len(aside(p)) != len(ps) {
			t.Errorf("seed %d: %d used, %d aside, of %d", seed, len(p.fit.own()), len(aside(p)), len(ps))
		}
		if len(p.fit.own()) < len(ps)/2 {
			t.Errorf("seed %d: only %d of %d readings used", seed, len(p.fit.own()), len(ps))
		}
	}
}

// Four readings in a row on a neighbour just before a right angle, with a quarter of
// the current and four fifths of the depth, are set aside; they still tell roughly
// where the line lies, so that the corner is not rebuilt from a direction 14 m away.
func TestRunOfLocksGuides(t *testing.T) {
	sc := unitScales()
	const days = 20
	caught, far := 0, 0
	for seed := range uint64(days) {
		rng := rand.New(rand.NewPCG(seed, 65))
		legs := []leg{{n: 9}, {n: 5, turn: 12 * degree}, {n: 9, turn: -90 * degree}}
		truth, _, corners := follow(3, legs...)
		ps := worked(rng, legs...)
		for k := 9; k < 13; k++ {
			lock(ps, k, truth[k].Sub(truth[k-1]).Unit().Left().Mul(0.6), 0.8, 0.25)
		}
		p := shape(ps, all(len(ps)), &sc)
		out := aside(p)
		if out[9] && out[10] && out[11] && out[12] {
			caught++
		}
		if strays(located(p.marks()), corners) > 1.2 {
			far++
		}
	}
	t.Logf("%d of %d runs set aside, %d corners off by more than 1.2 m", caught, days, far)
	if caught < days*3/4 || far > days/10 {
		t.Errorf("%d of %d runs set aside, %d corners off by more than 1.2 m", caught, days, far)
	}
}
