package fuse

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
)

// anyChain invents straights and arcs that turn by less than a quarter in all, so
// that no two of its places are near each other.
func anyChain(t *rapid.T) chain {
	a := rapid.Float64Range(0, 2*math.Pi).Draw(t, "heading")
	c := chain{
		start: plane.Pt{E: rapid.Float64Range(-50, 50).Draw(t, "east"), N: rapid.Float64Range(-50, 50).Draw(t, "north")},
		dir:   plane.Pt{E: math.Cos(a), N: math.Sin(a)},
	}
	n := rapid.IntRange(1, 4).Draw(t, "pieces")
	for range n {
		p := piece{length: rapid.Float64Range(1, 15).Draw(t, "length")}
		if rapid.Bool().Draw(t, "arc") {
			turn := rapid.Float64Range(0.02, 1.5/float64(n)).Draw(t, "turn") * rapid.SampledFrom([]float64{-1, 1}).Draw(t, "side")
			p.curvature = turn / p.length
		}
		c.pieces = append(c.pieces, p)
	}
	return c
}

// A place given by station and offset is found again as that, on the chain and on
// its extensions.
func TestChainThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyChain(t)
		// Off the line by less than any radius, or the way back is not one; an arc
		// goes on for less than half a turn from its middle.
		over, room := 3.0, 2.0
		for _, p := range c.pieces {
			if p.curvature != 0 {
				over, room = min(over, 1.5/math.Abs(p.curvature)), min(room, 0.3/math.Abs(p.curvature))
			}
		}
		s := rapid.Float64Range(-over, c.length()+over).Draw(t, "station")
		o := room * rapid.Float64Range(-1, 1).Draw(t, "offset")
		at, dir := c.at(s)
		if math.Abs(dir.Len()-1) > 1e-12 {
			t.Fatalf("direction %v of length %v", dir, dir.Len())
		}
		q := at.Add(dir.Left().Mul(o))
		gotS, gotO := c.project(q)
		if math.Abs(gotS-s) > 1e-7 || math.Abs(gotO-o) > 1e-7 { // m: rounding over 100 m
			t.Fatalf("station %v offset %v comes back as %v and %v", s, o, gotS, gotO)
		}
	})
}

// The chain is one smooth curve run through at unit speed.
func TestChainIsSmooth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyChain(t)
		s := rapid.Float64Range(-5, c.length()+5).Draw(t, "station")
		const h = 1e-4
		a, _ := c.at(s - h)
		b, _ := c.at(s + h)
		_, dir := c.at(s)
		if d := b.Sub(a).Mul(1 / (2 * h)).Dist(dir); d > 1e-3 {
			t.Fatalf("at %v: direction %v, slope off by %v", s, dir, d)
		}
	})
}

// The nearest point is the nearest: against small steps along the chain.
func TestProjectionIsNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyChain(t)
		q := plane.Pt{E: rapid.Float64Range(-60, 60).Draw(t, "q east"), N: rapid.Float64Range(-60, 60).Draw(t, "q north")}
		s, o := c.project(q)
		at, _ := c.at(s)
		if math.Abs(math.Abs(o)-q.Dist(at)) > 1e-7 && s > 0 && s < c.length() {
			t.Fatalf("offset %v, distance from its station %v", o, q.Dist(at))
		}
		for u := 0.0; u <= c.length(); u += 0.05 {
			if p, _ := c.at(u); p.Dist(q) < q.Dist(at)-1e-9 {
				t.Fatalf("station %v is %v m away, station %v only %v m", s, q.Dist(at), u, p.Dist(q))
			}
		}
	})
}

// Nothing changed is nothing moved.
func TestMovedByNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyChain(t)
		m := c.moved(make([]float64, c.params()))
		for u := 0.0; u <= 1; u += 0.1 {
			a, da := c.at(u * c.length())
			b, db := m.at(u * c.length())
			if a.Dist(b) > 1e-9 || da.Dist(db) > 1e-9 {
				t.Fatalf("at %v of the length: %v, was %v", u, b, a)
			}
		}
	})
}

