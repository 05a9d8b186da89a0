package geodesy_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy"
)

// ground gives the distance between two places in metres, height included.
func ground(a, b geodesy.Geo) float64 {
	return xyzDist(geodesy.WGS84().ToXYZ(a), geodesy.WGS84().ToXYZ(b))
}

// Geographic 3D codes of the frames in the EPSG dataset.
var frameCodes = map[geodesy.Frame]int{
	geodesy.FrameITRF2020: 9989, geodesy.FrameITRF2014: 7912, geodesy.FrameITRF2008: 7911,
	geodesy.FrameNAD83: 6319, geodesy.FrameNAD83PA11: 6321, geodesy.FrameNAD83MA11: 6324, geodesy.FrameNAD83CSRS: 8254,
	geodesy.FrameETRF2000: 7931, geodesy.FrameETRF2014: 8403,
	geodesy.FrameGDA2020: 7843, geodesy.FrameGDA94: 4939,
}

// Both ways between each frame and the one its parameters are published
// against; PROJ finds longer ways by itself only at random.
func TestTransformAgainstPROJ(t *testing.T) {
	pairs := [][2]geodesy.Frame{
		{geodesy.FrameITRF2014, geodesy.FrameITRF2020}, {geodesy.FrameITRF2008, geodesy.FrameITRF2014},
		{geodesy.FrameITRF2014, geodesy.FrameNAD83}, {geodesy.FrameITRF2014, geodesy.FrameNAD83CSRS},
		{geodesy.FrameITRF2008, geodesy.FrameNAD83PA11}, {geodesy.FrameITRF2008, geodesy.FrameNAD83MA11},
		{geodesy.FrameITRF2014, geodesy.FrameETRF2000}, {geodesy.FrameITRF2014, geodesy.FrameETRF2014},
		{geodesy.FrameITRF2014, geodesy.FrameGDA2020}, {geodesy.FrameGDA94, geodesy.FrameGDA2020},
	}
	places := map[geodesy.Frame][]string{
		geodesy.FrameITRF2020: {"10 20 30", "-40 -60 900"}, geodesy.FrameITRF2014: {"10 20 30", "-40 -60 900"},
		geodesy.FrameNAD83:     {"39.7392 -104.9903 1600", "30.3322 -81.6557 0", "47.6062 -122.3321 0"},
		geodesy.FrameNAD83CSRS: {"45.4 -75.7 100", "53.5 -113.5 650"},
		geodesy.FrameNAD83PA11: {"21.3 -157.8 20"}, geodesy.FrameNAD83MA11: {"13.5 144.8 100"},
		geodesy.FrameETRF2000: {"52.52 13.405 80", "43.3 5.4 50", "60.2 24.9 30"}, geodesy.FrameETRF2014: {"52.52 13.405 80"},
		geodesy.FrameGDA2020: {"-33.8568 151.2153 50", "-23.67 133.89 600"},
	}
	var inputs []string
	for _, p := range pairs {
		for _, place := range places[p[1]] {
			for _, epoch := range []string{"1997.5", "2010.0", "2025.0"} {
				inputs = append(inputs, fmt.Sprintf("%d %d %s %s", frameCodes[p[0]], frameCodes[p[1]], place, epoch),
					fmt.Sprintf("%d %d %s %s", frameCodes[p[1]], frameCodes[p[0]], place, epoch))
			}
		}
	}
	byCode := map[int]geodesy.Frame{}
	for f, c := range frameCodes {
		byCode[c] = f
	}
	reference{
		file: "frames.txt",
		head: `PROJ 9.1.1 with EPSG v10.076: cs2cs -f %.11f EPSG:<from> EPSG:<to>
from to latitude longitude height epoch => latitude longitude height epoch
Tolerance 2 mm: the parameters of 8970 and 8265 have fewer digits there.
`,
		program: "cs2cs",
		inputs:  inputs,
		ask: func(t *testing.T, inputs []string) []string {
			codes := func(in string) string { c, _ := firstWords(in, 2); return c }
			return inGroups(inputs, codes, func(key string, group []string) []string {
				from, to := firstWords(key, 1)
				var points []string
				for _, in := range group {
					_, p := firstWords(in, 2)
					points = append(points, p)
				}
				return run(t, points, "cs2cs", "-f", "%.11f", "EPSG:"+from, "EPSG:"+to)
			})
		},
	}.check(t, func(t *testing.T, in, answer string) {
		q, a := numbers(t, in), numbers(t, answer)
		from, to := byCode[int(q[0])], byCode[int(q[1])]
		got, err := geodesy.Transform(geodesy.Geo{Lat: q[2], Lon: q[3], H: q[4]}, from, to, q[5])
		tol := 5e-5 // m: the last digit of the answers is 1 µm
		if from == geodesy.FrameNAD83 || to == geodesy.FrameNAD83 || from == geodesy.FrameNAD83CSRS || to == geodesy.FrameNAD83CSRS {
			tol = 2e-3 // m: parameters with fewer digits there
		}
		if d := ground(got, geodesy.Geo{Lat: a[0], Lon: a[1], H: a[2]}); err != nil || !(d < tol) {
			t.Errorf("%v to %v, %s: %.11f %v, PROJ says %s: %v m apart", from, to, in, got, err, answer, d)
		}
	})
}

