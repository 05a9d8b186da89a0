package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"tracemap/geodesy/plane"
)

// World says what lies in the ground.
type World struct {
	Town   bool // the invented street of the demo; nothing else below counts
	Pipes  int  // straights joined by fittings
	Curves int  // straights joined by bends of 8–60 m radius
	Cables int  // gently curving all along
	Loops  int  // closed rings
	Pairs  int  // two lines 0.6 m side by side, each carrying some of the other's signal
	Street int  // lines side by side, 0.7–1.6 m apart; up to a quarter of the signal on each flows back on the others
	Forks  int  // lines that a branch leaves

	Utilities int       // how many kinds of utility there are; 0 means all ten
	Length    Range     // m a line
	Straight  Range     // m a straight
	Bends     []float64 // degrees of the fittings
	Depth     Range     // m
	Steps     float64   // chance that a line's current steps at a branch not located
	Onward    float64   // chance that a line goes on beyond an end of the survey; else its signal ends there

	Distorted    float64 // share of the lines that have a distorted stretch
	DistortShare Range   // of the current in the neighbour, either sign
}

// fittings are the common angles of pipe fittings, degrees.
var fittings = []float64{11.25, 22.5, 45, 90}

// A kind is a sort of utility, as common practice lays and traces it.
type kind struct {
	utility   string
	diameter  float64 // m
	frequency float64 // Hz
}

// Common practice, no source: sizes and frequencies one meets.
var kinds = []kind{
	{"water", 0.150, 8192}, {"gas", 0.110, 8192}, {"electric", 0.060, 640},
	{"communications", 0.050, 32768}, {"sewer", 0.200, 32768}, {"lighting", 0.040, 8192},
	{"reclaimed_water", 0.110, 8192}, {"oil", 0.200, 512}, {"steam", 0.250, 8192}, {"unknown", 0, 32768},
}

// builder lays lines into a plot a time, so that they do not lie on each other.
type builder struct {
	w     World
	rng   *rand.Rand
	lines []*Line
	plots int
}

func build(s Scenario) []*Line {
	if s.World.Town {
		return town(stream(s.Seed, "town"))
	}
	b := &builder{w: s.World, rng: stream(s.Seed, "world")}
	for range s.World.Pipes {
		b.add(b.pipe())
	}
	for range s.World.Curves {
		b.add(b.curve())
	}
	for range s.World.Cables {
		b.add(b.cable())
	}
	for range s.World.Loops {
		b.add(b.loop()).Closed = true
	}
	for range s.World.Pairs {
		b.pair()
	}
	if s.World.Street > 0 {
		b.street(s.World.Street)
	}
	for range s.World.Forks {
		b.fork()
	}
	b.disturb()
	return b.lines
}

// start is a pen at the corner of the next plot.
func (b *builder) start() *pen {
	const pitch = 35.0 // m
	row := 6
	at := plane.Pt{E: float64(b.plots%row) * pitch, N: float64(b.plots/row) * pitch}
	b.plots++
	at = at.Add(plane.Pt{E: 5 * b.rng.NormFloat64(), N: 5 * b.rng.NormFloat64()})
	return newPen(at, 360*b.rng.Float64())
}

func (b *builder) add(p *pen) *Line {
	n := len(kinds)
	if b.w.Utilities > 0 {
		n = b.w.Utilities
	}
	k := kinds[len(b.lines)%n]
	l := &Line{
		ID:        fmt.Sprintf("%c%d", k.utility[0]-'a'+'A', len(b.lines)+1),
		Utility:   k.utility,
		Path:      p.path,
		Corners:   p.corners,
		Diameter:  k.diameter,
		Method:    "direct",
		Frequency: k.frequency,
		Current:   20 + 100*b.rng.Float64(),
		Decay:     math.Pow(10, Range{-3, -1.6}.draw(b.rng)), // 0.001 to 0.025 dB/m
	}
	l.Depth = newDepths(&l.Path, b.w.Depth.draw(b.rng), b.rng)
	b.lines = append(b.lines, l)
	for i := range l.Onward {
		l.Onward[i] = b.rng.Float64() < b.w.Onward
	}
	if b.rng.Float64() < b.w.Steps {
		l.Steps = append(l.Steps, Step{
			Station: l.Path.Length() * Range{0.3, 0.7}.draw(b.rng),
			Factor:  Range{0.5, 0.8}.draw(b.rng),
		})
	}
	return l
}

// turn draws a fitting's angle whose side keeps the line from coming back.
func (b *builder) turn(p *pen, azimuth0 float64) float64 {
	angle := either(b.rng, b.w.Bends)
	away := math.Remainder(p.azimuth-azimuth0, 360)
	side := sign(b.rng)
	if math.Abs(away-side*angle) > 95 {
		side = -side
	}
	return side * angle
}

func (b *builder) pipe() *pen {
	p, length := b.start(), b.w.Length.draw(b.rng)
	azimuth := p.azimuth
	for {
		p.straight(b.w.Straight.draw(b.rng))
		if p.station > length {
			return p
		}
		p.bend(b.turn(p, azimuth))
	}
}

