package otherdays

import (
	"fmt"
	"math"
)

// grain is the distance of two points of a line's course, m.
const grain = 0.25

// beyond is how far every line runs on, with its current, past both ends of
// what is located, m: a street does not end where the job does.
const beyond = 40.0

// A course is where a buried line really runs.
type course struct {
	name  string
	at    []spot    // every grain metres, beyond both located ends
	depth []float64 // to the centre, m
	ma    []float64 // its current while it is located, mA
	steps []float64 // stations of real steps of the current

	wires []wire    // everything that carries a share of its current
	shift []float64 // every metre: where the peak lies, m to the left
	pull  []float64 // every metre: share of the depth the field adds there
}

// place returns the point at a station of the located stretch; s may be beyond.
func (c *course) place(s float64) spot {
	i, f := c.index(s)
	return c.at[i].plus(c.at[i+1].minus(c.at[i]), f)
}

// left returns the unit vector to the left of the course.
func (c *course) left(s float64) spot {
	i, _ := c.index(s)
	d := c.at[i+1].minus(c.at[i])
	return spot{}.plus(d.left(), 1/d.length())
}

func (c *course) deep(s float64) float64 {
	i, f := c.index(s)
	return c.depth[i] + f*(c.depth[i+1]-c.depth[i])
}

// index returns the point before a station and the share of the grain passed.
func (c *course) index(s float64) (int, float64) {
	x := max(0, (s+beyond)/grain)
	i := min(int(x), len(c.at)-2)
	return i, min(1, x-float64(i))
}

// length returns the length of the located stretch.
func (c *course) length() float64 { return float64(len(c.at)-1)*grain - 2*beyond }

// A turn is a piece of a course: straight on, then a turn of so many radians
// to the left on a radius; a radius of 0 is a corner.
type turn struct{ straight, angle, radius float64 }

// lay marches a course from a start along a heading.
func lay(name string, from spot, head float64, turns []turn) *course {
	c := &course{name: name}
	p := from.plus(heading(head), -beyond)
	c.at = append(c.at, p)
	march := func(length, angle float64) {
		n := int(math.Round(length / grain))
		for range n {
			head += angle / float64(n)
			p = p.plus(heading(head), grain)
			c.at = append(c.at, p)
		}
	}
	march(beyond, 0)
	for _, t := range turns {
		march(t.straight, 0)
		if t.radius == 0 {
			head += t.angle
		} else {
			march(math.Abs(t.angle)*t.radius, t.angle)
		}
	}
	march(beyond, 0)
	return c
}

// bury gives a course its depths: a grade, and now and then a dip under
// something older.
func (c *course) bury(d dice, depth float64) {
	grade := d.normal(0.006)
	dip, where := 0.0, 0.0
	if d.chance(0.25) {
		dip, where = d.between(0.2, 0.5), d.between(0.2, 0.8)*c.length()
	}
	for i := range c.at {
		s := float64(i)*grain - beyond
		z := depth + grade*(s-c.length()/2)
		if away := math.Abs(s - where); away < 5 {
			z += dip * 0.5 * (1 + math.Cos(math.Pi*away/5))
		}
		c.depth = append(c.depth, max(0.45, z))
	}
}

// energise sends a current along a course: it leaks away evenly, and falls to
// a share at every step.
func (c *course) energise(ma, perMetre float64, steps map[float64]float64) {
	for i := range c.at {
		s := float64(i)*grain - beyond
		now := ma * math.Exp(-perMetre*(s+beyond))
		for at, share := range steps {
			if s > at {
				now *= share
			}
		}
		c.ma = append(c.ma, now)
	}
}

// asWires cuts a course into straight wires of at most 2 m that carry a share
// of the currents of the course that is located.
func (c *course) asWires(share float64, ma []float64) []wire {
	const most = 8
	var list []wire
	end := len(c.at) - 1
	for i := 0; i < end; {
		j := min(i+most, end)
		for k := i + 1; k < j; k++ { // never across a corner
			a, b := c.at[k].minus(c.at[k-1]), c.at[k+1].minus(c.at[k])
			if math.Abs(a.e*b.n-a.n*b.e) > 0.02*grain*grain {
				j = k
			}
		}
		a, b := c.at[i], c.at[j]
		list = append(list, wire{
			vector{a.e, a.n, -c.depth[i]}, vector{b.e, b.n, -c.depth[j]},
			share * ma[min((i+j)/2, len(ma)-1)],
		})
		i = j
	}
	return list
}

// survey fills in what the field of the wires does to a reading: a value each
// metre of the located stretch.
func (c *course) survey(single bool) {
	for s := 0.0; s <= c.length()+1; s++ {
		z := c.deep(s)
		at, left := c.place(s), c.left(s)
		x := peak(c.wires, at, left, 0.6*z, single)
		got, _ := measured(coils(c.wires, at.plus(left, x), left))
		c.shift = append(c.shift, x)
		c.pull = append(c.pull, got/z-1)
	}
}

