package compare

import (
	"cmp"
	"slices"
	"strings"

	"tracemap/geodesy/plane"
)

// A matching says which spans are meant. Along a record no two located parts
// stand at one place, and along a part no two records.
type matching struct {
	spans     []span
	chosen    []int       // indices of spans, by chain and station
	conflicts [][]int     // of each span, ascending
	doubts    map[int]int // a chosen span → the other one that might be meant
}

// overlap tells when two spans on one line exclude each other: when they share
// more than a metre and more than a fifth of the shorter one.
func overlap(a0, a1, b0, b1 float64) bool {
	shared := min(a1, b1) - max(a0, b0)
	return shared > 1 && shared > 0.2*min(a1-a0, b1-b0) || shared > 0.5*min(a1-a0, b1-b0)
}

// newMatching finds out which spans exclude each other.
func newMatching(spans []span) *matching {
	m := &matching{spans: spans, conflicts: make([][]int, len(spans)), doubts: map[int]int{}}
	link := func(key func(*span) [2]int, from, to func(*span) float64) {
		order := make([]int, len(spans))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int {
			ka, kb := key(&spans[a]), key(&spans[b])
			return cmp.Or(cmp.Compare(ka[0], kb[0]), cmp.Compare(ka[1], kb[1]), cmp.Compare(from(&spans[a]), from(&spans[b])))
		})
		for i, a := range order {
			for _, b := range order[i+1:] {
				sa, sb := &spans[a], &spans[b]
				if key(sa) != key(sb) || from(sb) >= to(sa) {
					break
				}
				if overlap(from(sa), to(sa), from(sb), to(sb)) {
					m.conflicts[a], m.conflicts[b] = append(m.conflicts[a], b), append(m.conflicts[b], a)
				}
			}
		}
	}
	link(func(s *span) [2]int { return [2]int{s.chain} }, func(s *span) float64 { return s.s0 }, func(s *span) float64 { return s.s1 })
	link(func(s *span) [2]int { return [2]int{s.part} }, func(s *span) float64 { return s.t0 }, func(s *span) float64 { return s.t1 })
	for i := range m.conflicts {
		slices.Sort(m.conflicts[i])
		m.conflicts[i] = slices.Compact(m.conflicts[i])
	}
	return m
}

// match chooses the spans that together explain most: by name first, else by
// length, nearness and utility. A pairing gains its length times the square of
// the search distance less the mean square of its own; squares, because then
// neighbours that are all displaced keep their order.
func (m *matching) match(shift plane.Pt, opt *Options) {
	for i := range m.spans {
		s := &m.spans[i]
		gain := opt.Search*opt.Search - s.square(shift)
		switch {
		case s.byID:
			gain += 4 * opt.Search * opt.Search
		case s.kin == 1:
			gain -= 0.25 * opt.Search * opt.Search
		}
		s.weight = gain * s.length()
	}
	m.chosen = m.chosen[:0]
	for _, group := range m.groups() {
		m.chosen = append(m.chosen, m.best(group)...)
	}
	slices.SortFunc(m.chosen, func(a, b int) int {
		x, y := &m.spans[a], &m.spans[b]
		return cmp.Or(cmp.Compare(x.chain, y.chain), cmp.Compare(x.s0, y.s0), cmp.Compare(x.part, y.part))
	})
}

// groups are the spans that depend on each other, each group and all of them in
// the order of their first span. Spans without a gain are left out.
func (m *matching) groups() [][]int {
	seen := make([]bool, len(m.spans))
	var out [][]int
	for i := range m.spans {
		if seen[i] || m.spans[i].weight <= 0 {
			continue
		}
		seen[i] = true
		group := []int{i}
		for k := 0; k < len(group); k++ {
			for _, j := range m.conflicts[group[k]] {
				if !seen[j] && m.spans[j].weight > 0 {
					seen[j] = true
					group = append(group, j)
				}
			}
		}
		slices.Sort(group)
		out = append(out, group)
	}
	return out
}

// doubt notes for each chosen span the other one that could as well be meant:
// its partner is free, and it is not farther by more than both lines may be
// wrong; or two neighbours could change partners at no more cost than that.
func (m *matching) doubt(b *asBuilt, opt *Options) {
	isChosen := map[int]bool{}
	for _, i := range m.chosen {
		isChosen[i] = true
	}
	for _, i := range m.chosen {
		s := &m.spans[i]
		if s.byID {
			continue
		}
		u := s.bound95(b.accuracyAlong(s, opt.Accuracy))
		best := -1
		for _, j := range m.conflicts[i] {
			x := &m.spans[j]
			if isChosen[j] || x.weight <= 0 || x.kin < s.kin || x.length() < s.length()/2 {
				continue
			}
			extra := rootSquare(x) - rootSquare(s)
			if others := m.othersChosen(j, i, isChosen); len(others) > 0 {
				swap, ok := m.swapCost(i, j, others)
				if !ok || swap >= 2*u*u {
					continue
				}
			} else if extra >= u {
				continue
			}
			if best < 0 || rootSquare(x) < rootSquare(&m.spans[best]) {
				best = j
			}
		}
		if best >= 0 {
			m.doubts[i] = best
		}
	}
}

// othersChosen lists the chosen spans that j excludes, beside i.
func (m *matching) othersChosen(j, i int, isChosen map[int]bool) []int {
	var out []int
	for _, k := range m.conflicts[j] {
		if k != i && isChosen[k] {
			out = append(out, k)
		}
	}
	return out
}

// swapCost is by how much, m², the mean squares grow when the span j takes the
// place of i and what j drives out takes the partner that i leaves.
func (m *matching) swapCost(i, j int, others []int) (float64, bool) {
	if len(others) != 1 {
		return 0, false
	}
	s, x, o := &m.spans[i], &m.spans[j], &m.spans[others[0]]
	if o.byID {
		return 0, false
	}
	for _, k := range m.conflicts[others[0]] {
		y := &m.spans[k]
		takes := y.part == s.part && y.chain == o.chain && x.chain == s.chain && x.part == o.part ||
			y.chain == s.chain && y.part == o.part && x.part == s.part && x.chain == o.chain
		if k != i && k != j && takes {
			var none plane.Pt
			return x.square(none) + y.square(none) - s.square(none) - o.square(none), true
		}
	}
	return 0, false
}

// nameOf is how a span's other line is called: the record or the located line,
// whichever differs from that of the chosen one.
func (m *matching) nameOf(chosen, other int, d *located, b *asBuilt) string {
	s, x := &m.spans[chosen], &m.spans[other]
	if x.chain != s.chain {
		return "as-built " + strings.TrimSpace(b.records[b.recordAt(x)].id)
	}
	return "located " + d.parts[x.part].line
}