func TestTransformPublishedExamples(t *testing.T) {
	t.Run("ITRF2014 at 2018.0 to GDA2020, Alice Springs", func(t *testing.T) {
		// PROJ test/gie/GDA.gie, from the GDA2020 technical manual; tolerance 40 µm there.
		el := geodesy.GRS80()
		in := el.ToGeo(geodesy.XYZ{X: -4052052.6588, Y: 4212835.9938, Z: -2545104.6946})
		got, err := geodesy.Transform(in, geodesy.FrameITRF2014, geodesy.FrameGDA2020, 2018)
		want := geodesy.XYZ{X: -4052052.7373, Y: 4212835.9835, Z: -2545104.5867}
		if d := xyzDist(el.ToXYZ(got), want); err != nil || d > 1.2e-4 { // m: three coordinates rounded to 0.1 mm, in and out
			t.Errorf("%v m off, %v", d, err)
		}
	})
	t.Run("GDA94 to GDA2020, Alice Springs", func(t *testing.T) {
		// GDA2020 technical manual v1.0, by PROJ test/gie/GDA.gie; tolerance 2 mm there.
		got, err := geodesy.Transform(geodesy.Geo{Lat: -23.67012389, Lon: 133.88551329, H: 603.3466},
			geodesy.FrameGDA94, geodesy.FrameGDA2020, math.NaN())
		if d := ground(got, geodesy.Geo{Lat: -23.67011014, Lon: 133.8855216, H: 603.2489}); err != nil || d > 2e-3 {
			t.Errorf("%v m off, %v", d, err)
		}
	})
}

// "WGS 84" is ITRF2020 at the epoch: no null transformation, which would be 1
// to 1.6 m wrong in the United States.
func TestTransformWGS84IsITRF2020(t *testing.T) {
	denver := geodesy.Geo{Lat: 39.7392, Lon: -104.9903, H: 1600}
	a, err := geodesy.Transform(denver, geodesy.FrameWGS84, geodesy.FrameNAD83, 2025)
	b, err2 := geodesy.Transform(denver, geodesy.FrameITRF2020, geodesy.FrameNAD83, 2025)
	if err != nil || err2 != nil || ground(a, b) > 2e-4 { // m: the ellipsoids differ by 0.1 mm
		t.Errorf("WGS84 gives %v, ITRF2020 %v", a, b)
	}
	// East, north, up shift of +1.32, −0.53, +0.86 m by cs2cs from ITRF2014 (PROJ 9.1.1).
	if d := ground(a, denver); math.Abs(d-1.66) > 0.02 {
		t.Errorf("moved by %v m", d)
	}
}

