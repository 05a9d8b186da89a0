package fieldlogs

import (
	"context"
	"math"

	"tracemap/fuse/noise"
	"tracemap/nmea"
)

// Noise is how large a log's errors are on fixes of one quality, and how long
// they last. All σ are of one axis, m.
type Noise struct {
	Log, Against, Axes string
	Quality            nmea.Quality
	Epochs             int
	Seconds            float64 // from the first to the last
	Bias               float64 // length of the mean error, m; NaN where the reference is the own mean
	Spread             float64 // σ about the mean
	// Quick is the σ that second differences give for what is new at every epoch:
	// the variance of e(t+1) − 2e(t) + e(t−1) is 6σ² for such errors, while errors
	// that last cancel. Share is Quick² ÷ Spread².
	Quick, Share float64
	// Tau is the time, s, after which the autocorrelation of the errors about
	// their mean falls below 1/e. A log of a few τ makes it too short, because its
	// mean follows the error. NaN where it does not fall so far in half the log.
	Tau float64
	// Claimed is the median of what the program believes before it sees the data:
	// GST where there is one, else the table's σ times HDOP.
	Claimed float64
}

// Measure reads the logs in a folder and measures their noise.
func Measure(ctx context.Context, dir string) ([]Noise, error) {
	list, err := all(ctx, dir)
	if err != nil {
		return nil, err
	}
	var out []Noise
	for _, s := range list {
		for _, q := range s.kinds() {
			if one := s.of(q); len(one.times) >= fewest {
				out = append(out, one.noise(q))
			}
		}
	}
	return out, nil
}

// fewest epochs that say anything about noise.
const fewest = 25

func (s *series) noise(q nmea.Quality) Noise {
	n := Noise{
		Log: s.log, Against: s.against, Axes: s.axes, Quality: q, Epochs: len(s.times),
		Seconds: s.times[len(s.times)-1] - s.times[0], Bias: math.NaN(),
	}
	var bias, spread, quick float64
	centred := make([][]float64, len(s.errs))
	for a, axis := range s.errs {
		var mean float64
		for _, v := range axis {
			mean += v / float64(len(axis))
		}
		bias += mean * mean
		for _, v := range axis {
			centred[a] = append(centred[a], v-mean)
			spread += (v - mean) * (v - mean) / float64(len(axis)*len(s.errs))
		}
		quick += s.quick(axis) / float64(len(s.errs))
	}
	if !s.centred {
		n.Bias = math.Sqrt(bias)
	}
	n.Spread, n.Quick = math.Sqrt(spread), math.Sqrt(quick)
	n.Share = quick / spread
	n.Tau = s.tau(centred)
	var claimed []float64
	for i := range s.epochs {
		h, _ := noise.Of(&s.epochs[i])
		claimed = append(claimed, math.Sqrt(h.Mean()))
	}
	n.Claimed = median(claimed)
	return n
}

// quick is the mean variance that second differences over three epochs one
// second apart give.
func (s *series) quick(axis []float64) float64 {
	var sum float64
	n := 0
	for i := 2; i < len(axis); i++ {
		if s.times[i]-s.times[i-2] > 2.1 {
			continue
		}
		d := axis[i] - 2*axis[i-1] + axis[i-2]
		sum += d * d / 6
		n++
	}
	return sum / float64(n)
}

// tau is where the autocorrelation, all axes together, falls below 1/e.
func (s *series) tau(centred [][]float64) float64 {
	index := map[int]int{} // by whole seconds
	for i, t := range s.times {
		index[int(math.Round(t))] = i
	}
	product := func(lag int) float64 {
		var sum float64
		n := 0
		for i, t := range s.times {
			k, ok := index[int(math.Round(t))+lag]
			if !ok {
				continue
			}
			for _, axis := range centred {
				sum += axis[i] * axis[k]
			}
			n++
		}
		if n < fewest/2 {
			return math.NaN()
		}
		return sum / float64(n)
	}
	zero, last := product(0), 1.0
	for lag := 1; lag < int(s.times[len(s.times)-1]-s.times[0])/2; lag++ {
		r := product(lag) / zero
		if math.IsNaN(r) {
			return math.NaN()
		}
		if r < 1/math.E {
			return float64(lag) - 1 + (last-1/math.E)/(last-r)
		}
		last = r
	}
	return math.NaN()
}
