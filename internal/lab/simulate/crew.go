package simulate

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// A visit is one pass along a line.
type visit struct {
	line    *Line
	back    bool
	pass    int
	session int
	wait    bool // until Work.Apart is over
}

// crew works the lines of a day.
type crew struct {
	s      Scenario
	day    *Day
	rng    *rand.Rand
	finder *finder
	w      *walker
	lock   neighbour // that the operator is on
}

func (c *crew) work() {
	session := -1
	for _, v := range c.visits() {
		if c.full() {
			break
		}
		if v.session != session {
			c.finish()
			session = v.session
			c.begin(float64(session)*86400, v)
		}
		if v.wait {
			c.stay(c.s.Work.Apart)
		}
		c.pass(v)
	}
	c.finish()
}

// visits lists the passes of all sessions in order.
func (c *crew) visits() []visit {
	var now, later []visit
	for i, l := range c.day.Lines {
		now = append(now, visit{line: l, back: c.rng.IntN(2) == 0})
		again := visit{line: l, back: !now[len(now)-1].back, pass: 1}
		switch r := c.s.Work.Returns; {
		case r == AtOnce, r == SomeOfBoth && i%2 == 0:
			now = append(now, again)
		case r == LaterOn, r == SomeOfBoth:
			again.wait = len(later) == 0
			later = append(later, again)
		case r == DaysApart:
			again.session = 1
			later = append(later, again)
		}
	}
	if c.s.Work.Returns == DaysApart {
		for _, v := range now[:len(c.day.Lines)] {
			v.session, v.pass = 2, 2
			later = append(later, v)
		}
	}
	return append(now, later...)
}

func (c *crew) full() bool {
	limit := c.s.Work.Readings
	return limit > 0 && len(c.day.Readings) >= limit
}

// begin opens a session some metres from the first line.
func (c *crew) begin(start float64, first visit) {
	if start > 0 {
		start += math.Round(3600 * c.rng.Float64())
	}
	at := first.line.Path.At(0).Add(direction(360 * c.rng.Float64()).Mul(12))
	c.w = newWalker(start, at, c.rng)
	c.w.stand(c.s.Work.Lead)
	if c.s.Work.Marks > 0 {
		c.mark()
	}
}

// finish closes the session: notes the time, stands about, stores the track.
func (c *crew) finish() {
	if c.w == nil {
		return
	}
	if c.s.Work.Marks > 1 {
		c.mark()
	}
	c.w.stand(c.s.Work.Tail)
	if len(c.day.Tracks) == 0 {
		c.stay(c.s.Work.Duration)
	}
	c.day.Tracks = append(c.day.Tracks, c.w.track)
	c.w = nil
}

// stay waits until a time of the session.
func (c *crew) stay(until float64) {
	if d := c.w.track.Start + until - c.w.now(); d > 0 {
		c.w.stand(d)
	}
}

// mark notes UTC against the locator's clock.
func (c *crew) mark() {
	c.w.stand(3)
	r := c.finder.at(c.day.Lines[0], 0)
	r.Line, r.Feature, r.Depth, r.Current = nil, "sync", math.NaN(), math.NaN()
	c.log(r, c.w.now())
	r.True = r.At
	utc := c.day.utc(r.Time).Round(time.Millisecond)
	r.Note = "utc=" + utc.Format("2006-01-02T15:04:05.000Z07:00")
	c.w.stand(3)
}

func (c *crew) log(r *Reading, at float64) {
	r.Time = at
	r.At = c.w.track.At(at)
	c.day.Readings = append(c.day.Readings, r)
}

// pass walks along a line and takes readings.
func (c *crew) pass(v visit) {
	readings := c.plan(v)
	if len(readings) == 0 {
		return
	}
	if c.s.Work.Style == Walking {
		c.stroll(v, readings)
	} else {
		c.stopAndGo(v, readings)
	}
}

func (v visit) sense() float64 {
	if v.back {
		return -1
	}
	return 1
}

// plan takes all readings of a pass in the order of walking; when they are
// taken comes later.
func (c *crew) plan(v visit) []*Reading {
	stations := c.stations(v.line)
	potholes := c.potholes(v, stations)
	if v.back {
		slices.Reverse(stations)
	}
	var out []*Reading
	for _, s := range stations {
		r := c.one(v.line, s)
		r.Pass = v.pass
		out = append(out, r)
		if slices.Contains(potholes, s) {
			out = append(out, c.pothole(v.line, s, v.pass))
		}
	}
	if c.s.Log.Features && v.pass == 0 {
		out = c.features(v, out)
	}
	return out
}

// features adds what the operator sees of the line: its tees, some of its
// bends, and its ends.
func (c *crew) features(v visit, readings []*Reading) []*Reading {
	l := v.line
	for _, s := range l.Steps {
		if s.Branch != "" {
			readings = append(readings, c.feature(l, "tee", v.pass, s.Station))
		}
	}
	for _, k := range l.Corners {
		if c.rng.IntN(3) == 0 {
			readings = append(readings, c.feature(l, "bend", v.pass, k.Station))
		}
	}
	if !l.Onward[0] && len(l.Beside) == 0 {
		readings = append(readings, c.feature(l, "end", v.pass, 0))
	}
	if !l.Onward[1] && !l.Closed {
		readings = append(readings, c.feature(l, "end", v.pass, l.Path.Length()))
	}
	slices.SortStableFunc(readings, func(a, b *Reading) int {
		return cmp.Compare(a.Station*v.sense(), b.Station*v.sense())
	})
	return readings
}

