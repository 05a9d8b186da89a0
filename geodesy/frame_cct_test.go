package geodesy_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tracemap/geodesy"
)

// PROJ's own Helmert transformation with fourteen parameters, through cct and given
// as EPSG publishes them (8970, 10334, 8405, 8880, 8049), agrees within 2 mm. cs2cs
// asks PROJ's database; here nothing stands between the parameters and the formula,
// and each has the sign convention of its own: EPSG's method 1056 is coordinate
// frame, 1053 position vector.
func TestTransformAgainstCCT(t *testing.T) {
	const nad83 = "+rx=0.02678138 +ry=-0.00042027 +rz=0.01093206 +drx=0.00006667 +dry=-0.00075744 +drz=-0.00005133 +ds=-0.00007201 +t_epoch=2010 +convention=coordinate_frame"
	cases := []struct {
		from, to geodesy.Frame
		helmert  string
		places   []string
	}{
		{geodesy.FrameITRF2014, geodesy.FrameNAD83, "+x=1.00530 +y=-1.90921 +z=-0.54157 +s=0.00036891 +dx=0.00079 +dy=-0.00060 +dz=-0.00144 " + nad83,
			[]string{"-104.9903 39.7392 1600", "-81.6557 30.3322 0", "-122.3321 47.6062 0"}},
		{geodesy.FrameITRF2020, geodesy.FrameNAD83, "+x=1.00390 +y=-1.90961 +z=-0.54117 +s=-0.00005109 +dx=0.00079 +dy=-0.00070 +dz=-0.00124 " + nad83,
			[]string{"-104.9903 39.7392 1600"}},
		{geodesy.FrameITRF2014, geodesy.FrameETRF2000, "+x=0.0547 +y=0.0522 +z=-0.0741 +rx=0.001701 +ry=0.010290 +rz=-0.016632 +s=0.00212 +dx=0.0001 +dy=0.0001 +dz=-0.0019 +drx=0.000081 +dry=0.000490 +drz=-0.000792 +ds=0.00011 +t_epoch=2010 +convention=position_vector",
			[]string{"13.405 52.52 80", "5.4 43.3 50"}},
		{geodesy.FrameITRF2014, geodesy.FrameETRF2014, "+x=0 +y=0 +z=0 +rx=0.001785 +ry=0.011151 +rz=-0.016170 +s=0 +dx=0 +dy=0 +dz=0 +drx=0.000085 +dry=0.000531 +drz=-0.000770 +ds=0 +t_epoch=2010 +convention=position_vector",
			[]string{"13.405 52.52 80"}},
		{geodesy.FrameITRF2014, geodesy.FrameGDA2020, "+x=0 +y=0 +z=0 +rx=0 +ry=0 +rz=0 +s=0 +dx=0 +dy=0 +dz=0 +drx=0.00150379 +dry=0.00118346 +drz=0.00120716 +ds=0 +t_epoch=2020 +convention=coordinate_frame",
			[]string{"151.2153 -33.8568 50", "133.89 -23.67 600"}},
	}
	var inputs []string
	for i, c := range cases {
		for _, place := range c.places {
			for _, epoch := range []string{"2010.0", "2025.0", "2031.35"} {
				inputs = append(inputs, fmt.Sprintf("%d %s %s", i, place, epoch))
			}
		}
	}
	reference{
		file: "frames-cct.txt",
		head: `PROJ 9.1.1: cct -d 11 +proj=pipeline +step +proj=cart +ellps=GRS80 +step +proj=helmert <as EPSG publishes it> +step +inv +proj=cart +ellps=GRS80
case longitude latitude height epoch => longitude latitude height epoch
Tolerance 2 mm: parameters are published to 0.01 mm, frames agree to a millimetre or so.
`,
		program: "cct",
		inputs:  inputs,
		ask: func(t *testing.T, inputs []string) []string {
			key := func(in string) string { k, _ := firstWords(in, 1); return k }
			return inGroups(inputs, key, func(key string, group []string) []string {
				var points []string
				for _, in := range group {
					_, p := firstWords(in, 1)
					points = append(points, p)
				}
				args := []string{"-d", "11", "+proj=pipeline", "+step", "+proj=cart", "+ellps=GRS80", "+step", "+proj=helmert"}
				args = append(args, strings.Fields(cases[int(numbers(t, key)[0])].helmert)...)
				return run(t, points, "cct", append(args, "+step", "+inv", "+proj=cart", "+ellps=GRS80")...)
			})
		},
	}.check(t, func(t *testing.T, in, answer string) {
		q, a := numbers(t, in), numbers(t, answer)
		c := cases[int(q[0])]
		got, err := geodesy.Transform(geodesy.Geo{Lon: q[1], Lat: q[2], H: q[3]}, c.from, c.to, q[4])
		if d := ground(got, geodesy.Geo{Lon: a[0], Lat: a[1], H: a[2]}); err != nil || !(d <= 2e-3) || math.IsNaN(d) {
			t.Errorf("%v to %v, %s: %v, cct says %s, %.2f mm apart (%v)", c.from, c.to, in, got, answer, d*1000, err)
		}
	})
}
