package plane

import (
	"math"
	"sort"
)

// Polyline is a row of points joined by straights. Its station is the length
// along it from its first point. Repeated points are allowed and have no
// direction of their own. The methods walk the points each time, at a cost of
// n; Index answers many questions about the same lines faster.
type Polyline []Pt

// Length is the station of the last point, m; 0 for one point or none.
func (l Polyline) Length() float64 {
	var s float64
	for i := 1; i < len(l); i++ {
		s += l[i].Dist(l[i-1])
	}
	return s
}

// Stations gives the station of every point, m, from 0.
func (l Polyline) Stations() []float64 {
	s := make([]float64, len(l))
	for i := 1; i < len(l); i++ {
		s[i] = s[i-1] + l[i].Dist(l[i-1])
	}
	return s
}

// Closed reports whether the line is a ring: its last point is its first, with
// at least two others between.
func (l Polyline) Closed() bool { return len(l) >= 4 && l[0] == l[len(l)-1] }

// At gives the point at a station and the unit direction there. A station
// before the start or past the end gives that end. At a vertex the direction
// is that of the straight that begins there, at the end that of the last one.
// A line of one place has the direction 0, 0; an empty line and a station of
// NaN give NaN.
func (l Polyline) At(station float64) (p, dir Pt) {
	return pointAt(l, l.Stations(), station)
}

// Resample gives the points at the given stations, which need be in no order.
// Vertices between them are cut off.
func (l Polyline) Resample(stations []float64) Polyline {
	own := l.Stations()
	out := make(Polyline, len(stations))
	for i, s := range stations {
		out[i], _ = pointAt(l, own, s)
	}
	return out
}

// Every gives the stations 0, step, 2·step, … of a line of the given length,
// and the length itself as the last. The last interval is between 0.5 and 1.5
// steps long, except that a line shorter than half a step has its two ends
// only, and one of no length the station 0 only. The step must be positive.
func Every(length, step float64) []float64 {
	if !(length > 0) {
		return []float64{0}
	}
	n := max(1, int(math.Round(length/step)))
	s := make([]float64, n+1)
	for i := range n {
		s[i] = float64(i) * step
	}
	s[n] = length
	return s
}

// pointAt is At for known stations, at a cost of log n.
func pointAt(l Polyline, stations []float64, s float64) (p, dir Pt) {
	if len(l) == 0 || math.IsNaN(s) {
		return Pt{math.NaN(), math.NaN()}, Pt{math.NaN(), math.NaN()}
	}
	total := stations[len(l)-1]
	s = min(max(s, 0), total)
	// The straight before the first station beyond s; at the end, where there
	// is none, the straight before the first station equal to the length. Both
	// skip straights without length.
	i := sort.Search(len(l), func(i int) bool { return stations[i] > s || stations[i] >= total }) - 1
	if i < 0 {
		return l[0], Pt{} // no length at all
	}
	t := (s - stations[i]) / (stations[i+1] - stations[i])
	return l[i].Lerp(l[i+1], t), l[i+1].Sub(l[i]).Unit()
}
