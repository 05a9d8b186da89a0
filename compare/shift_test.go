package compare_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tracemap/compare"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// town gives lines in several directions, 30 to 80 m long, about a place.
func town(n int) [][]plane.Pt {
	rng := rand.New(rand.NewPCG(1, uint64(n)))
	var out [][]plane.Pt
	for i := range n {
		from := pt(40*float64(i%4), 40*float64(i/4))
		a := 2 * math.Pi * rng.Float64()
		corner := from.Add(pt(math.Cos(a), math.Sin(a)).Mul(15 + 10*rng.Float64()))
		b := a + 1.2*rng.NormFloat64()
		out = append(out, []plane.Pt{from, corner, corner.Add(pt(math.Cos(b), math.Sin(b)).Mul(15 + 10*rng.Float64()))})
	}
	return out
}

// scene puts the town in the ground at a place: located lines at true places,
// each with an error of its own; the record written by a function.
func scene(t testing.TB, at geodesy.Geo, n int, locatedBy plane.Pt, crs string, coordinates func(geodesy.Geo) [2]float64, each func(i int) plane.Pt) (string, string) {
	t.Helper()
	rng := rand.New(rand.NewPCG(5, 5))
	var lines []found
	var records []built
	for i, l := range town(n) {
		name := string(rune('A' + i))
		own := pt(0.03*rng.NormFloat64(), 0.03*rng.NormFloat64())
		lines = append(lines, steel(name, moved(own.Add(locatedBy), l...)...))
		if each != nil {
			l = moved(each(i), l...)
		}
		records = append(records, line(name, "water", l...))
	}
	return located(t, at, lines...), record(t, at, crs, coordinates, records...)
}

func TestCommonDisplacement(t *testing.T) {
	for _, c := range []struct {
		name string
		n    int
		each func(i int) plane.Pt // of the record
		sure bool
		want plane.Pt // located minus as-built
	}{
		{"none", 6, nil, false, plane.Pt{}},
		{"all by 1.1, −0.6", 6, func(int) plane.Pt { return pt(1.1, -0.6) }, true, pt(-1.1, 0.6)},
		{"one of five", 5, func(i int) plane.Pt { return pt(0.9, 0.4).Mul(map[bool]float64{true: 1}[i == 2]) }, false, plane.Pt{}},
		{"all, and one of them more", 6, func(i int) plane.Pt {
			return pt(1.1, -0.6).Add(pt(-0.8, 0.5).Mul(map[bool]float64{true: 1}[i == 2]))
		}, true, pt(-1.1, 0.6)},
		{"each its own way", 8, func(i int) plane.Pt {
			sin, cos := math.Sincos(2.4 * float64(i))
			return pt(cos, sin).Mul(0.8)
		}, false, plane.Pt{E: math.NaN()}},
		{"two lines are too few", 2, func(int) plane.Pt { return pt(1.1, -0.6) }, false, plane.Pt{E: math.NaN()}},
	} {
		t.Run(c.name, func(t *testing.T) {
			lines, path := scene(t, sea, c.n, plane.Pt{}, "", nil, c.each)
			r := run(t, lines, path, func(o *compare.Options) { o.Accuracy = 0.1 })
			s := r.Shift
			if s.Significant != c.sure {
				t.Errorf("significant %v, want %v: %+v", s.Significant, c.sure, s)
			}
			if !math.IsNaN(c.want.E) {
				near(t, "east", s.East, c.want.E, 0.1)
				near(t, "north", s.North, c.want.N, 0.1)
				if !(s.Sigma > 0.005 && s.Sigma < 0.15) {
					t.Errorf("sigma %v", s.Sigma)
				}
			}
			if c.sure {
				for _, p := range r.Pairs {
					if p.AsBuiltID != "C" {
						near(t, p.AsBuiltID+" after the displacement", p.AfterShift, 0, 0.12)
					}
				}
			}
		})
	}
}

// A weak fix displaces all lines of the day alike, which is no mix-up of frames:
// its own uncertainty covers it.
func TestWeakFixIsNoDisplacement(t *testing.T) {
	var lines []found
	var records []built
	for i, l := range town(8) {
		f := steel(string(rune('A'+i)), moved(pt(1.4, 0.8), l...)...)
		f.half, f.fix = 2.6, "autonomous"
		lines, records = append(lines, f), append(records, line(f.line, "water", l...))
	}
	r := run(t, located(t, sea, lines...), record(t, sea, "", nil, records...), nil)
	if r.Shift.Significant {
		t.Errorf("%+v", r.Shift)
	}
	if r.Verdict != compare.Inconclusive || r.Counts[compare.Differs] > 0 {
		t.Errorf("verdict %v, counts %v", r.Verdict, r.Counts)
	}
}

