package compare

import (
	"cmp"
	"slices"
)

// A Line is a pipe or cable as a whole: chains of the record, and the located
// lines that stand beside them, as far as they hang together. It is what counts,
// verdicts and uncertainties are told of: a pipe cut into fifteen records is one
// line, and so are two pipes that were located as one.
type Line struct {
	AsBuiltIDs, LineIDs []string
	Utility             string
	Length, Matched     float64 // of the record, m
	Coverage            float64 // per cent
	Lateral, Depth      Stats   // lateral by the direction in which most of it is drawn
	Verdict             Verdict
	LateralVerdict      Verdict
	DepthVerdict        Verdict

	stations []Station // in order along the chains, turned into one direction
}

// lineUp finds which chains of the record and which located parts are one line,
// and for each chain which way it runs in it.
func (c *comparison) lineUp(single map[int][]Station) {
	u := newUnions(len(c.record.chains) + len(c.located.parts))
	part := func(i int) int { return len(c.record.chains) + i }
	for _, i := range c.match.chosen {
		s := &c.match.spans[i]
		u.join(s.chain, part(s.part), s.backwards)
	}
	for _, parts := range c.partsOf {
		for _, i := range parts {
			if c.located.parts[i].utility == c.located.parts[parts[0]].utility {
				u.join(part(parts[0]), part(i), false)
			}
		}
	}
	for r, stations := range single {
		for k := range stations {
			s := &stations[k]
			u.join(c.record.records[r].pieces[s.piece].chain, part(s.part), false)
		}
	}
	c.lines = u
}

// mark gives the stations of a record the line that they belong to, their place
// along it, and the direction in which it runs.
func (c *comparison) mark(r int, stations []Station) {
	for i := range stations {
		s := &stations[i]
		p := &c.record.records[r].pieces[s.piece]
		root, turned := c.lines.find(p.chain)
		s.line, s.chain, s.along = root, p.chain, p.along(s.Station-p.from)
		s.turned = turned != p.back
	}
}

// gather makes the lines of the stations of all records, in the order of the file.
func (c *comparison) gather(pairs []Pair) []Line {
	at := map[int]int{}
	var out []Line
	for i := range pairs {
		p := &pairs[i]
		for k := range p.Stations {
			s := &p.Stations[k]
			if _, ok := at[s.line]; !ok {
				at[s.line] = len(out)
				out = append(out, Line{Utility: p.Utility})
			}
			l := &out[at[s.line]]
			s.pair, s.nth = i, k
			l.stations = append(l.stations, *s)
			l.AsBuiltIDs, l.LineIDs = append(l.AsBuiltIDs, p.AsBuiltID), append(l.LineIDs, s.LineID)
		}
	}
	lengths := map[int]float64{}
	for i := range c.record.chains {
		root, _ := c.lines.find(i)
		lengths[root] += c.record.chains[i].length()
	}
	for i := range out {
		l := &out[i]
		l.Length = lengths[l.stations[0].line]
		l.AsBuiltIDs, l.LineIDs = distinct(l.AsBuiltIDs), distinct(l.LineIDs)
		l.sumUp(&c.opt)
		for k := range l.stations {
			s := &l.stations[k]
			kept := &pairs[s.pair].Stations[s.nth]
			kept.lateralOff, kept.depthOff = s.lateralOff, s.depthOff
		}
	}
	return out
}

// distinct keeps the first of equal names.
func distinct(names []string) []string {
	seen := map[string]bool{}
	return slices.DeleteFunc(names, func(n string) bool {
		was := seen[n]
		seen[n] = true
		return was
	})
}

// sumUp turns all stations into the direction in which most of the line is drawn,
// puts them in order, and makes figures and verdicts of them.
func (l *Line) sumUp(opt *Options) {
	slices.SortStableFunc(l.stations, func(a, b Station) int {
		return cmp.Or(cmp.Compare(a.chain, b.chain), cmp.Compare(a.along, b.along))
	})
	drawn := 0.0
	for i := range l.stations {
		s := &l.stations[i]
		l.Matched += s.Weight
		if s.turned {
			drawn -= s.Weight
		} else {
			drawn += s.Weight
		}
	}
	for i := range l.stations {
		if s := &l.stations[i]; s.turned != (drawn < 0) {
			s.Lateral, s.n = -s.Lateral, s.n.Mul(-1)
		}
	}
	l.Coverage = min(100, 100*l.Matched/l.Length)
	l.Lateral, l.Depth = sumUp(l.values(lateralValues)), sumUp(l.values(depthValues))
	l.judge(opt)
}

// values are the differences of the line's stations by the length that each
// stands for: two stations at a cut count as one. Stations run along the chain.
func (l *Line) values(of func([]Station) []value) []value {
	stations := slices.Clone(l.stations)
	sum := 0.0
	for i := range stations {
		stations[i].Station = stations[i].along
		sum += stations[i].Weight
	}
	if sum == 0 { // points without a line between them
		return of(stations)
	}
	var out []value
	for i := range stations {
		v := of(stations[i : i+1])
		for k := range v {
			v[k].weight = max(stations[i].Weight, 1e-6)
		}
		out = append(out, v...)
	}
	return out
}

// unions are sets of things that are one, each with the direction in which it runs
// against the first of its set.
type unions struct {
	parent []int
	turned []bool // against the parent
}

func newUnions(n int) *unions {
	u := &unions{make([]int, n), make([]bool, n)}
	for i := range u.parent {
		u.parent[i] = i
	}
	return u
}

func (u *unions) find(i int) (root int, turned bool) {
	for u.parent[i] != i {
		turned = turned != u.turned[i]
		i = u.parent[i]
	}
	return i, turned
}

// join makes two sets one, of which b runs against a or with it. The smaller
// number is the root; where directions contradict each other the first holds.
func (u *unions) join(a, b int, against bool) {
	ra, ta := u.find(a)
	rb, tb := u.find(b)
	if ra == rb {
		return
	}
	if rb < ra {
		ra, rb = rb, ra
	}
	u.parent[rb], u.turned[rb] = ra, against != (ta != tb)
}
