package fieldlogs

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// logs is the folder of receivers' logs.
func logs(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("TRACEMAP_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "..", "shared")
	}
	dir = filepath.Join(dir, "nmea")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the folder of receivers' logs is missing: %v", err)
		}
		t.Skipf("no folder of receivers' logs here: %v", err)
	}
	return dir
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.4g, want %.4g ± %g", what, got, want, tolerance)
	}
}

// made is a receiver at rest with a known noise: Gauss–Markov with σ = 1 m and
// τ = 40 s, plus σ = 0.2 m new at every epoch, 3 m off to the north.
func made(n int) *series {
	rng := rand.New(rand.NewPCG(3, 4))
	s := &series{log: "made", axes: "E, N"}
	phi := math.Exp(-1.0 / 40)
	e, f := rng.NormFloat64(), rng.NormFloat64()
	for i := range n {
		e = phi*e + math.Sqrt(1-phi*phi)*rng.NormFloat64()
		f = phi*f + math.Sqrt(1-phi*phi)*rng.NormFloat64()
		epoch := nmea.Epoch{Quality: nmea.QualityAutonomous, HDOP: 1, SigmaN: float32(math.NaN()), SigmaE: float32(math.NaN())}
		s.add(epoch, float64(i), e+0.2*rng.NormFloat64(), 3+f+0.2*rng.NormFloat64())
	}
	return s
}

// The statistics give back the noise that was put in. Second differences of the
// slow part leak into it by its own autocovariance, (6 − 8φ + 2φ²)/6.
func TestKnownNoise(t *testing.T) {
	n := made(40000).noise(nmea.QualityAutonomous) // 1000 τ
	near(t, "bias", n.Bias, 3, 0.15)
	near(t, "spread", n.Spread, math.Sqrt(1+0.2*0.2), 0.06)
	phi := math.Exp(-1.0 / 40)
	leak := (6 - 8*phi + 2*phi*phi) / 6 // of a Gauss–Markov process of variance 1
	near(t, "quick", n.Quick, math.Sqrt(0.2*0.2+leak), 0.005)
	near(t, "τ", n.Tau, 40*(1+math.Log(1/1.04)), 4)
	near(t, "claimed", n.Claimed, 1.8, 1e-9) // the table's, HDOP 1
}

func find(t *testing.T, list []Noise, log, against, axes string, q nmea.Quality) Noise {
	t.Helper()
	i := slices.IndexFunc(list, func(n Noise) bool {
		return n.Log == log && n.Against == against && n.Axes == axes && n.Quality == q
	})
	if i < 0 {
		t.Fatalf("no row %s, %s, %s, %v", log, against, axes, q)
	}
	return list[i]
}

// Figures that come with the logs, computed by other programs (README of the
// logs' folder): the stated place of the receiver in Dunedin is 2.9 m away and
// the scatter 0.1 m; two antennas on one car are 0.46 m apart along the way and
// 0.11 m across, with 0.05 m of scatter.
func TestLogsAgainstTheirDescriptions(t *testing.T) {
	list, err := Measure(t.Context(), logs(t))
	if err != nil {
		t.Fatal(err)
	}
	dunedin := find(t, list, "f9p-static-gst.log", "stated place", "E, N", nmea.QualityAutonomous)
	near(t, "Dunedin, m from the stated place", dunedin.Bias, 2.9, 0.1)
	near(t, "Dunedin, scatter of one axis", dunedin.Spread, 0.1, 0.05)
	along := find(t, list, driveLog, "reference track", "along", nmea.QualityRTKFixed)
	near(t, "car, along", along.Bias, 0.46, 0.03)
	near(t, "car, along, scatter", along.Spread, 0.05, 0.02)
	across := find(t, list, driveLog, "reference track", "across", nmea.QualityRTKFixed)
	near(t, "car, across", across.Bias, 0.11, 0.04) // on straights only; all of the way there
	// Every log says the same: what is new at every epoch is a small part.
	for _, n := range list {
		if !(n.Share < 0.15) {
			t.Errorf("%s, %s, %v: a share of %.3f is quick", n.Log, n.Against, n.Quality, n.Share)
		}
	}
}

