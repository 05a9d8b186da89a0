package compare

import (
	"math"
	"slices"
)

// Stats sums up differences along a record.
type Stats struct {
	N          int     // stations
	Mean       float64 // bias, m
	Mean95     float64 // 95 % uncertainty of the mean, m
	SD         float64 // about the mean, m
	RMSE       float64 // m
	P95        float64 // 95th percentile of the size, m
	Max        float64 // largest size, m
	MaxSigned  float64 // the difference there
	MaxStation float64
	// Effective is how many independent stations the N are worth: neighbours
	// share most of their errors.
	Effective float64
}

// A value is a difference at a station.
type value struct {
	station float64
	v       float64
	u95     float64 // of both sides
	shared  float64 // the 95 % share of it that all stations have in common
	chain   int     // values of one chain are neighbours
}

// sumUp makes the statistics of values in the order of stations.
func sumUp(values []value) Stats {
	s := Stats{N: len(values), Mean: math.NaN(), Mean95: math.NaN(), SD: math.NaN(), RMSE: math.NaN(), P95: math.NaN(), Max: math.NaN(), MaxSigned: math.NaN(), MaxStation: math.NaN()}
	if s.N == 0 {
		return s
	}
	n := float64(s.N)
	var sum, squares, shared, own float64
	sizes := make([]float64, s.N)
	s.Max = -1
	for i, x := range values {
		sum += x.v
		squares += x.v * x.v
		shared += x.shared
		own += x.u95*x.u95 - x.shared*x.shared
		sizes[i] = math.Abs(x.v)
		if sizes[i] > s.Max {
			s.Max, s.MaxSigned, s.MaxStation = sizes[i], x.v, x.station
		}
	}
	slices.Sort(sizes)
	s.Mean, s.RMSE, s.P95 = sum/n, math.Sqrt(squares/n), quantile(sizes, 0.95)
	if s.N > 1 {
		s.SD = math.Sqrt(max(0, squares-n*s.Mean*s.Mean) / (n - 1))
	}
	s.Effective = effective(values, s.Mean)
	// What scatters averages out as far as stations are independent; it is not
	// believed to be less than both sides say. What all share does not.
	scatter := max(own/n/k95/k95, square(s.SD))
	s.Mean95 = math.Hypot(k95*math.Sqrt(scatter/s.Effective), shared/n)
	return s
}

func square(v float64) float64 {
	if !known(v) {
		return 0
	}
	return v * v
}

// effective gives the number of independent values that correlated ones are
// worth: n / (1 + 2Σρ), the sum taken over the lags until the autocorrelation
// falls to zero, of neighbours in the same chain (initial positive sequence; C.
// Geyer, Stat. Sci. 7, 1992). At least 1.
func effective(values []value, mean float64) float64 {
	n := len(values)
	if n < 3 {
		return 1
	}
	var variance float64
	for _, x := range values {
		variance += (x.v - mean) * (x.v - mean)
	}
	if variance == 0 {
		return 1
	}
	sum := 0.0
	for lag := 1; lag < n; lag++ {
		var c float64
		for i := range n - lag {
			if values[i].chain == values[i+lag].chain {
				c += (values[i].v - mean) * (values[i+lag].v - mean)
			}
		}
		if c <= 0 {
			break
		}
		sum += c / variance
	}
	return min(float64(n), max(1, float64(n)/(1+2*sum)))
}

// Shares of a located line's variance that all of a pass have in common, because
// satellite errors last for minutes: nearly nothing of an RTK fix, whose line's
// width is mostly pin-pointing; all of anything weaker. Common practice, no
// source; 0.3 is on the safe side of what repeated RTK passes show.
const (
	sharedFixed = 0.3
	sharedOther = 1.0
)

// shared95 is the 95 % share of a lateral uncertainty that does not average out:
// the slow part of the located line's, and the record's, of which nothing is
// known.
func (s *Station) shared95() float64 {
	record := s.Lateral95*s.Lateral95 - s.half*s.half
	return math.Sqrt(sharedOf(s.fixed)*s.half*s.half + max(0, record))
}

func sharedOf(fixed bool) float64 {
	if fixed {
		return sharedFixed
	}
	return sharedOther
}

// lateralValues and depthValues are the differences of stations.
func lateralValues(stations []Station, chain int) []value {
	out := make([]value, len(stations))
	for i := range stations {
		s := &stations[i]
		out[i] = value{s.Station, s.Lateral, s.Lateral95, s.shared95(), chain + s.piece}
	}
	return out
}

// depthValues leaves out stations where a depth is not known. A locator's
// calibration and the ground's are common to a line: its whole uncertainty is
// taken as shared.
func depthValues(stations []Station, chain int) []value {
	var out []value
	for i := range stations {
		if s := &stations[i]; known(s.DepthDiff) {
			out = append(out, value{s.Station, s.DepthDiff, s.Depth95, s.Depth95, chain + s.piece})
		}
	}
	return out
}
