package otherdays

import "math"

// tick is the step of the path of the pole's foot, s.
const tick = 0.05

// A visit is one reading as it was taken: when, on which course, where along
// it and how far to its left the foot stood.
type visit struct {
	course  *course
	t       float64
	s, off  float64
	clutter float64 // sideways error that the ground makes, m, part of off
	locked  bool    // the locator followed another line
	feature string
	seen    float64 // depth seen in a test hole, m
	by      int     // instrument
}

// A walker carries the pole; where has the place of its foot every tick.
type walker struct {
	d      dice
	where  []spot
	gait   float64
	visits []visit
}

func (w *walker) now() float64 { return float64(len(w.where)-1) * tick }
func (w *walker) at() spot     { return w.where[len(w.where)-1] }

// stand lets the pole be held still: it sways by millimetres.
func (w *walker) stand(seconds float64) {
	foot := w.at()
	e, n := newMemory(w.d, 0.003, 0.8), newMemory(w.d, 0.003, 0.8)
	e.now, n.now = 0, 0
	for range int(seconds / tick) {
		w.where = append(w.where, spot{foot.e + e.after(w.d, tick), foot.n + n.after(w.d, tick)})
	}
}

// walkTo goes straight to a place at about so many metres a second; the body
// sways with each step.
func (w *walker) walkTo(to spot, speed float64) {
	from := w.at()
	way := to.minus(from)
	length := way.length()
	if length < 0.05 {
		return
	}
	dir := spot{}.plus(way, 1/length)
	const push = 1.8 // m/s², up to speed and back
	v, done := 0.0, 0.0
	for done < length-0.01 {
		v = min(v+push*tick, speed, math.Sqrt(2*push*(length-done))+0.03)
		done = min(length, done+v*tick)
		w.gait += 2 * math.Pi * 0.95 * tick
		sway := 0.025 * math.Sin(w.gait) * min(1, (length-done)/0.5, done/0.5)
		w.where = append(w.where, from.plus(dir, done).plus(dir.left(), sway))
	}
}

// plant puts the pole down at a place, from wherever it hung, within 0.1 to
// 0.3 s, or as fast as an arm can at 30 m/s² (6·way/time² on this curve).
func (w *walker) plant(to spot) {
	from := w.at()
	least := math.Sqrt(6 * to.minus(from).length() / 30)
	n := max(2, int(math.Ceil(max(w.d.between(0.1, 0.3), least)/tick)))
	for i := 1; i <= n; i++ {
		x := float64(i) / float64(n)
		w.where = append(w.where, from.plus(to.minus(from), x*x*(3-2*x)))
	}
}

// sweep swings the foot across the line and comes to rest at a place.
func (w *walker) sweep(to, left spot) {
	amplitude, period := w.d.between(0.4, 1.0), w.d.between(1.4, 2.6)
	swings := 1.5 + float64(w.d.IntN(4))/2
	w.plantSlowly(to.plus(left, amplitude))
	for t := tick; t <= swings*period; t += tick {
		shrink := 1 - t/(swings*period)
		w.where = append(w.where, to.plus(left, amplitude*shrink*math.Cos(2*math.Pi*t/period)))
	}
	w.plant(to)
}

// plantSlowly moves the foot at the speed of an arm.
func (w *walker) plantSlowly(to spot) {
	from := w.at()
	n := max(6, int(to.minus(from).length()/0.8/tick))
	for i := 1; i <= n; i++ {
		x := float64(i) / float64(n)
		w.where = append(w.where, from.plus(to.minus(from), x*x*(3-2*x)))
	}
}

// A hand is how well a technician points: errors of one reading, and those
// that the ground has in common over some metres.
type hand struct {
	skill float64 // against the usual 2 cm and 5 % of depth
	own   float64 // share of the variance that is each reading's own
	reach float64 // metres over which the rest is alike
}

func (h hand) sigma(depth float64) float64 { return h.skill * math.Hypot(0.02, 0.05*depth) }

