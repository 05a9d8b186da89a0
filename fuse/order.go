package fuse

import (
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// orderAlong puts the readings of one line in order along it, by place and not
// by time: the longest pass walked in one direction gives the spine, in the
// order in which it was walked – which keeps loops and crossings right – and
// every other reading is inserted where it lengthens the path least, nearest
// first. The result is a permutation of idx. Cost grows with the square of the
// number of readings of the line.
func orderAlong(ps []Placed, idx []int) []int {
	byTime := slices.Clone(idx)
	slices.SortStableFunc(byTime, func(a, b int) int {
		switch {
		case ps[a].T < ps[b].T:
			return -1
		case ps[a].T > ps[b].T:
			return 1
		}
		return a - b
	})
	passes := splitPasses(ps, byTime)
	longest := 0
	for k := range passes {
		if pathLength(ps, passes[k]) > pathLength(ps, passes[longest]) {
			longest = k
		}
	}
	var rest []int
	for k := range passes {
		if k != longest {
			rest = append(rest, passes[k]...)
		}
	}
	path := insertNearest(ps, slices.Clone(passes[longest]), rest)
	// A line walked once is in order already, bends and loops and all.
	if pathLength(ps, byTime) < onceWalked*pathLength(ps, path) {
		return byTime
	}
	return path
}

// onceWalked is by how much the way in order of time may exceed the shortest
// found and still be taken for a single walk along the line.
const onceWalked = 1.1

func pathLength(ps []Placed, run []int) float64 {
	var l float64
	for k := 1; k < len(run); k++ {
		l += ps[run[k]].At.Dist(ps[run[k-1]].At)
	}
	return l
}

// longPause, s, ends a pass whatever the direction: after it the slow GNSS
// error is another, and the crew may have gone anywhere.
const longPause = 180.0

// splitPasses cuts readings in order of time into passes: a pass ends at a long
// pause and where the walker turns back over ground that the pass has covered.
func splitPasses(ps []Placed, byTime []int) [][]int {
	var out [][]int
	var run []int
	for k, i := range byTime {
		if n := len(run); n > 0 {
			pause := ps[i].T-ps[run[n-1]].T > longPause
			if pause || turnsBack(ps, run, byTime[k:min(k+2, len(byTime))]) {
				out = append(out, run)
				run = nil
			}
		}
		run = append(run, i)
	}
	return append(out, run)
}

// turnsBack reports whether the next readings lie back over ground that the run
// has covered: the first of them against the direction of the run's end, and all
// beside its path. A sharp bend of the line turns as much, but leaves the path.
func turnsBack(ps []Placed, run, next []int) bool {
	n := len(run)
	if n < 2 {
		return false
	}
	last := ps[run[n-1]].At
	// Direction of the run's end over a few metres, so that scatter of a reading
	// pair does not decide.
	j := n - 2
	for j > 0 && ps[run[j]].At.Dist(last) < 4 && n-1-j < 5 {
		j--
	}
	ahead := last.Sub(ps[run[j]].At)
	step := ps[next[0]].At.Sub(last)
	if step.Dot(ahead) >= -0.5*step.Len()*ahead.Len() {
		return false
	}
	path := make(plane.Polyline, n)
	for k, i := range run {
		path[k] = ps[i].At
	}
	for _, i := range next {
		beside := 1 + 1.5*math.Sqrt(ps[i].SlowE+ps[i].SlowN)
		if foot, ok := path.Nearest(ps[i].At); !ok || foot.Dist > beside {
			return false
		}
	}
	return true
}

// insertNearest inserts rest into the path, nearest first, each where it
// lengthens the path least.
func insertNearest(ps []Placed, path, rest []int) []int {
	near := make([]float64, len(rest))
	for k, r := range rest {
		near[k] = math.Inf(1)
		for _, p := range path {
			near[k] = min(near[k], ps[r].At.Dist(ps[p].At))
		}
	}
	for len(rest) > 0 {
		k := 0
		for m := range rest {
			if near[m] < near[k] {
				k = m
			}
		}
		r := rest[k]
		path = slices.Insert(path, cheapest(ps, path, ps[r].At), r)
		rest = slices.Delete(rest, k, k+1)
		near = slices.Delete(near, k, k+1)
		for m := range rest {
			near[m] = min(near[m], ps[rest[m]].At.Dist(ps[r].At))
		}
	}
	return path
}

// cheapest is the index at which inserting q lengthens the open path least.
func cheapest(ps []Placed, path []int, q plane.Pt) int {
	best, at := q.Dist(ps[path[0]].At), 0
	if d := q.Dist(ps[path[len(path)-1]].At); d < best {
		best, at = d, len(path)
	}
	for k := 1; k < len(path); k++ {
		a, b := ps[path[k-1]].At, ps[path[k]].At
		if add := q.Dist(a) + q.Dist(b) - a.Dist(b); add < best {
			best, at = add, k
		}
	}
	return at
}

// splitGaps cuts an ordered path where neighbours lie further apart than limit.
func splitGaps(ps []Placed, path []int, limit float64) [][]int {
	var out [][]int
	from := 0
	for k := 1; k < len(path); k++ {
		if ps[path[k]].At.Dist(ps[path[k-1]].At) > limit {
			out = append(out, path[from:k:k])
			from = k
		}
	}
	return append(out, path[from:])
}
