package track_test

import (
	"math"
	"testing"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/remarks"
)

// A step of the position and back, too long to be set aside: what lies between is
// flagged and made as wide as the step; what lies around is neither.
func TestStepOutAndBack(t *testing.T) {
	by := plane.Pt{E: 3, N: -4}
	for _, doppler := range []bool{false, true} {
		epochs := stroll(2, 400, 1, 0.005)
		for k := range epochs {
			u := float64(k)
			if doppler {
				setVelocity(&epochs[k], strolled(u+0.01).Sub(strolled(u-0.01)).Mul(50))
			}
			if k >= 150 && k <= 180 {
				moved := origin.Inverse(origin.Forward(geodesy.Geo{Lat: epochs[k].Lat, Lon: epochs[k].Lon}).Add(by))
				epochs[k].Lat, epochs[k].Lon = moved.Lat, moved.Lon
			}
		}
		tr := build(t, epochs)
		if len(tr.Steps) != 2 {
			t.Errorf("doppler %v: %d steps, want the one out and the one back", doppler, len(tr.Steps))
			continue
		}
		for k, want := range []plane.Pt{by, by.Mul(-1)} {
			if d := tr.Steps[k].By.Dist(want); d > 0.1 || tr.Steps[k].T != []float64{150, 181}[k] {
				t.Errorf("doppler %v: step %+v, want by %v", doppler, tr.Steps[k], want)
			}
		}
		for u := 2.0; u < 398; u += 0.5 {
			s, ok := tr.At(u)
			if !ok {
				t.Fatalf("%v s: no position", u)
			}
			displaced := u >= 150 && u <= 180
			if beside := u > 149 && u < 181; beside && !displaced {
				continue // between the last fix before and the first after a step
			}
			if got := s.Flags.Has(remarks.GNSSJump); got != displaced {
				t.Errorf("doppler %v, %v s: flagged %v", doppler, u, got)
			}
			wide := math.Sqrt(s.Slow.Mean())
			if displaced && (wide < 4.9 || wide > 5.1) {
				t.Errorf("doppler %v, %v s: slow σ %.2f m beside a step of 5 m", doppler, u, wide)
			}
			if !displaced && wide > 0.05 {
				t.Errorf("doppler %v, %v s: slow σ %.2f m away from the step", doppler, u, wide)
			}
			if !displaced {
				if d := place(tr, s).Dist(strolled(u)); d > 0.05 {
					t.Errorf("doppler %v, %v s: %.2f m off", doppler, u, d)
				}
			}
		}
	}
}

func setVelocity(e *nmea.Epoch, v plane.Pt) {
	e.Speed = float32(v.Len())
	e.Course = float32(math.Mod(math.Atan2(v.E, v.N)*180/math.Pi+360, 360))
}

// A step of a wavelength or two is less than a person walks; only the receiver's
// own velocity tells it.
func TestSmallStepAgainstVelocity(t *testing.T) {
	by := plane.Pt{E: 0.3, N: 0.25}
	epochs := stroll(4, 400, 1, 0.005)
	for k := range epochs {
		u := float64(k)
		setVelocity(&epochs[k], strolled(u+0.01).Sub(strolled(u-0.01)).Mul(50))
		if k >= 200 && k < 260 {
			moved := origin.Inverse(origin.Forward(geodesy.Geo{Lat: epochs[k].Lat, Lon: epochs[k].Lon}).Add(by))
			epochs[k].Lat, epochs[k].Lon = moved.Lat, moved.Lon
		}
	}
	tr := build(t, epochs)
	for u := 5.0; u < 395; u++ {
		s, _ := tr.At(u)
		if got, want := s.Flags.Has(remarks.GNSSJump), u >= 200 && u < 260; got != want {
			t.Errorf("%v s: flagged %v, want %v", u, got, want)
		} else if want && s.Slow.Mean() < by.Dot(by) {
			t.Errorf("%v s: slow σ %.2f m, less than the step", u, math.Sqrt(s.Slow.Mean()))
		}
	}
}

// One or two wild fixes are set aside and counted, and move nothing.
func TestWildFixIsSetAside(t *testing.T) {
	clean := stroll(6, 200, 1, 0.005)
	wild := stroll(6, 200, 1, 0.005)
	for _, k := range []int{80, 120, 121} {
		g := origin.Inverse(origin.Forward(geodesy.Geo{Lat: wild[k].Lat, Lon: wild[k].Lon}).Add(plane.Pt{E: 9, N: 9}))
		wild[k].Lat, wild[k].Lon = g.Lat, g.Lon
	}
	a, b := build(t, clean), build(t, wild)
	if b.Rejected != 3 || len(b.Steps) != 0 {
		t.Errorf("%d rejected, %d steps; want 3 and none", b.Rejected, len(b.Steps))
	}
	for u := 1.0; u < 198; u += 0.5 {
		x, _ := a.At(u)
		y, ok := b.At(u)
		if !ok {
			continue // the silence of three seconds between good fixes
		}
		if d := place(a, x).Dist(place(b, y)); d > 0.15 { // a walker's freedom over 3 s
			t.Errorf("%v s: %.3f m moved", u, d)
		}
		if y.Flags.Has(remarks.GNSSJump) {
			t.Errorf("%v s: flagged for a fix that was set aside", u)
		}
	}
}

// A fix that stands between two changes of quality says nothing of how fast the antenna
// goes, so a vehicle's way is no step there; a step of 6 m is, for its neighbours tell.
func TestOneFixOfAnotherQuality(t *testing.T) {
	const pace = 14.0 // m/s
	for _, by := range []float64{0, 6} {
		epochs := stroll(8, 300, 1, 0.005)
		for k := range epochs {
			at := plane.Pt{E: pace * float64(k)}
			if k%50 == 25 {
				epochs[k].Quality = nmea.QualityRTKFloat
				at.N = by
			}
			g := origin.Inverse(at)
			epochs[k].Lat, epochs[k].Lon = g.Lat, g.Lon
		}
		tr := build(t, epochs)
		for k := range epochs {
			s, ok := tr.At(float64(k))
			if want := by > 0 && k%50 == 25; !ok || s.Flags.Has(remarks.GNSSJump) != want {
				t.Errorf("%v m aside, %d s: position %v, flags %v, want a jump: %v", by, k, ok, s.Flags, want)
			}
		}
	}
}
