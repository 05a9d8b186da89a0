package fuse

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// samplesCovariance is that of two samples' errors across the line, whose normals
// there are na, nb and whose stations along the part are sa, sb; without what is
// white.
func samplesCovariance(a, b *sample, na, nb plane.Pt, sa, sb float64) float64 {
	return a.sharedWith(b, sa, sb) + a.unrestWith(b, sa, sb) + a.slowWith(b, na, nb) + a.shift.Dot(na)*b.shift.Dot(nb)
}

// Exponentials by factors against one for each pair, also where no factor is a
// number.
func TestDecay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		far := rapid.SampledFrom([]float64{1, 100, 900, 1e6}).Draw(t, "far")
		x := rapid.SliceOfN(rapid.Float64Range(-far, far), 1, 12).Draw(t, "x")
		d := newDecay(x)
		for i := range x {
			for j := range x {
				r := math.Abs(x[i] - x[j])
				want := math.Exp(-r)
				if got := d.of(i, j); math.Abs(got-want) > 1e-12*want { // ten thousand roundings
					t.Fatalf("e^−%v: %v, want %v", r, got, want)
				}
				if got := d.matern(i, j); math.Abs(got-(1+r)*want) > 1e-12*(1+r)*want {
					t.Fatalf("Matérn at %v: %v, want %v", r, got, (1+r)*want)
				}
			}
		}
	})
}

// The covariance of a part against that of each pair of its samples.
func TestPartCovarianceIsThatOfPairs(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 3))
	f := &partFit{wander: 0.06}
	for m := range 2*largestBlock - 50 {
		s := sample{
			t: 3 * float64(m%300), tau: 120, white: 0.01 + rng.Float64(), shared: rng.Float64(), chain: m / 90,
			slow: [3]float64{1 + rng.Float64(), 1 + rng.Float64(), rng.Float64()}, shift: plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()},
			quality: nmea.Quality(4 + m/100%2), out: m%17 == 3, unrest: max(0, rng.NormFloat64()),
		}
		f.samples = append(f.samples, s)
		f.on = append(f.on, m/70)
		f.local = append(f.local, 2*float64(m%70)+rng.Float64())
		f.station = append(f.station, 2*float64(m)+rng.Float64())
		sin, cos := math.Sincos(rng.Float64())
		f.normal = append(f.normal, plane.Pt{E: cos, N: sin})
		if !s.out {
			f.used = append(f.used, m)
		}
	}
	got, err := f.covariance()
	if err != nil {
		t.Fatal(err)
	}
	want, err := newCovariance(len(f.used), byPairs(func(i, j int) float64 {
		a, b := f.used[i], f.used[j]
		v := samplesCovariance(&f.samples[a], &f.samples[b], f.normal[a], f.normal[b], f.station[a], f.station[b])
		if f.on[a] == f.on[b] {
			v += sq(f.wander) * wanderKernel(f.local[a]-f.local[b])
		}
		if a == b {
			v += f.samples[a].independent()
		}
		return v
	}))
	if err != nil {
		t.Fatal(err)
	}
	if len(got.blocks) < 2 {
		t.Fatal("one block only")
	}
	for k, b := range got.blocks {
		for i, v := range b.a {
			if w := want.blocks[k].a[i]; math.Abs(v-w) > 1e-9*(1+math.Abs(w)) {
				t.Fatalf("block %d element %d: %v, want %v", k, i, v, w)
			}
		}
	}
}