func (b *builder) curve() *pen {
	p, length := b.start(), b.w.Length.draw(b.rng)
	azimuth := p.azimuth
	for {
		p.straight(b.w.Straight.draw(b.rng))
		if p.station > length {
			return p
		}
		p.arc(Range{8, 60}.draw(b.rng), b.turn(p, azimuth)*Range{0.5, 1}.draw(b.rng))
	}
}

// cable bends to and fro with radii of 15 m and more.
func (b *builder) cable() *pen {
	p, length := b.start(), b.w.Length.draw(b.rng)
	azimuth := p.azimuth
	for p.station < length {
		turn := Range{5, 35}.draw(b.rng)
		if away := math.Remainder(p.azimuth-azimuth, 360); away < 0 || (away < 20 && b.rng.IntN(2) == 0) {
			turn = -turn
		}
		p.arc(Range{15, 120}.draw(b.rng), turn)
	}
	return p
}

// loop is a closed ring of straights with fittings at its corners.
func (b *builder) loop() *pen {
	p := b.start()
	turn, corners := 90.0, 4
	if b.rng.IntN(2) == 0 {
		turn, corners = 45, 8
	}
	a, c := b.w.Straight.draw(b.rng), b.w.Straight.draw(b.rng)
	for i := range corners {
		if i > 0 {
			p.bend(turn)
		}
		p.straight([2]float64{a, c}[i%2])
	}
	p.path.Points[len(p.path.Points)-1] = p.path.Points[0]
	return p
}

// along is the pen of a line beside another at an offset to the left, corner by corner.
func along(first *Line, offset float64) *pen {
	p := &pen{path: parallel(&first.Path, offset)}
	for _, c := range first.Corners {
		station, _ := p.path.Nearest(c.At)
		p.corners = append(p.corners, Corner{Station: station, At: p.path.At(station), Turn: c.Turn})
	}
	return p
}

// street lays n lines side by side. Of the signal on each a share flows back on all
// others, divided among them by chance.
func (b *builder) street(n int) {
	lines := []*Line{b.add(b.pipe())}
	offset, side := 0.0, sign(b.rng)
	for len(lines) < n {
		offset += Range{0.7, 1.6}.draw(b.rng)
		lines = append(lines, b.add(along(lines[0], side*offset)))
	}
	for i, l := range lines {
		back := Range{0, 0.25}.draw(b.rng)
		parts := make([]float64, n)
		var sum float64
		for j := range parts {
			if j != i {
				parts[j] = b.rng.ExpFloat64()
				sum += parts[j]
			}
		}
		for j, other := range lines {
			if j != i {
				l.Beside = append(l.Beside, Beside{Line: other, Share: -back * parts[j] / sum})
			}
		}
	}
}

// pair lays a second line 0.6 m beside a pipe; each carries some of the
// other's signal, in either direction.
func (b *builder) pair() {
	first := b.add(b.pipe())
	second := b.add(along(first, 0.6*sign(b.rng)))
	first.Beside = []Beside{{Line: second, Share: Range{-0.15, 0.1}.draw(b.rng)}}
	second.Beside = []Beside{{Line: first, Share: Range{-0.15, 0.1}.draw(b.rng)}}
}

// fork lays a pipe and a branch that leaves it at a right angle on a straight.
func (b *builder) fork() {
	main := b.add(b.pipe())
	at := main.Path.Length() * Range{0.3, 0.7}.draw(b.rng)
	for _, c := range main.Corners {
		if math.Abs(c.Station-at) < 3 {
			at = c.Station + 4
		}
	}
	along := main.Path.Along(at)
	p := newPen(main.Path.At(at), math.Atan2(along.E, along.N)*180/math.Pi+90*sign(b.rng))
	for length := b.w.Length.draw(b.rng) / 2; p.station < length; {
		if p.station > 0 {
			p.bend(sign(b.rng) * either(b.rng, b.w.Bends) / 2)
		}
		p.straight(b.w.Straight.draw(b.rng))
	}
	branch := b.add(p)
	step := Step{Station: at, Factor: Range{0.5, 0.8}.draw(b.rng), Branch: branch.ID}
	main.Steps = []Step{step}
	branch.Steps = nil
	branch.Utility, branch.Diameter, branch.Frequency = main.Utility, main.Diameter, main.Frequency
	branch.Current = main.CurrentAt(at) * (1 - step.Factor)
	branch.Depth = newDepths(&branch.Path, main.DepthAt(at), b.rng)
	branch.Onward[0] = false
	main.Beside = []Beside{{Line: branch, Joined: true}}
	branch.Beside = []Beside{{Line: main, Joined: true}}
}

// disturb lays unknown conductors beside lines over 15–40 m.
func (b *builder) disturb() {
	for _, l := range b.lines {
		if b.rng.Float64() >= b.w.Distorted {
			continue
		}
		length := Range{15, 40}.draw(b.rng)
		from := max(0, (l.Path.Length()-length)*b.rng.Float64())
		l.Stretches = append(l.Stretches, Stretch{
			From: from, To: min(from+length, l.Path.Length()),
			Offset: sign(b.rng) * Range{0.6, 2}.draw(b.rng),
			Depth:  l.DepthAt(from) * Range{0.6, 1.4}.draw(b.rng),
			Share:  sign(b.rng) * b.w.DistortShare.draw(b.rng),
		})
	}
}