// stops goes from reading to reading along a course and points at each.
func (w *walker) stops(k kind, c *course, h hand, by int) {
	clutter := newMemory(w.d, 1, h.reach)
	lock := w.locking(k)
	for s := w.d.between(0.2, 1); s < c.length()-0.2; {
		z := c.deep(s)
		common := clutter.now * h.sigma(z) * math.Sqrt(1-h.own)
		v := visit{course: c, s: s, clutter: common, by: by}
		v.off = between(c.shift, s) + common + w.d.normal(h.sigma(z)*math.Sqrt(h.own))
		if k.holes && w.d.chance(0.04) {
			v.feature, v.off, v.clutter = "pothole", w.d.normal(0.02), 0
			v.seen = z + w.d.normal(0.015)
		}
		if away := lock(); away != 0 && v.feature == "" {
			v.off, v.locked = v.off+away, true
		}
		foot := c.place(s).plus(c.left(s), v.off)
		carried := foot.plus(heading(w.d.between(0, 2*math.Pi)), w.d.between(0.1, 0.4))
		w.walkTo(carried, w.d.between(0.8, 1.5))
		if k.swept {
			w.sweep(foot, c.left(s))
		} else {
			w.stand(w.d.between(0.1, 1.5))
			w.plant(foot)
		}
		rest := w.d.between(1.5, 9)
		begin := w.now()
		w.stand(rest)
		v.t = begin + w.d.between(0.6, rest)
		w.visits = append(w.visits, v)
		w.plant(foot.plus(heading(w.d.between(0, 2*math.Pi)), w.d.between(0.1, 0.3)))
		step := w.d.between(k.spacing[0], k.spacing[1])
		s += step
		clutter.after(w.d, step)
	}
}

// locking returns a function that says, reading after reading, how far away
// the line lies that the locator has locked to; 0 where it is the right one.
func (w *walker) locking(k kind) func() float64 {
	left, away := 0, 0.0
	return func() float64 {
		if left > 0 {
			left--
			return away + w.d.normal(0.04)
		}
		if k.locks > 0 && w.d.chance(k.locks/1.7) {
			left, away = w.d.IntN(3)-1, w.d.sign()*w.d.between(0.8, 3)
			return away + w.d.normal(0.04)
		}
		return 0
	}
}

// through walks along a course with the pole over the line, forth or back, and
// logs on the way.
func (w *walker) through(k kind, c *course, h hand, by int, back bool) {
	clutter := newMemory(w.d, 1, h.reach)
	astray := newMemory(w.d, h.skill*w.d.between(0.03, 0.09), w.d.between(1.5, 5))
	pace := newMemory(w.d, 0.18, 9)
	usual := w.d.between(k.speed[0], k.speed[1])
	next, pause := 0.0, 0.0
	station := func(done float64) float64 {
		if back {
			return c.length() - done
		}
		return done
	}
	foot := func(s, off float64) spot { return c.place(s).plus(c.left(s), off) }
	off := func(s float64) (float64, float64) {
		common := clutter.now * h.sigma(c.deep(s)) * math.Sqrt(1-h.own)
		return between(c.shift, s) + common + astray.now, common
	}
	x, _ := off(station(0.3))
	w.walkTo(foot(station(0.3), x), 1.2)
	next = w.now() + w.d.between(0, 1)
	for done, v := 0.3, 0.0; done < c.length()-0.3; {
		want := usual * max(0.3, 1+pace.after(w.d, tick))
		if w.d.chance(tick / 90) {
			pause = w.d.between(1, 6) // traffic
		}
		if pause > 0 {
			pause, want = pause-tick, 0
		}
		v += min(max(want-v, -2*tick), 2*tick)
		done += v * tick
		if v > 0 {
			clutter.after(w.d, v*tick)
		}
		astray.after(w.d, tick)
		w.gait += 2 * math.Pi * 0.9 * tick
		s := station(done)
		x, common := off(s)
		x += 0.01 * math.Sin(w.gait)
		w.where = append(w.where, foot(s, x))
		if w.now() >= next {
			w.visits = append(w.visits, visit{course: c, t: w.now(), s: s, off: x, clutter: common, by: by})
			next = w.now() + w.d.between(k.every[0], k.every[1])
		}
	}
}

// walk does the whole day.
func (k kind) walk(d dice, list []*course) *walker {
	w := &walker{d: d, where: []spot{list[0].place(0).plus(list[0].left(0), 6)}}
	h := hand{skill: d.between(k.skill[0], k.skill[1]), own: d.between(0.5, 0.85), reach: d.between(4, 20)}
	w.stand(d.between(10, 40))
	for i, c := range list {
		by := 0
		if k.instruments > 1 {
			by = i % 2
		}
		w.walkTo(c.place(0.2).plus(c.left(0), 0.5), d.between(1, 1.5))
		w.stand(d.between(2, 15))
		if !k.through {
			w.stops(k, c, h, by)
			continue
		}
		w.through(k, c, h, by, false)
		for pass := 1; pass < k.passes; pass++ {
			w.walkTo(w.at().plus(heading(d.between(0, 2*math.Pi)), 1), 1)
			w.stand(d.between(3, 20))
			w.through(k, c, h, by, pass%2 == 1)
		}
	}
	w.stand(d.between(5, 30))
	return w
}