// stations spaces readings along a line; where a fitting is, some operators
// take one at the corner.
func (c *crew) stations(l *Line) []float64 {
	length := l.Path.Length()
	var out []float64
	for s := 0.3 * c.rng.Float64(); s < length-0.6; s += c.s.Work.Spacing.draw(c.rng) {
		out = append(out, s)
	}
	out = append(out, length-0.3*c.rng.Float64())
	for _, k := range l.Corners {
		if c.rng.Float64() < c.s.Work.Corners {
			out = append(out, k.Station+0.04*c.rng.NormFloat64())
		}
	}
	slices.Sort(out)
	return slices.CompactFunc(out, func(a, b float64) bool { return math.Abs(b-a) < 0.5 })
}

// potholes picks the stations of a first pass where the line was dug free.
func (c *crew) potholes(v visit, stations []float64) []float64 {
	if v.pass > 0 || !slices.Contains(c.day.dug, v.line) {
		return nil
	}
	return stations[len(stations)/2 : len(stations)/2+1]
}

// one takes a reading; now and then a run of them, 1.4 on average, is taken on
// a neighbour.
func (c *crew) one(l *Line, station float64) *Reading {
	if c.lock.readings == 0 && c.rng.Float64() < c.s.Locate.Locks/1.4 {
		n := 1
		for c.rng.Float64() < 0.4/1.4 {
			n++
		}
		c.lock = c.finder.neighbour(l.DepthAt(station), n)
	}
	if c.lock.readings > 0 {
		c.lock.readings--
		return c.finder.lock(l, station, c.lock)
	}
	return c.finder.read(l, station)
}

func (c *crew) pothole(l *Line, station float64, pass int) *Reading {
	r := c.feature(l, "pothole", pass, station)
	r.Measured = r.Depth + 0.01*c.rng.NormFloat64()
	return r
}

// feature is a point on the line that the operator sees.
func (c *crew) feature(l *Line, name string, pass int, station float64) *Reading {
	r := c.finder.at(l, station)
	r.Feature, r.Pass = name, pass
	r.offset = 0.02 * c.rng.NormFloat64()
	r.stand()
	return r
}

// stopAndGo goes from reading to reading: up to it, across the line to and
// fro, still.
func (c *crew) stopAndGo(v visit, readings []*Reading) {
	speed := c.s.Work.Speed.draw(c.rng)
	for _, r := range readings {
		if c.full() {
			return
		}
		along := v.line.Path.Along(r.Station).Mul(v.sense())
		face := azimuthOf(along)
		if w := c.s.Work.Sweep; w > 0 && r.Feature == "" {
			aside := w * Range{0.5, 1}.draw(c.rng) * sign(c.rng)
			before := r.spot.Sub(along.Mul(Range{0.1, 0.4}.draw(c.rng)))
			c.w.walk(before.Add(along.Left().Mul(aside)), speed)
			c.w.swing(r.spot.Sub(along.Left().Mul(aside*Range{0.6, 1}.draw(c.rng))), 0.55, face)
			if c.rng.IntN(2) == 0 {
				c.w.swing(r.spot.Add(along.Left().Mul(aside*Range{0.3, 0.6}.draw(c.rng))), 0.5, face)
			}
			c.w.swing(r.spot, 0.4, face)
		} else {
			c.w.walk(r.spot, speed)
		}
		c.halt(r)
	}
}

// halt stands on the spot and takes the reading somewhere within the halt.
func (c *crew) halt(r *Reading) {
	stop := c.s.Work.Stop.draw(c.rng)
	begun := c.w.now()
	c.w.stand(stop)
	c.log(r, begun+stop*Range{0.2, 0.9}.draw(c.rng))
	if c.rng.Float64() < c.s.Work.Pause {
		aside := r.spot.Add(direction(360 * c.rng.Float64()).Mul(c.rng.Float64()))
		c.w.walk(aside, 0.6)
		c.w.stand(Range{15, 90}.draw(c.rng))
	}
}

// stroll follows the line and takes the readings in passing. Between them the
// path swings smoothly from one reading's offset to the next.
func (c *crew) stroll(v visit, readings []*Reading) {
	speed := c.s.Work.Speed.draw(c.rng)
	todo := slices.DeleteFunc(slices.Clone(readings), func(r *Reading) bool { return r.Feature != "" })
	lateral := smooth(todo)
	from := readings[0].Station - 1.5*v.sense()
	to := todo[len(todo)-1].Station + 1.5*v.sense()
	p := &v.line.Path
	c.w.walk(p.At(from).Add(p.Along(from).Left().Mul(lateral(from))), 1.3)
	c.w.follow(p, from, to, speed, lateral, func(before, after, at float64) {
		for len(todo) > 0 && (todo[0].Station-after)*v.sense() <= 0 && !c.full() {
			t := (todo[0].Station - before) / (after - before)
			c.log(todo[0], at-trackStep*(1-min(max(t, 0), 1)))
			todo = todo[1:]
		}
	})
	for _, r := range readings { // features are noted when the pass is done
		if r.Feature != "" && !c.full() {
			c.w.walk(r.spot, 1.2)
			c.halt(r)
		}
	}
}

// smooth joins the offsets of readings into a path without kinks: half a cosine
// from one to the next.
func smooth(readings []*Reading) func(float64) float64 {
	sorted := slices.Clone(readings)
	slices.SortFunc(sorted, func(a, b *Reading) int {
		return cmp.Compare(a.Station, b.Station)
	})
	return func(s float64) float64 {
		i, _ := slices.BinarySearchFunc(sorted, s, func(r *Reading, s float64) int {
			return cmp.Compare(r.Station, s)
		})
		switch {
		case i == 0:
			return sorted[0].offset
		case i == len(sorted):
			return sorted[i-1].offset
		}
		a, b := sorted[i-1], sorted[i]
		t := (1 - math.Cos(math.Pi*(s-a.Station)/(b.Station-a.Station))) / 2
		return a.offset + t*(b.offset-a.offset)
	}
}