func TestTransformThereAndBack(t *testing.T) {
	frame := rapid.SampledFrom([]geodesy.Frame{geodesy.FrameWGS84, geodesy.FrameITRF2020, geodesy.FrameITRF2014,
		geodesy.FrameITRF2008, geodesy.FrameNAD83, geodesy.FrameNAD83PA11, geodesy.FrameNAD83MA11, geodesy.FrameNAD83CSRS,
		geodesy.FrameETRF2000, geodesy.FrameETRF2014, geodesy.FrameGDA2020, geodesy.FrameGDA94})
	rapid.Check(t, func(t *rapid.T) {
		g := geodesy.Geo{Lat: rapid.Float64Range(-89, 89).Draw(t, "lat"), Lon: rapid.Float64Range(-180, 180).Draw(t, "lon"),
			H: rapid.Float64Range(-500, 9000).Draw(t, "h")}
		from, to, via := frame.Draw(t, "from"), frame.Draw(t, "to"), frame.Draw(t, "via")
		epoch := rapid.Float64Range(1980, 2100).Draw(t, "epoch")
		there, err := geodesy.Transform(g, from, to, epoch)
		if err != nil {
			t.Fatal(err)
		}
		back, err := geodesy.Transform(there, to, from, epoch)
		if d := ground(back, g); err != nil || !(d < 1e-7) {
			t.Fatalf("there and back moved by %v m, %v", d, err)
		}
		half, _ := geodesy.Transform(g, from, via, epoch)
		whole, _ := geodesy.Transform(half, via, to, epoch)
		if d := ground(whole, there); !(d < 1e-7) {
			t.Fatalf("by way of %v it is %v m elsewhere", via, d)
		}
		noHeight := g
		noHeight.H = math.NaN()
		flat, err := geodesy.Transform(noHeight, from, to, epoch)
		if err != nil || !math.IsNaN(flat.H) {
			t.Fatalf("without height: %v, %v", flat, err)
		}
		flat.H = there.H
		if d := ground(flat, there); d > 0.01 { // m: 9 km of height times shifts of 2 m over the earth's radius
			t.Fatalf("without height it is %v m elsewhere", d)
		}
	})
}

func TestTransformRefuses(t *testing.T) {
	nan := math.NaN()
	ok := geodesy.Geo{Lat: 40, Lon: -100, H: 0}
	for _, c := range []struct {
		name     string
		g        geodesy.Geo
		from, to geodesy.Frame
		epoch    float64
		want     string
	}{
		{"no epoch", ok, geodesy.FrameWGS84, geodesy.FrameNAD83, nan, "needs the epoch"},
		{"epoch out of reach", ok, geodesy.FrameWGS84, geodesy.FrameNAD83, 25, "not 25"},
		{"latitude", geodesy.Geo{Lat: nan}, geodesy.FrameWGS84, geodesy.FrameNAD83, 2025, "no place on earth"},
		{"latitude over 90", geodesy.Geo{Lat: 91}, geodesy.FrameWGS84, geodesy.FrameNAD83, 2025, "no place on earth"},
		{"frame", ok, geodesy.Frame(99), geodesy.FrameNAD83, 2025, "no such frame"},
	} {
		if _, err := geodesy.Transform(c.g, c.from, c.to, c.epoch); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := geodesy.Transform(ok, geodesy.FrameWGS84, geodesy.FrameITRF2020, nan); err != nil {
		t.Errorf("WGS84 to ITRF2020 needs no epoch here: %v", err)
	}
}

func TestParseFrame(t *testing.T) {
	for name, want := range map[string]geodesy.Frame{
		"WGS84": geodesy.FrameWGS84, "wgs 84": geodesy.FrameWGS84, "ITRF2020": geodesy.FrameITRF2020, "igb14": geodesy.FrameITRF2014,
		"NAD83(2011)": geodesy.FrameNAD83, "nad83-2011": geodesy.FrameNAD83, "ETRS89": geodesy.FrameETRF2000,
		"ETRF2014": geodesy.FrameETRF2014, "GDA2020": geodesy.FrameGDA2020, "NAD83(CSRS)v7": geodesy.FrameNAD83CSRS,
	} {
		if got, err := geodesy.ParseFrame(name); err != nil || got != want {
			t.Errorf("ParseFrame(%q) = %v, %v, want %v", name, got, err, want)
		}
	}
	for _, n := range geodesy.FrameNames() {
		if f, err := geodesy.ParseFrame(n); err != nil || f.String() != n {
			t.Errorf("ParseFrame(%q) = %v, %v", n, f, err)
		}
	}
	for name, want := range map[string]string{"NAD83": "name NAD83(2011)", "OSGB36": "correction grids", "moon": "known are WGS84, ITRF2020"} {
		if _, err := geodesy.ParseFrame(name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("ParseFrame(%q): %v, want %q", name, err, want)
		}
	}
}

func BenchmarkTransform(b *testing.B) {
	g := geodesy.Geo{Lat: 40, Lon: -100, H: 300}
	for b.Loop() {
		if _, err := geodesy.Transform(g, geodesy.FrameWGS84, geodesy.FrameNAD83, 2025.5); err != nil {
			b.Fatal(err)
		}
	}
}
