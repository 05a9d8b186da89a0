package compare

import (
	"cmp"
	"math"
	"slices"
)

// exactMost is up to how many spans that depend on each other the best choice is
// looked for exactly; beyond, and after maxNodes steps, improvements of a good
// one must do.
const (
	exactMost = 40
	maxNodes  = 100_000
	maxChain  = 100
)

func rootSquare(s *span) float64 {
	var sum float64
	for i := range s.samples {
		sum += s.samples[i].lateral * s.samples[i].lateral
	}
	return math.Sqrt(sum / float64(len(s.samples)))
}

// best chooses from a group the spans that do not exclude each other and gain
// most together.
func (m *matching) best(group []int) []int {
	if len(group) == 1 {
		return group
	}
	order := slices.Clone(group)
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(m.spans[b].weight, m.spans[a].weight) })
	c := &choice{m: m, in: map[int]bool{}}
	for _, i := range order {
		if len(c.against(i)) == 0 {
			c.in[i] = true
		}
	}
	for range len(group) {
		if !c.improve(order) {
			break
		}
	}
	chosen := c.list(order)
	if len(group) <= exactMost {
		return m.exact(order, chosen)
	}
	return chosen
}

// A choice is a set of spans that do not exclude each other.
type choice struct {
	m  *matching
	in map[int]bool
}

func (c *choice) list(order []int) []int {
	var out []int
	for _, i := range order {
		if c.in[i] {
			out = append(out, i)
		}
	}
	return out
}

// against lists the chosen spans that exclude one.
func (c *choice) against(i int) []int {
	var out []int
	for _, j := range c.m.conflicts[i] {
		if c.in[j] {
			out = append(out, j)
		}
	}
	return out
}

// improve takes a span in that is not chosen and lets those that it drives out
// find other places, in a chain, if that gains.
func (c *choice) improve(order []int) bool {
	for _, i := range order {
		if c.in[i] {
			continue
		}
		before := c.list(order)
		if c.take(i, nil) > 1e-9 {
			return true
		}
		c.in = map[int]bool{}
		for _, j := range before {
			c.in[j] = true
		}
	}
	return false
}

// take puts a span in, with those that the chain before it put in, and gives
// what that gains in all.
func (c *choice) take(i int, chain []int) float64 {
	gain := c.m.spans[i].weight
	out := c.against(i)
	for _, j := range out {
		delete(c.in, j)
		gain -= c.m.spans[j].weight
	}
	c.in[i] = true
	chain = append(chain, i)
	if len(chain) > maxChain {
		return gain
	}
	for _, j := range out {
		// Whoever was driven out looks for the best other partner of either line
		// that the chain has not taken.
		next, most := -1, 0.0
		for _, k := range c.m.conflicts[j] {
			if s := &c.m.spans[k]; !c.in[k] && s.weight > most && !c.m.anyAgainst(k, chain) {
				next, most = k, s.weight
			}
		}
		if next >= 0 {
			gain += c.take(next, chain)
		}
	}
	return gain
}

// anyAgainst reports whether a span is one of some or excludes one of them.
func (m *matching) anyAgainst(k int, some []int) bool {
	for _, i := range some {
		if _, found := slices.BinarySearch(m.conflicts[k], i); found || i == k {
			return true
		}
	}
	return false
}

// exact looks for the best choice by branch and bound, beginning with a good one.
func (m *matching) exact(order, good []int) []int {
	n := len(order)
	at := map[int]int{}
	for k, i := range order {
		at[i] = k
	}
	excludes := make([]uint64, n)
	for k, i := range order {
		for _, j := range m.conflicts[i] {
			if o, ok := at[j]; ok {
				excludes[k] |= 1 << o
			}
		}
	}
	var best float64
	var bestSet uint64
	for _, i := range good {
		best += m.spans[i].weight
		bestSet |= 1 << at[i]
	}
	nodes := 0
	var branch func(k int, free, set uint64, gain, rest float64)
	branch = func(k int, free, set uint64, gain, rest float64) {
		if nodes++; nodes > maxNodes {
			return
		}
		if gain > best+1e-9 {
			best, bestSet = gain, set
		}
		for ; k < n && free>>k&1 == 0; k++ {
		}
		if k == n || gain+rest <= best+1e-9 {
			return
		}
		w := m.spans[order[k]].weight
		left := free &^ (1 << k)
		with, lost := left, w
		for o := k + 1; o < n; o++ {
			if left>>o&1 == 1 && excludes[k]>>o&1 == 1 {
				with &^= 1 << o
				lost += m.spans[order[o]].weight
			}
		}
		branch(k+1, with, set|1<<k, gain+w, rest-lost)
		branch(k+1, left, set, gain, rest-w)
	}
	var all float64
	for _, i := range order {
		all += m.spans[i].weight
	}
	branch(0, 1<<n-1, 0, 0, all)
	var out []int
	for k, i := range order {
		if bestSet>>k&1 == 1 {
			out = append(out, i)
		}
	}
	return out
}
