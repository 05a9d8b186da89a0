package clock

import (
	"math"
	"slices"
)

// A cell is a hypothesis tried, with its log-likelihood.
type cell struct {
	hypothesis
	l float64
}

// search evaluates grids of offsets and drifts about h, a coarse one and a fine
// one about its best, and gives the mean and the σ as weighted by likelihood: a
// plateau, as stops make it, has no best point.
func (d *day) search(ev []evidence, h hypothesis) (hypothesis, float64) {
	half := d.halfJob()
	// A step of the drift must not move the ends of the job by more than the
	// offsets that are told apart; a short day can neither tell drift nor suffer.
	coarse, fine := driftGrid(half, coarseStep), driftGrid(half, fineStep)
	wide := wideness(ev, h.offset)
	coarseStep, fineStep := wide*coarseStep, wide*fineStep
	first := newGrid(ev, hypothesis{h.offset, 0}, coarseReach, coarseStep, coarse)
	for a := range first.rows {
		for b := range first.columns {
			first.look(a, b)
		}
	}
	fine.reach = min(fine.reach, int(math.Ceil(2*coarse.step/fine.step)))
	second := newGrid(ev, first.cells[first.top].hypothesis, fineReach, fineStep, fine)
	second.climb()
	lead := second.cells[second.top].l
	var w, mo, md float64
	for _, c := range second.cells {
		k := math.Exp(c.l - lead)
		w += k
		mo += k * c.offset
		md += k * c.drift
	}
	mean := hypothesis{mo / w, md / w}
	var v float64
	for _, c := range second.cells {
		k := math.Exp(c.l-lead) / w
		o, s := c.offset-mean.offset, (c.drift-mean.drift)*half
		v += k * (o*o + s*s/3)
	}
	wander := driftWander * half
	return mean, math.Sqrt(v*modelSigma*modelSigma + floorSigma*floorSigma + wander*wander)
}

// wideness is how many times the usual grid is needed to hold all offsets about a peak
// that explain the day nearly as well: a plateau wider than the grid would look like a
// peak as narrow as the grid.
func wideness(ev []evidence, offset float64) float64 {
	at := func(o float64) float64 {
		l := logPrior(o)
		for _, e := range ev {
			l += e.temper() * e.total(hypothesis{offset: o})
		}
		return l
	}
	const reach = coarseStep * coarseReach
	var l []float64 // by distance, on both sides in turn
	look := func(from, to, step float64) (top float64) {
		top = math.Inf(-1)
		for o := from; o <= to; o += step {
			for _, side := range []float64{-o, o} {
				l = append(l, at(offset+side))
				top = max(top, l[len(l)-1])
			}
		}
		return top
	}
	top := look(0, near, coarseStep)
	wide := 1.0
	for k := range l {
		if o := float64(k/2) * coarseStep; l[k] > top-edge {
			wide = max(wide, (o+coarseStep)/reach)
		}
	}
	for to := near; wide*reach >= to && wide < widest; to *= 2 {
		if look(to, 2*to, to/8) < top-edge {
			break
		}
		wide = 2 * to / reach
	}
	return wide
}

const (
	near   = 10.0 // s, about a peak that are looked at every half second
	widest = 64.0 // times the usual grid
	edge   = 6.0  // log-likelihood by which the grid's edges lie behind: e⁻⁶ of the top
)

// halfJob is half the time, s, over which the readings go, but for the outermost
// hundredth: one row with a wrong date is not a job of a week.
func (d *day) halfJob() float64 {
	s := slices.Sorted(slices.Values(d.times))
	cut := (len(s) + 99) / 100
	if len(s) < 20 {
		cut = 0
	}
	return (s[len(s)-1-cut] - s[cut]) / 2
}

// drifts is a grid of drifts: so many steps, s/s, to either side.
type drifts struct {
	step  float64
	reach int
}

// driftGrid takes steps that move the ends of a job, half seconds from its middle,
// by about so much.
func driftGrid(half, by float64) drifts {
	step := by / max(half, 1)
	if step > driftReach {
		return drifts{step, 0}
	}
	return drifts{step, min(int(driftReach/step), mostDrifts)}
}

// A grid is drifts in rows and offsets in columns, of which not all need be looked
// at.
type grid struct {
	ev            []evidence
	rows, columns int
	cells         []cell // l is −Inf for one not looked at
	seen          []bool
	top           int // the best cell, of equals the first
}

// newGrid lays a grid about h, so many steps to either side.
func newGrid(ev []evidence, h hypothesis, reach int, step float64, dr drifts) *grid {
	g := &grid{ev: ev, rows: 2*dr.reach + 1, columns: 2*reach + 1}
	for a := -dr.reach; a <= dr.reach; a++ {
		for b := -reach; b <= reach; b++ {
			at := hypothesis{h.offset + float64(b)*step, h.drift + float64(a)*dr.step}
			g.cells = append(g.cells, cell{at, math.Inf(-1)})
		}
	}
	g.seen = make([]bool, len(g.cells))
	return g
}

// look evaluates the cell in row a, column b.
func (g *grid) look(a, b int) {
	i := a*g.columns + b
	if g.seen[i] {
		return
	}
	c := &g.cells[i]
	z := c.drift / sigmaDrift
	c.l = logPrior(c.offset) - 0.5*z*z
	for _, e := range g.ev {
		c.l += e.temper() * e.total(c.hypothesis)
	}
	g.seen[i] = true
	if t := g.cells[g.top].l; c.l > t || c.l == t && i < g.top {
		g.top = i
	}
}

const (
	// block is how many cells on a side climb looks at as one.
	block = 3
	// hopeless is how far, in log-likelihood, the middle of a block may lie behind
	// the best for the rest of it to be looked at: an offset known to 0.03 s falls by
	// 13 from a cell to the next across the corner.
	hopeless = 40.0
	// negligible is how far behind the best a cell lies whose weight does not count,
	// e⁻²⁰, so that its neighbours do not, either.
	negligible = 20.0
)

// climb looks at every cell that has a weight to speak of: at the middles of all
// blocks, at the blocks whose middle is not hopeless, and from there on as long as
// the edge of what was seen is not negligible.
func (g *grid) climb() {
	for a := 0; a < g.rows; a += block {
		for b := 0; b < g.columns; b += block {
			g.look(min(a+block/2, g.rows-1), min(b+block/2, g.columns-1))
		}
	}
	least := g.cells[g.top].l - hopeless
	for a := 0; a < g.rows; a += block {
		for b := 0; b < g.columns; b += block {
			if g.cells[min(a+block/2, g.rows-1)*g.columns+min(b+block/2, g.columns-1)].l >= least {
				g.lookAbout(a, b, a+block-1, b+block-1)
			}
		}
	}
	for grown := true; grown; {
		grown = false
		least := g.cells[g.top].l - negligible
		for i := range g.cells {
			if a, b := i/g.columns, i%g.columns; g.seen[i] && g.cells[i].l >= least {
				grown = g.lookAbout(a-1, b-1, a+1, b+1) || grown
			}
		}
	}
}

// lookAbout evaluates the cells from row a, column b to row c, column e that lie
// in the grid, and reports whether there was one that had not been.
func (g *grid) lookAbout(a, b, c, e int) (grown bool) {
	for y := max(a, 0); y <= min(c, g.rows-1); y++ {
		for x := max(b, 0); x <= min(e, g.columns-1); x++ {
			grown = grown || !g.seen[y*g.columns+x]
			g.look(y, x)
		}
	}
	return grown
}
