package fuse

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
)

// reading is one on line W1: direct, peak, a metre deep, 50 mA.
func reading() *readings.Reading {
	nan := math.NaN()
	return &readings.Reading{
		Line: "W1", Utility: "water", Method: readings.Direct, Response: readings.Peak, Frequency: 8192,
		Depth: 1, Current: 50, Signal: nan, Gain: nan, Compass: nan, NullOffset: nan, BottomCoil: nan, TopCoil: nan,
		CoilSpacing: nan, CoilDepth: nan, CoilCurrent: nan, Diameter: nan, MeasuredDepth: nan, Lat: nan, Lon: nan, HDOP: nan,
	}
}

// placedAt puts readings at points with RTK fixes, 10 s apart.
func placedAt(pts []plane.Pt) []Placed {
	out := make([]Placed, len(pts))
	for k, p := range pts {
		out[k] = Placed{
			Reading: reading(), OK: true, At: p, Quality: nmea.QualityRTKFixed, T: 10 * float64(k),
			QuickVar: sq(0.005), SlowE: sq(0.012), SlowN: sq(0.012), SigmaH: 0.03,
		}
		out[k].Geo.H = 40
	}
	return out
}

// all is 0 … n−1.
func all(n int) []int {
	out := make([]int, n)
	for k := range out {
		out[k] = k
	}
	return out
}

// shaken adds to every point independent noise of σ an axis.
func shaken(rng *rand.Rand, pts []plane.Pt, sigma float64) []plane.Pt {
	out := make([]plane.Pt, len(pts))
	for k, p := range pts {
		out[k] = p.Add(plane.Pt{E: rng.NormFloat64(), N: rng.NormFloat64()}.Mul(sigma))
	}
	return out
}

// nearestMark is how far the nearest vertex lies from q.
func nearestMark(m []mark, q plane.Pt) float64 {
	d := math.Inf(1)
	for _, v := range m {
		d = min(d, v.at.Dist(q))
	}
	return d
}

// straightTrack is that of a walk eastward at 1 m/s, with an epoch a second.
func straightTrack(t testing.TB, seconds int) *track.Track {
	t.Helper()
	local := geodesy.NewLocal(geodesy.Geo{Lat: 47.5, Lon: -17.75})
	none := float32(math.NaN())
	var epochs []nmea.Epoch
	for k := range seconds {
		g := local.Inverse(plane.Pt{E: float64(k)})
		epochs = append(epochs, nmea.Epoch{
			Nanos: int64(k) * 1e9, Lat: g.Lat, Lon: g.Lon, Alt: 12, Sep: 30, SigmaN: none, SigmaE: none, SigmaU: none,
			HDOP: 1, VDOP: none, Age: none, Speed: none, Course: none, Quality: nmea.QualityRTKFixed,
		})
	}
	tr, err := track.Build(context.Background(), epochs)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// No line that the crew did not name gets a name that it gave to another.
func TestNamelessLinesTakeNoGivenName(t *testing.T) {
	rs := []readings.Reading{{Line: "Water-1", Utility: "water"}, {Utility: "water"}, {Utility: "water"}}
	ps := make([]Placed, len(rs))
	for i := range ps {
		ps[i] = Placed{Reading: &rs[i], OK: true, At: plane.Pt{E: 100 * float64(i)}, T: 1000 * float64(i)}
	}
	var ids []string
	for _, g := range groupLines(ps, 15) {
		ids = append(ids, g.id)
	}
	if want := []string{"Water-1", "water 2", "water 3"}; !slices.Equal(ids, want) {
		t.Errorf("lines %q, want %q", ids, want)
	}
}