// between returns a value of a table that has one each metre.
func between(table []float64, s float64) float64 {
	i := min(max(0, int(s)), len(table)-2)
	f := min(1, max(0, s-float64(i)))
	return table[i] + f*(table[i+1]-table[i])
}

// wander returns the pieces of an ordinary course of about so many metres.
func wander(d dice, length float64) []turn {
	var list []turn
	for done := 0.0; done < length; {
		straight := d.between(14, 45)
		t := turn{straight: straight}
		switch x := d.Float64(); {
		case x < 0.25: // an elbow
			t.angle = d.sign() * math.Pi / 2
		case x < 0.45: // another corner
			t.angle = d.sign() * d.between(20, 80) * math.Pi / 180
		case x < 0.65: // a swept bend
			t.radius = d.between(4, 40)
			t.angle = d.sign() * min(d.between(20, 80)*math.Pi/180, 30/t.radius)
		}
		list = append(list, t)
		done += straight + math.Abs(t.angle)*t.radius
	}
	// The last piece is straight: what turns there belongs to nobody.
	list[len(list)-1].angle = 0
	list[len(list)-1].radius = 0
	return list
}

// ground returns the courses of a day, each with its current and field.
func (k kind) ground(d dice) []*course {
	var list []*course
	head := d.between(0, 2*math.Pi)
	decay := d.between(0.0002, 0.003)
	amps := func() float64 { return math.Exp(d.between(math.Log(k.ma[0]), math.Log(k.ma[1]))) }
	switch {
	case k.street:
		n := 3 + d.IntN(3)
		away, turns := 0.0, wander(d, 70)
		for i := range turns { // neighbours bend together, on wide bends
			if turns[i].angle != 0 {
				turns[i].radius = d.between(15, 40)
				turns[i].angle = d.sign() * 20 / turns[i].radius
			}
		}
		start := heading(head + math.Pi/2)
		for i := range n {
			own := make([]turn, len(turns))
			for j, t := range turns {
				own[j] = t
				if t.angle != 0 {
					own[j].radius -= away * math.Copysign(1, t.angle)
				}
			}
			c := lay(fmt.Sprintf("S%d", i+1), spot{}.plus(start, away), head, own)
			c.bury(d, d.between(k.depth[0], k.depth[1]))
			list = append(list, c)
			away += d.between(0.7, 1.6)
		}
		for i, c := range list {
			c.energise(amps(), decay, nil)
			back := d.between(0, 0.25)
			var shares []float64
			sum := 0.0
			for j := range list {
				x := 0.0
				if j != i {
					x = d.between(0.2, 1)
				}
				shares = append(shares, x)
				sum += x
			}
			c.wires = c.asWires(1, c.ma)
			for j, other := range list {
				if j != i {
					c.wires = append(c.wires, other.asWires(-back*shares[j]/sum, c.ma)...)
				}
			}
		}
	case k.tees:
		trunk := lay("M1", spot{}, head, []turn{{straight: 110}})
		trunk.bury(d, d.between(k.depth[0], k.depth[1]))
		steps := map[float64]float64{}
		ma := amps()
		var branches []*course
		var taken []float64
		for i := range 2 + d.IntN(2) {
			s := 22 + 30*float64(i) + d.between(-6, 6)
			share := d.between(0.5, 0.85)
			steps[s] = share
			side := d.sign()
			b := lay(fmt.Sprintf("B%d", i+1), trunk.place(s).plus(trunk.left(s), side*0.5), head+side*d.between(1.1, 2.0), []turn{{straight: d.between(18, 35)}})
			b.at = b.at[int(beyond/grain):] // it begins at the trunk
			pad := make([]spot, int(beyond/grain))
			for j := range pad {
				pad[j] = trunk.place(s).plus(b.at[0].minus(trunk.place(s)), float64(j)/float64(len(pad)))
			}
			b.at = append(pad, b.at...)
			b.bury(d, trunk.deep(s))
			branches, taken = append(branches, b), append(taken, 1-share)
		}
		trunk.energise(ma, decay, steps)
		for s := range steps {
			trunk.steps = append(trunk.steps, s)
		}
		list = append([]*course{trunk}, branches...)
		wires := trunk.asWires(1, trunk.ma)
		for i, b := range branches {
			b.energise(ma*taken[i], decay, nil)
			wires = append(wires, b.asWires(1, b.ma)...)
		}
		for _, c := range list {
			c.wires = wires
		}
	default:
		from := spot{}
		for i := range k.lines {
			c := lay(fmt.Sprintf("L%d", i+1), from, head, wander(d, d.between(60, 110)))
			c.bury(d, d.between(k.depth[0], k.depth[1]))
			steps := map[float64]float64{}
			if k.steps && d.chance(0.5) {
				s := d.between(0.35, 0.65) * c.length()
				steps[s] = d.between(0.55, 0.75)
				c.steps = append(c.steps, s)
			}
			c.energise(amps(), decay, steps)
			c.wires = c.asWires(1, c.ma)
			list = append(list, c)
			from = from.plus(heading(head+math.Pi/2), d.between(25, 40))
			head += d.normal(0.3)
		}
	}
	for _, c := range list {
		c.survey(k.single)
	}
	return list
}
