package compare

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"tracemap/present"
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
	weight  float64 // that it counts with
}

// sumUp returns the statistics of values in the order of stations.
func sumUp(values []value) Stats {
	s := Stats{N: len(values), Mean: math.NaN(), Mean95: math.NaN(), SD: math.NaN(), RMSE: math.NaN(), P95: math.NaN(), Max: math.NaN(), MaxSigned: math.NaN(), MaxStation: math.NaN()}
	if s.N == 0 {
		return s
	}
	var all, sum, squares, shared, own float64
	s.Max = -1
	for _, x := range values {
		all += x.weight
		sum += x.weight * x.v
		squares += x.weight * x.v * x.v
		shared += x.weight * x.shared
		own += x.weight * (x.u95*x.u95 - x.shared*x.shared)
		if size := math.Abs(x.v); size > s.Max {
			s.Max, s.MaxSigned, s.MaxStation = size, x.v, x.station
		}
	}
	s.Mean, s.RMSE, s.P95 = sum/all, math.Sqrt(squares/all), sizeQuantile(values, 0.95)
	if n := float64(s.N); s.N > 1 {
		s.SD = math.Sqrt(max(0, squares/all-s.Mean*s.Mean) * n / (n - 1))
	}
	s.Effective = effective(values, s.Mean)
	// What scatters averages out as far as stations are independent; it is not
	// believed to be less than both sides say. What all share does not.
	scatter := max(own/all/present.Line95/present.Line95, square(s.SD))
	s.Mean95 = math.Hypot(present.Line95*math.Sqrt(scatter/s.Effective), shared/all)
	return s
}

// sizeQuantile is the p-quantile of the sizes of weighted values: that of quantile
// where all weights are equal.
func sizeQuantile(values []value, p float64) float64 {
	v := slices.Clone(values)
	slices.SortStableFunc(v, func(a, b value) int { return cmp.Compare(math.Abs(a.v), math.Abs(b.v)) })
	at := make([]float64, len(v)) // the middle of each one's share of the whole weight
	for i := 1; i < len(v); i++ {
		at[i] = at[i-1] + (v[i-1].weight+v[i].weight)/2
	}
	target := p * at[len(at)-1]
	i := max(1, sort.SearchFloat64s(at, target))
	if i >= len(v) || at[i] == at[i-1] {
		return math.Abs(v[min(i, len(v)-1)].v)
	}
	return lerp(math.Abs(v[i-1].v), math.Abs(v[i].v), (target-at[i-1])/(at[i]-at[i-1]))
}

func square(v float64) float64 {
	if !present.Known(v) {
		return 0
	}
	return v * v
}

// effective returns the number of independent values that correlated ones are
// worth: n / (1 + 2Σρ), the sum taken over the lags until the autocorrelation
// falls to zero, of neighbours in the same chain (initial positive sequence; C.
// Geyer, Stat. Sci. 7, 1992). About the line's own mean the autocorrelation of a
// short line is far too small, so that the number is never more than what errors
// hanging together over blockLength are worth along it. At least 1.
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
	return min(float64(n), max(1, float64(n)/(1+2*sum)), mostWorth(values))
}

// mostWorth is what the values of each chain are worth along its length, summed.
func mostWorth(values []value) float64 {
	most := 0.0
	for from := 0; from < len(values); {
		lo, hi := values[from].station, values[from].station
		to := from
		for ; to < len(values) && values[to].chain == values[from].chain; to++ {
			lo, hi = min(lo, values[to].station), max(hi, values[to].station)
		}
		most += worth(hi - lo)
		from = to
	}
	return most
}

// worth is how many independent values the values along a length, m, are worth
// when their correlation falls as exp(−d/blockLength): L²/(2(L − 1 + e^−L)), with L
// in that unit, from the variance of the mean of a first-order Markov process (E.
// Vanmarcke, Random Fields, 1983, §5.1; from memory). At least 1.
func worth(length float64) float64 {
	l := length / blockLength
	if l < 1e-3 {
		return 1
	}
	return max(1, l*l/(2*(l-1+math.Exp(-l))))
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

// lateralValues and depthValues are the differences of stations, each of which
// counts once.
func lateralValues(stations []Station) []value {
	out := make([]value, len(stations))
	for i := range stations {
		s := &stations[i]
		out[i] = value{s.Station, s.Lateral, s.Lateral95, s.shared95(), s.chain, 1}
	}
	return out
}

// depthValues leaves out stations where a depth is not known. A locator's
// calibration and the ground's are common to a line: its whole uncertainty is
// taken as shared.
func depthValues(stations []Station) []value {
	var out []value
	for i := range stations {
		if s := &stations[i]; present.Known(s.DepthDiff) {
			out = append(out, value{s.Station, s.DepthDiff, s.Depth95, s.Depth95, s.chain, 1})
		}
	}
	return out
}
