package fuse

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tracemap/geodesy/plane"
	"tracemap/readings"
	"tracemap/remarks"
)

// A group is the readings of one line before anything is fitted.
type group struct {
	id      string
	members []int // placed readings on the line, in the order of the log
	byPlace bool
}

// groupLines sorts the placed readings on lines, but those that a person set
// aside, into lines: by the name that the crew gave, else by utility, method,
// frequency, time and place. Spelling that differs by case, blanks and dashes only
// is one name.
func groupLines(ps []Placed, maxGap float64) []group {
	var out []group
	index := map[string]int{}
	var nameless []int
	for i := range ps {
		if !ps[i].OK || !ps[i].Reading.OnLine() || ps[i].Flags.Has(remarks.SetAsideByHand) {
			continue
		}
		key := nameKey(ps[i].Reading.Line)
		if key == "" {
			nameless = append(nameless, i)
			continue
		}
		k, ok := index[key]
		if !ok {
			k = len(out)
			index[key] = k
			out = append(out, group{id: strings.TrimSpace(ps[i].Reading.Line)})
		}
		out[k].members = append(out[k].members, i)
	}
	return append(out, groupNameless(ps, nameless, maxGap, index)...)
}

func nameKey(name string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '\t', '-', '_', '.', '/':
			return -1
		}
		return r
	}, strings.ToLower(name))
}

// groupNameless joins readings that follow one another in time within the gap
// and agree in utility, method and frequency into runs, and runs of one kind
// that lie on one another into lines. Their names are none that the crew gave.
func groupNameless(ps []Placed, idx []int, maxGap float64, given map[string]int) []group {
	slices.SortStableFunc(idx, func(a, b int) int { return compare(ps[a].T, ps[b].T) })
	var runs [][]int
	last := map[string]int{} // kind → its latest run
	for _, i := range idx {
		k := kindOf(ps[i].Reading)
		if r, ok := last[k]; ok {
			prev := runs[r][len(runs[r])-1]
			if ps[i].At.Dist(ps[prev].At) <= maxGap && ps[i].T-ps[prev].T < longPause {
				runs[r] = append(runs[r], i)
				continue
			}
		}
		last[k] = len(runs)
		runs = append(runs, []int{i})
	}
	merged := mergeRuns(ps, runs)
	count := map[string]int{}
	var out []group
	for _, m := range merged {
		u := string(ps[m[0]].Reading.Utility)
		if u == "" {
			u = "unknown"
		}
		var id string
		for taken := true; taken; _, taken = given[nameKey(id)] {
			count[u]++
			id = fmt.Sprintf("%s %d", u, count[u])
		}
		slices.Sort(m)
		out = append(out, group{id: id, members: m, byPlace: true})
	}
	return out
}

func kindOf(r *readings.Reading) string {
	return fmt.Sprintf("%s|%s|%.0f", r.Utility, r.Method, r.Frequency)
}

// mergeRuns puts runs of one kind together when most of the shorter one lies
// within reach of the longer one.
func mergeRuns(ps []Placed, runs [][]int) [][]int {
	order := make([]int, len(runs))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return len(runs[b]) - len(runs[a]) })
	var out [][]int
	for _, k := range order {
		home := -1
		for m := range out {
			if kindOf(ps[out[m][0]].Reading) == kindOf(ps[runs[k][0]].Reading) && liesOn(ps, runs[k], out[m]) {
				home = m
				break
			}
		}
		if home >= 0 {
			out[home] = append(out[home], runs[k]...)
		} else {
			out = append(out, slices.Clone(runs[k]))
		}
	}
	return out
}

// liesOn reports whether more than half of run a lies beside the path through b.
func liesOn(ps []Placed, a, b []int) bool {
	if len(b) < 2 {
		return len(a) == 1 && ps[a[0]].At.Dist(ps[b[0]].At) < 1
	}
	along := make(plane.Polyline, len(b))
	for k, i := range b {
		along[k] = ps[i].At
	}
	near := 0
	for _, i := range a {
		limit := 0.5 + 2*math.Sqrt(ps[i].SlowE+ps[i].SlowN+ps[i].QuickVar)
		if foot, ok := along.Nearest(ps[i].At); ok && foot.Dist < min(limit, 3) {
			near++
		}
	}
	return 2*near > len(a)
}

// describe fills a line's attributes from its readings: the commonest words, and
// the frequency where all agree.
func describe(l *Line, ps []Placed, g group) {
	l.ID = g.id
	utilities, methods := map[string]int{}, map[string]int{}
	l.Frequency = math.NaN()
	for n, i := range g.members {
		r := ps[i].Reading
		utilities[string(r.Utility)]++
		methods[string(r.Method)]++
		switch {
		case n == 0:
			l.Frequency = r.Frequency
		case l.Frequency != r.Frequency:
			l.Frequency = math.NaN()
		}
	}
	l.Utility = readings.Utility(commonest(utilities))
	if l.Utility == "" {
		l.Utility = "unknown"
	}
	l.Method = readings.Method(commonest(methods))
	if g.byPlace {
		l.Flags |= remarks.GroupedByPlace
	}
}

// commonest is the most frequent word, the first in the alphabet among equals.
func commonest(count map[string]int) string {
	best, n := "", 0
	for w, c := range count {
		if c > n || c == n && w < best {
			best, n = w, c
		}
	}
	return best
}
