package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"tracemap/geodesy/plane"
)

// crowdAt is so many readings at every 4 m of a straight line, those of a place
// within a second: position as given by err(place), pin-pointing by pin().
func crowdAt(places, each int, err func(place int) (slow, quick, shared float64), pin func() float64) []Placed {
	var pts []plane.Pt
	for k := range places {
		slow, quick, shared := err(k)
		for range each {
			pts = append(pts, plane.Pt{E: 4*float64(k) + 0.1, N: 0.1 + slow + quick + shared + pin()})
		}
	}
	ps := placedAt(pts)
	for k := range ps {
		ps[k].T = 10*float64(k/each) + float64(k%each)/float64(each)
		ps[k].QuickVar = sq(0.03)
	}
	return ps
}

func shapeOf(ps []Placed) *shapedPart {
	sc := unitScales()
	return shape(ps, orderAlong(ps, all(len(ps))), &sc)
}

// Three readings at a place and time are worked with as they are; four and more are
// one.
func TestFewAreNotPacked(t *testing.T) {
	none := func(int) (a, b, c float64) { return 0, 0, 0 }
	for each, want := range map[int]int{1: 20, mostUnpacked: 20 * mostUnpacked, mostUnpacked + 1: 20, 100: 20} {
		ps := crowdAt(20, each, none, func() float64 { return 0 })
		k := pack(ps)
		if len(k.ps) != want {
			t.Errorf("%d at each of 20 places: %d to work with, want %d", each, len(k.ps), want)
		}
		if (k.of == nil) != (each <= mostUnpacked) {
			t.Errorf("%d at each place: packed %v", each, k.of != nil)
		}
	}
}

// Against the covariance among all readings, worked out in full: packed ones are
// never narrower, and never wider than one reading a place.
func TestPackedIsBetweenOneAndAll(t *testing.T) {
	none := func(int) (a, b, c float64) { return 0, 0, 0 }
	still := func() float64 { return 0 }
	packed := shapeOf(pack(crowdAt(9, 30, none, still)).ps)
	full, one := shapeOf(crowdAt(9, 30, none, still)), shapeOf(crowdAt(9, 1, none, still))
	for s := 0.0; s <= 32; s++ {
		most, got, least := one.markOn(0, s).sigma, packed.markOn(0, s).sigma, full.markOn(0, s).sigma
		if !(least < got && got < most) {
			t.Errorf("at %v m: σ %.4f m, in full %.4f, of one reading a place %.4f", s, got, least, most)
		}
		_, deep := packed.depth.at(s)
		_, deepFull := full.depth.at(s)
		_, deepOne := one.depth.at(s)
		if !(deepFull < deep && deep < deepOne) {
			t.Errorf("at %v m: σ of the depth %.4f m, in full %.4f, of one reading a place %.4f", s, deep, deepFull, deepOne)
		}
	}
}

// Of 95 % widths of packed readings with errors as the model has them, and the quick
// error of the fix the same for all of an instant, 0.95·N hold, less 3·√(0.95·0.05·N)
// at the most. The median error is 0.67 σ when σ is true: under 0.35 the width
// would be empty words. A pack that parted what lies left of the line from what lies
// right – a grid of squares did – held 87 %.
func TestPackedWidthsHold(t *testing.T) {
	const lines, each, places = 200, 24, 6
	hold := func() (within, median float64) {
		rng := rand.New(rand.NewPCG(3, 14))
		sc := unitScales()
		s := samplesOf(crowdAt(1, 1, func(int) (a, b, c float64) { return 0, 0, 0 }, func() float64 { return 0 }), []int{0}, 1, &sc)[0]
		white := math.Sqrt(s.white - s.quick)
		var ratio []float64
		for range lines {
			slow, shared := 0.012*rng.NormFloat64(), rng.NormFloat64()
			keep := math.Exp(-4.0 / 12)
			p := shapeOf(pack(crowdAt(places, each, func(int) (a, b, c float64) {
				shared = keep*shared + math.Sqrt(1-sq(keep))*rng.NormFloat64()
				return slow, 0.03 * rng.NormFloat64(), s.shared * shared
			}, func() float64 { return white * rng.NormFloat64() })).ps)
			middle := plane.Pt{E: 2*(places-1) + 0.1, N: 0.1}
			k, local, _ := p.foot(middle)
			m := p.markOn(k, local)
			r := m.at.Dist(middle) / m.sigma
			if r < 1.96 {
				within++
			}
			ratio = append(ratio, r)
		}
		return within / lines, medianOf(ratio)
	}
	const least = 0.95 - 0.046
	within, median := hold()
	if within < least || median < 0.35 {
		t.Errorf("%.1f %% of the widths hold, median error %.2f σ", 100*within, median)
	}
}

// However readings lie, few are left to work with: there and back a hundred times,
// standing for a day, spread along thirty metres.
func TestCrowdsOfAnyKindArePacked(t *testing.T) {
	for name, at := range map[string]func(k int) (plane.Pt, float64){
		"there and back": func(k int) (plane.Pt, float64) {
			t := float64(k) / 5
			return plane.Pt{E: 30 * math.Abs(math.Remainder(t/30, 2))}, t
		},
		"standing": func(k int) (plane.Pt, float64) { return plane.Pt{E: 0.05 * math.Sin(float64(k))}, 4 * float64(k) },
		"densely":  func(k int) (plane.Pt, float64) { return plane.Pt{E: 30 * float64(k) / 20_000}, float64(k) / 600 },
	} {
		ps := make([]Placed, 20_000)
		r := reading()
		for k := range ps {
			ps[k] = Placed{Reading: r, OK: true}
			ps[k].At, ps[k].T = at(k)
		}
		k := pack(ps)
		n := 0
		for _, of := range k.of {
			n += len(of)
		}
		if len(k.ps) > fewOfName || n != len(ps) {
			t.Errorf("%s: %d to work with for %d readings, want all and at most %d", name, len(k.ps), n, fewOfName)
		}
	}
}