// What each parameter does, by its own words: an offset moves the middle to the
// left and turns nothing; a turn moves the ends by its metres and keeps the
// middle; a bulge changes the sagitta of its arc; a joint moves along the chain.
func TestMovedMeansWhatItSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyChain(t)
		l := c.length()
		d := rapid.Float64Range(-0.05, 0.05).Draw(t, "by")
		mid, dir := c.at(l / 2)

		m := c.moved(unit(c.params(), 0, d))
		got, gotDir := m.at(l / 2)
		if got.Dist(mid.Add(dir.Left().Mul(d))) > 1e-9 || gotDir.Dist(dir) > 1e-9 {
			t.Fatalf("offset by %v: the middle goes from %v to %v", d, mid, got)
		}

		m = c.moved(unit(c.params(), 1, d))
		got, gotDir = m.at(l / 2)
		if got.Dist(mid) > 1e-9 || math.Abs(angle(dir, gotDir)-2*d/l) > 1e-9 {
			t.Fatalf("turn by %v: the middle moves by %v, the heading by %v", d, got.Dist(mid), angle(dir, gotDir))
		}
		if len(c.pieces) == 1 && c.pieces[0].curvature == 0 {
			end, _ := c.at(l)
			if e, _ := m.at(l); math.Abs(e.Sub(end).Dot(dir.Left())-d) > 1e-4 {
				t.Fatalf("turn by %v: the end goes %v to the left", d, e.Sub(end).Dot(dir.Left()))
			}
		}

		k := 2
		for i, p := range c.pieces {
			if p.curvature == 0 {
				continue
			}
			m = c.moved(unit(c.params(), k, d))
			k++
			// Sagitta of an arc of length L: (1 − cos(κL/2))/κ, κL²/8 to first order.
			sag := func(p piece) float64 { return (1 - math.Cos(p.curvature*p.length/2)) / p.curvature }
			if math.Abs(m.pieces[i].curvature) > 1e-9 {
				if got := sag(m.pieces[i]) - sag(p); math.Abs(got-d) > 0.25*math.Abs(d)+1e-9 {
					t.Fatalf("bulge by %v: sagitta of piece %d by %v", d, i, got)
				}
			}
		}
		for i := range len(c.pieces) - 1 {
			m = c.moved(unit(c.params(), k, d))
			k++
			if math.Abs(m.length()-l) > 1e-9 || math.Abs(m.pieces[i].length-c.pieces[i].length-d) > 1e-9 {
				t.Fatalf("joint %d by %v: pieces %+v from %+v", i, d, m.pieces, c.pieces)
			}
		}
		if k != c.params() {
			t.Fatalf("%d parameters, %d of them move something", c.params(), k)
		}
	})
}

// The derivatives that the fit works with against central differences of the
// chain's geometry with a tenth of their step.
func TestDesignIsTheDerivative(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyChain(t)
		l := c.length()
		var joint float64
		for _, p := range c.pieces {
			// The chain is held at its middle: with a joint right there, what a move
			// does depends on its side.
			if joint += p.length; math.Abs(joint-l/2) < 0.01 {
				t.Skip("joint at the middle")
			}
		}
		f := &partFit{stretches: []stretch{{chain: c, first: 0, last: 9}}, samples: make([]sample, 10), wander: 0.01}
		for m := range f.samples {
			at, dir := c.at(l * (float64(m) + 0.5) / 10)
			o := rapid.Float64Range(-0.1, 0.1).Draw(t, "offset")
			f.samples[m] = sample{at: at.Add(dir.Left().Mul(o)), white: 0.01, local: 0.01, tau: 300}
		}
		f.locate()
		if err := f.step(); err != nil {
			t.Fatal(err)
		}
		x, prior := f.design()
		if len(x) != c.params() || len(prior) != c.params() {
			t.Fatalf("%d columns, %d priors for %d parameters", len(x), len(prior), c.params())
		}
		const h = probe / 10
		for k := range x {
			plus, minus := c.moved(unit(c.params(), k, h)), c.moved(unit(c.params(), k, -h))
			for m := range f.samples {
				_, a := plus.project(f.samples[m].at)
				_, b := minus.project(f.samples[m].at)
				// The line moves left when the offset of what stands still shrinks. A
				// one-sided difference over a millimetre bends by a few thousandths.
				if want := (b - a) / (2 * h); math.Abs(x[k].at(m)-want) > 0.02*(1+math.Abs(want)) {
					t.Fatalf("parameter %d, sample %d: %v, want %v", k, m, x[k].at(m), want)
				}
			}
		}
	})
}

