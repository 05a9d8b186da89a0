package fuse

import (
	"math/rand/v2"
	"testing"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/remarks"
)

// A straight of forty stops 3 m apart whose readings scatter six times as much over
// eight of them: they say nothing of the line's shape, only that the field is not
// one conductor's there. The line does not follow them, its width holds the truth
// over that stretch on nine in ten days, and the stretch is flagged on most.
func TestScatterIsNoShape(t *testing.T) {
	sc := unitScales()
	plan := geodesy.NewLocal(geodesy.Geo{Lat: 48, Lon: 11, H: 40})
	const days = 60
	held, flagged := 0, 0
	for seed := range uint64(days) {
		rng := rand.New(rand.NewPCG(seed, 1))
		pts, _, _ := follow(3, leg{n: 40})
		from, to := pts[0], pts[39]
		for k := range pts {
			sigma := 0.05
			if k >= 18 && k <= 25 {
				sigma = 0.3
			}
			pts[k] = pts[k].Add(plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(sigma))
		}
		ps := placedAt(pts)
		p := shape(ps, all(len(ps)), &sc)
		part, _ := assemble(ps, p, plan, DefaultOptions())
		ok, seen := true, false
		for _, x := range part.Vertices {
			if x.Station < 18*3 || x.Station > 26*3 {
				continue
			}
			foot, _ := plane.Polyline{from, to}.Nearest(x.At)
			ok = ok && foot.Dist <= 1.96*x.Sigma
			seen = seen || x.Flags.Has(remarks.Distorted)
		}
		if ok {
			held++
		}
		if seen {
			flagged++
		}
	}
	t.Logf("%d of %d days held, %d flagged", held, days, flagged)
	if held < days*9/10 || flagged < days*17/20 {
		t.Errorf("%d of %d days held, %d flagged", held, days, flagged)
	}
}

// A day whose readings all scatter three times as much as any table says has no
// small bends either: one straight on most days, and nearly all of it within the
// width.
func TestUnderstatedScatter(t *testing.T) {
	plan := geodesy.NewLocal(geodesy.Geo{Lat: 48, Lon: 11, H: 40})
	const days = 30
	inside, all40, pieces := 0, 0, 0
	for seed := range uint64(days) {
		rng := rand.New(rand.NewPCG(seed, 2))
		pts, _, _ := follow(3, leg{n: 40})
		from, to := pts[0], pts[39]
		ps := placedAt(shaken(rng, pts, 0.2))
		sc := unitScales()
		first := shape(ps, all(len(ps)), &sc)
		sc = measureScales([]*shapedPart{first})
		part, _ := assemble(ps, shape(ps, all(len(ps)), &sc), plan, DefaultOptions())
		if len(part.Vertices) > 0 {
			pieces += len(first.fit.stretches)
		}
		for _, x := range part.Vertices {
			foot, _ := plane.Polyline{from, to}.Nearest(x.At)
			all40++
			if foot.Dist <= 1.96*x.Sigma {
				inside++
			}
		}
	}
	t.Logf("%d of %d vertices inside, %.1f stretches a day", inside, all40, float64(pieces)/days)
	if inside < all40*9/10 || pieces > 2*days {
		t.Errorf("%d of %d vertices inside, %.1f stretches a day", inside, all40, float64(pieces)/days)
	}
}

// A line that swerves by a metre for five readings, as round a manhole, is no unrest:
// the swerve is drawn.
func TestSwerveStays(t *testing.T) {
	plan := geodesy.NewLocal(geodesy.Geo{Lat: 48, Lon: 11, H: 40})
	sc := unitScales()
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 3))
		pts, _, _ := follow(3, leg{n: 15}, leg{n: 1, turn: 22.5 * degree}, leg{n: 5, turn: -22.5 * degree}, leg{n: 1, turn: -22.5 * degree}, leg{n: 15, turn: 22.5 * degree})
		ps := placedAt(shaken(rng, pts, 0.04))
		part, _ := assemble(ps, shape(ps, all(len(ps)), &sc), plan, DefaultOptions())
		var line plane.Polyline
		for _, v := range part.Vertices {
			line = append(line, v.At)
		}
		if d := strays(line, pts[17:20]); d > 0.25 {
			t.Errorf("seed %d: %.2f m off the swerve", seed, d)
		}
	}
}