// The reference's curve goes through its epochs and is a circle between them: a
// car at 10 m/s on 20 m of radius, one epoch a second.
func TestPathIsSmooth(t *testing.T) {
	p := &path{from: 0}
	circle := func(s float64) plane.Pt { sin, cos := math.Sincos(s / 2); return plane.Pt{E: 20 * cos, N: 20 * sin} }
	for i := range 20 {
		p.t, p.at = append(p.t, float64(i)), append(p.at, circle(float64(i)))
	}
	for i := range p.at {
		a, b := max(0, i-1), min(len(p.at)-1, i+1)
		p.vel = append(p.vel, p.at[b].Sub(p.at[a]).Mul(1/(p.t[b]-p.t[a])))
	}
	for _, s := range []float64{3, 3.5, 7.25} {
		q, _, ok := p.where(int64(s * 1e9))
		if !ok || q.Dist(circle(s)) > 0.05 { // the chord's middle is 0.62 m inside
			t.Errorf("at %.2f s: %v, want %v", s, q, circle(s))
		}
	}
	if _, _, ok := p.where(25e9); ok {
		t.Error("a place beyond the end")
	}
}

// Laid on logs without any error, the line is where it should be, and the
// widths of the locating alone hold.
func TestLaidOnAPerfectLog(t *testing.T) {
	s := &series{log: "made", axes: "E, N"}
	for i := range 240 {
		e := nmea.Epoch{
			Nanos: 1_600_000_000_000_000_000 + int64(i)*1e9, Lat: 47.5, Lon: -17.75, Quality: nmea.QualityRTKFixed, HDOP: 0.8,
			SigmaN: float32(math.NaN()), SigmaE: float32(math.NaN()), Alt: 70,
		}
		s.add(e, float64(i), 0, 0)
	}
	var sum []Laid
	for h := range headings {
		one, err := walkOn(s, h).locate(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		sum = gather(sum, one)
	}
	if len(sum) != 1 || sum[0].Quality != nmea.QualityRTKFixed {
		t.Fatalf("%+v", sum)
	}
	length := laidSpeed * 239.0
	near(t, "length, m a walk", sum[0].Length/headings, length, 0.06*length) // the last readings are not at the end
	// Pin-pointing of 0.063 m, half of it smoothed away.
	if r := sum[0].RMSE(); r > laidPin || r < laidPin/5 {
		t.Errorf("RMSE %.3f m with pin-pointing of %.3f m", r, laidPin)
	}
	if c := sum[0].Coverage(); c < 0.9 {
		t.Errorf("coverage %.3f", c)
	}
}

// What is laid on the real logs is reported whole: each log that has a
// reference, each quality, and lengths that are those of the ways.
func TestLaidOnRealLogs(t *testing.T) {
	list, err := Lay(t.Context(), logs(t))
	if err != nil {
		t.Fatal(err)
	}
	length := map[string]float64{}
	for _, l := range list {
		length[l.Log] += l.Length
		if !(l.MeanHalf() > 0) || !(l.RMSE() < 20) {
			t.Errorf("%+v", l)
		}
	}
	// 2,853 s of walking at 1.3 m/s with halts; 28 s and 95 s at 0.8 m/s in twelve directions, twice and once.
	near(t, "phone walk, m", length[walkLog], 3400, 400)
	near(t, "Dunedin, m", length["f9p-static-gst.log"], 2*12*28*0.8, 80)
	near(t, "static-gst.log, m", length["static-gst.log"], 12*95*0.8, 90)
	// A car's RTK with the lever arm known is the one log with a reference that is
	// an order better than a locator. Some twenty straights, whose shares spread by
	// 0.2, give the mean to 0.045: 95 % less three times that, and less what is
	// known of this log, whose scatter is twice what the table says of RTK.
	i := slices.IndexFunc(list, func(l Laid) bool {
		return l.Log == driveLog && l.Against == "reference track, lever arm known" && l.Quality == nmea.QualityRTKFixed
	})
	if i < 0 || list[i].Coverage() < 0.75 {
		t.Errorf("RTK on the car: %+v", list)
	}
	// The fix changes 60 times while the car is under way. Its float solution, aided by
	// dead reckoning, scatters by 0.06 m on straights; taken for a start from rest at each
	// change, the line was 1.3 m off on average and 75 % of it within the width.
	i = slices.IndexFunc(list, func(l Laid) bool {
		return l.Log == driveLog && l.Against == "reference track, lever arm known" && l.Quality == nmea.QualityRTKFloat
	})
	if i < 0 || list[i].Coverage() < 0.85 || list[i].RMSE() > 0.3 {
		t.Errorf("float on the car: %+v", list)
	}
}

// People who walk do not make receivers jump: at most one jump an hour on each log of
// a walk that a person may have made within that second.
func TestWalksDoNotJump(t *testing.T) {
	list, err := WalkedJumps(t.Context(), logs(t))
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != len(walks) {
		t.Fatalf("%d logs", len(list))
	}
	for _, j := range list {
		t.Logf("%+v", j)
		if j.Hours < 0.1 || float64(j.Walked) > max(1, j.Hours) {
			t.Errorf("%s: %d false jumps in %.2f h", j.Log, j.Walked, j.Hours)
		}
	}
}
