package compare

import (
	"cmp"
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// A course is a polyline of the plane with the station of each of its points,
// from 0, m.
type course struct {
	pts plane.Polyline
	sta []float64
}

func newCourse(pts plane.Polyline) course { return course{pts, pts.Stations()} }

func (c *course) length() float64 { return c.sta[len(c.sta)-1] }

// A chain is a run of pieces of the record joined end to end: one pipe, into
// however many pieces its owner's data has cut it. Partners are looked for along
// chains, so that no cut at a valve and no direction of drawing decides them.
type chain struct {
	course
	utility string
	links   []link
}

// A link is a piece within its chain.
type link struct {
	record, piece int
	from, to      float64 // stations along the chain, m
	back          bool    // the piece is drawn against the chain
}

// touching is how near, m, two ends of a record's pieces must be to be one point:
// drawings snap to better than that, and no two fittings are nearer.
const touching = 0.02

// straightOn is the cosine of the largest turn, 45°, that a pipe makes where
// three or more pieces meet; a branch leaves at more.
const straightOn = 0.7071

// A tip is an end of a piece: its place, and the direction in which the piece
// leaves it.
type tip struct {
	piece int // of all pieces
	end   bool
	at    plane.Pt
	away  plane.Pt
}

// chainUp joins the pieces of the record into chains.
func (b *asBuilt) chainUp() {
	b.chains = nil
	type member struct{ record, piece int }
	var all []member
	var tips []tip
	for i := range b.records {
		for k := range b.records[i].pieces {
			p := b.records[i].pieces[k].pts
			n := len(p)
			tips = append(tips, tip{len(all), false, p[0], p[1].Sub(p[0]).Unit()}, tip{len(all), true, p[n-1], p[n-2].Sub(p[n-1]).Unit()})
			all = append(all, member{i, k})
		}
	}
	next := make([]int, len(tips)) // the tip that one is joined to; −1 for none
	for i := range next {
		next[i] = -1
	}
	for _, node := range nodes(tips) {
		b.join(node, tips, next, func(piece int) *record { return &b.records[all[piece].record] })
	}
	done := make([]bool, len(all))
	run := func(first int) { // along the chain that begins with the tip
		var c chain
		for at := first; at >= 0 && !done[tips[at].piece]; at = next[at^1] {
			m := all[tips[at].piece]
			p := &b.records[m.record].pieces[m.piece]
			pts := slices.Clone(p.pts)
			if tips[at].end {
				slices.Reverse(pts)
			}
			if len(c.pts) > 0 {
				pts = pts[1:]
			}
			done[tips[at].piece] = true
			from := 0.0
			if n := len(c.links); n > 0 {
				from = c.links[n-1].to
			}
			p.chain, p.at0, p.back = len(b.chains), from, tips[at].end
			c.links = append(c.links, link{m.record, m.piece, from, from + p.length(), tips[at].end})
			c.pts = append(c.pts, pts...)
			c.utility = b.records[m.record].utility
		}
		c.course = newCourse(c.pts)
		b.chains = append(b.chains, c)
	}
	for k := range all {
		for _, first := range []int{2 * k, 2*k + 1} {
			if !done[k] && next[first] < 0 {
				run(first)
			}
		}
	}
	for k := range all { // rings
		if !done[k] {
			run(2 * k)
		}
	}
}

// nodes are the tips that stand at one place, each place's in order of the file.
func nodes(tips []tip) [][]int {
	cells := map[[2]int][]int{} // tips whose place rounds to a cell
	cell := func(p plane.Pt) [2]int {
		return [2]int{int(math.Floor(p.E / touching)), int(math.Floor(p.N / touching))}
	}
	for i := range tips {
		c := cell(tips[i].at)
		cells[c] = append(cells[c], i)
	}
	seen := make([]bool, len(tips))
	var out [][]int
	for i := range tips {
		if seen[i] {
			continue
		}
		var node []int
		c := cell(tips[i].at)
		for de := -1; de <= 1; de++ {
			for dn := -1; dn <= 1; dn++ {
				for _, j := range cells[[2]int{c[0] + de, c[1] + dn}] {
					if !seen[j] && tips[j].at.Dist(tips[i].at) <= touching {
						node = append(node, j)
						seen[j] = true
					}
				}
			}
		}
		slices.Sort(node)
		out = append(out, node)
	}
	return out
}

// join decides which tips of one place are one pipe going on: of one utility; two
// that are alone whatever the turn, of more those that meet and those of one name first, and then
// those that go on straightest.
func (b *asBuilt) join(node []int, tips []tip, next []int, recordOf func(piece int) *record) {
	type couple struct {
		i, j     int
		sameName bool
		exact    bool    // they meet, and are not only near
		cos      float64 // of the turn from one into the other
	}
	var couples []couple
	alone := map[string]int{}
	for _, i := range node {
		alone[recordOf(tips[i].piece).utility]++
	}
	for k, i := range node {
		for _, j := range node[k+1:] {
			x, y := recordOf(tips[i].piece), recordOf(tips[j].piece)
			cos := -tips[i].away.Dot(tips[j].away)
			if x.utility == y.utility && tips[i].piece != tips[j].piece && (alone[x.utility] == 2 || cos >= straightOn) {
				couples = append(couples, couple{i, j, x == y, tips[i].at.Dist(tips[j].at) < same, cos})
			}
		}
	}
	slices.SortStableFunc(couples, func(x, y couple) int {
		first := map[bool]int{true: 0, false: 1}
		return cmp.Or(first[x.exact]-first[y.exact], first[x.sameName]-first[y.sameName], cmp.Compare(y.cos, x.cos))
	})
	for _, c := range couples {
		if next[c.i] < 0 && next[c.j] < 0 {
			next[c.i], next[c.j] = c.j, c.i
		}
	}
}

// along is the station on its chain of a station of the piece, m.
func (p *piece) along(s float64) float64 {
	if p.back {
		return p.at0 + p.length() - s
	}
	return p.at0 + s
}

// within is the stretch of the piece, its stations ascending, between two
// stations of its chain; it is empty where to < from.
func (p *piece) within(a, b float64) (from, to float64) {
	from, to = a-p.at0, b-p.at0
	if p.back {
		from, to = p.length()-to, p.length()-from
	}
	return max(0, from), min(p.length(), to)
}

// recordAt is the record that most of a span lies on.
func (b *asBuilt) recordAt(s *span) int {
	best, most := -1, math.Inf(-1)
	for _, l := range b.chains[s.chain].links {
		if shared := min(l.to, s.s1) - max(l.from, s.s0); shared > most {
			best, most = l.record, shared
		}
	}
	return best
}

// accuracyAlong is the worst 95 % lateral accuracy, m, of the pieces that a span
// runs along, the given one where a piece states none.
func (b *asBuilt) accuracyAlong(s *span, other float64) float64 {
	worst := 0.0
	for _, l := range b.chains[s.chain].links {
		if l.from < s.s1 && l.to > s.s0 {
			worst = max(worst, b.records[l.record].pieces[l.piece].accuracyOr(other))
		}
	}
	return worst
}