// Two straights meet where their lines cross, whatever the angle, and nowhere
// when that lies behind them.
func TestCornerOfStraights(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		turn := rapid.Float64Range(0.1, 2.8).Draw(t, "turn") * rapid.SampledFrom([]float64{-1, 1}).Draw(t, "side")
		a0 := rapid.Float64Range(0, 2*math.Pi).Draw(t, "heading")
		da := plane.Pt{E: math.Cos(a0), N: math.Sin(a0)}
		db := plane.Pt{E: math.Cos(a0 + turn), N: math.Sin(a0 + turn)}
		q := plane.Pt{E: rapid.Float64Range(-99, 99).Draw(t, "east"), N: rapid.Float64Range(-99, 99).Draw(t, "north")}
		before, after := rapid.Float64Range(0.1, 5).Draw(t, "before"), rapid.Float64Range(0.1, 5).Draw(t, "after")
		lastA, firstB := q.Sub(da.Mul(before)), q.Add(db.Mul(after))
		a := stretch{chain: chain{start: q.Sub(da.Mul(20 + before)), dir: da, pieces: []piece{{length: 20}}}}
		b := stretch{chain: chain{start: firstB, dir: db, pieces: []piece{{length: 20}}}}
		// A sharp turn lies further ahead than the readings lie apart: what is drawn
		// there is a straight from one to the other.
		if limit := lastA.Dist(firstB) + 0.3; before > limit || after > limit {
			if _, ok := corner(&a, &b, lastA, firstB, 0.3); ok {
				t.Fatalf("a corner %v m ahead of readings %v m apart", before, lastA.Dist(firstB))
			}
			return
		}
		got, ok := corner(&a, &b, lastA, firstB, 0.3)
		if !ok || got.Dist(q) > 1e-6 {
			t.Fatalf("turn of %v: %v (%v), want %v", turn, got, ok, q)
		}
		// The same with the second straight begun long before the crossing.
		lastA, firstB = q.Add(da.Mul(3)), q.Sub(db.Mul(3))
		if got, ok := corner(&a, &b, lastA, firstB, 0.3); ok {
			t.Fatalf("a corner at %v behind both readings", got)
		}
	})
}

// Parallels do not meet.
func TestCornerOfParallels(t *testing.T) {
	a := stretch{chain: chain{dir: plane.Pt{E: 1}, pieces: []piece{{length: 10}}}}
	b := stretch{chain: chain{start: plane.Pt{E: 12, N: 0.5}, dir: plane.Pt{E: 1}, pieces: []piece{{length: 10}}}}
	if q, ok := corner(&a, &b, plane.Pt{E: 10}, plane.Pt{E: 12, N: 0.5}, 0.3); ok {
		t.Errorf("met at %v", q)
	}
}

// A straight and an arc, or two arcs, meet in a point of both.
func TestCornerOfArcs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ka := rapid.SampledFrom([]float64{0, 0.03, -0.05}).Draw(t, "curvature before")
		kb := rapid.SampledFrom([]float64{0.04, -0.02}).Draw(t, "curvature after")
		turn := rapid.Float64Range(0.5, 1.8).Draw(t, "turn")
		da := plane.Pt{E: 1}
		db := plane.Pt{E: math.Cos(turn), N: math.Sin(turn)}
		q := plane.Pt{E: 5, N: 7}
		gap := rapid.Float64Range(0.2, 2).Draw(t, "gap")
		lastA, dirA := advance(q, da, ka, -gap)
		startA, headA := advance(lastA, dirA, ka, -15)
		firstB, dirB := advance(q, db, kb, gap)
		a := stretch{chain: chain{start: startA, dir: headA, pieces: []piece{{15, ka}}}}
		b := stretch{chain: chain{start: firstB, dir: dirB, pieces: []piece{{15, kb}}}}
		got, ok := corner(&a, &b, lastA, firstB, 0.3)
		if !ok || got.Dist(q) > 1e-5 {
			t.Fatalf("%v (%v), want %v", got, ok, q)
		}
	})
}