// In a street whose lines all run one way only the displacement across it shows.
func TestOneDirection(t *testing.T) {
	var lines []found
	var records []built
	for i := range 6 {
		y := 3 * float64(i)
		name := string(rune('A' + i))
		lines = append(lines, steel(name, pt(0, y), pt(60, y)))
		records = append(records, line(name, "water", moved(pt(1.1, -0.6), pt(-5, y), pt(65, y))...))
	}
	s := run(t, located(t, sea, lines...), record(t, sea, "", nil, records...), nil).Shift
	if !s.Significant || !s.Across {
		t.Errorf("%+v", s)
	}
	near(t, "across", s.North, 0.6, 0.05)
	near(t, "along", s.East, 0, 0.05)
}

// A record that is turned as well is found to be.
func TestRotation(t *testing.T) {
	const angle = 0.4 * math.Pi / 180
	var lines []found
	var records []built
	for i, l := range town(12) {
		name := string(rune('A' + i))
		var turned []plane.Pt
		for _, p := range l {
			q := p.Sub(pt(60, 40))
			turned = append(turned, pt(60, 40).Add(pt(q.E*math.Cos(angle)+q.N*math.Sin(angle), q.N*math.Cos(angle)-q.E*math.Sin(angle))).Add(pt(0.5, 0.3)))
		}
		lines, records = append(lines, steel(name, l...)), append(records, line(name, "water", turned...))
	}
	s := run(t, located(t, sea, lines...), record(t, sea, "", nil, records...), func(o *compare.Options) { o.Accuracy = 0.1 }).Shift
	if !s.Significant {
		t.Fatalf("%+v", s)
	}
	near(t, "rotation of the located lines against the record", s.Rotation, 0.4, 0.1)
}

// The mix-ups that make such displacements are named, with what to do. The
// shifts are those of the frames at the place: at Denver WGS 84 to NAD83(2011)
// at epoch 2025.0 by +1.319 m east, −0.526 m north; at Berlin to ETRS89 by −0.668
// and −0.624 (PROJ 9.1.1, cs2cs EPSG:7912 EPSG:6319 and to ETRF2000).
func TestCauses(t *testing.T) {
	denver := geodesy.Geo{Lat: 39.7392, Lon: -104.9903, H: math.NaN()}
	berlin := geodesy.Geo{Lat: 52.52, Lon: 13.405, H: math.NaN()}
	foot := func(from, to float64) func(x, y float64) [2]float64 {
		return func(x, y float64) [2]float64 { return [2]float64{x * from / to, y * from / to} }
	}
	const survey, international = 1200. / 3937, 0.3048
	for _, c := range []struct {
		name        string
		at          geodesy.Geo
		by          plane.Pt // of the located lines
		crs         string
		coordinates func(geodesy.Geo) [2]float64
		east, north float64
		says        string
	}{
		{"the record is in NAD83(2011) and says nothing", denver, plane.Pt{}, "", in(t, 6318, epoch2025, nil), -1.31, 0.53, "the record is in NAD83(2011) and was read as EPSG:4326 (WGS 84)"},
		{"the record is in ETRS89 and says nothing", berlin, plane.Pt{}, "", in(t, 4258, epoch2025, nil), 0.68, 0.63, "give --as-built-crs EPSG:4258"},
		{"corrections in NAD83(2011), convert not told", denver, pt(1.319, -0.526), "", nil, 1.319, -0.526, `the receiver's corrections were in NAD83(2011) and the lines were located without --frame "NAD83(2011)"`},
		{"corrections in ETRS89, the record right", berlin, pt(-0.668, -0.624), "EPSG:25833", in(t, 25833, epoch2025, nil), -0.668, -0.624, "the receiver's corrections were in ETRS89"},
		{"international feet read as US survey feet", denver, plane.Pt{}, "EPSG:6428", in(t, 6428, epoch2025, foot(survey, international)), -1.9, -1.03, "the record's feet are international ones and were read as US survey feet"},
		{"the record is in GDA2020 and says nothing", geodesy.Geo{Lat: -33.8568, Lon: 151.2153, H: math.NaN()}, plane.Pt{}, "", in(t, 7844, epoch2025, nil), 0.1, 0.29, "the record is in GDA2020 and was read as EPSG:4326"},
	} {
		t.Run(c.name, func(t *testing.T) {
			lines, path := scene(t, c.at, 9, c.by, c.crs, c.coordinates, nil)
			r := run(t, lines, path, func(o *compare.Options) { o.Accuracy = 0.1 })
			s := r.Shift
			if !s.Significant {
				t.Fatalf("not significant: %+v", s)
			}
			near(t, "east", s.East, c.east, 0.08)
			near(t, "north", s.North, c.north, 0.08)
			if !strings.Contains(strings.Join(s.Causes, "\n"), c.says) || len(s.Causes) > 3 {
				t.Errorf("causes %q, want %q", s.Causes, c.says)
			}
		})
	}
	// A displacement of no usual size is not explained away.
	lines, path := scene(t, berlin, 9, pt(1.9, -1.1), "", nil, nil)
	if s := run(t, lines, path, nil).Shift; !s.Significant || len(s.Causes) != 1 || !strings.Contains(s.Causes[0], "no mix-up of frames") {
		t.Errorf("%+v", s)
	}
}
