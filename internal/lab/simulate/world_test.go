package simulate_test

import (
	"math"
	"slices"
	"testing"

	"tracemap/internal/lab/simulate"
)

func TestCornersAreFittings(t *testing.T) {
	asked := []float64{11.25, 22.5, 45, 90}
	for seed := range uint64(20) {
		s := simulate.New("pipes", seed)
		s.World.Pipes, s.World.Curves, s.World.Cables = 4, 0, 0
		for _, l := range simulate.Invent(s).Lines {
			corners := 0
			p := l.Path
			for i := 1; i < len(p.Points)-1; i++ {
				a, b := p.Points[i].Sub(p.Points[i-1]), p.Points[i+1].Sub(p.Points[i])
				turn := math.Atan2(a.Cross(b), a.Dot(b)) * 180 / math.Pi
				if math.Abs(turn) < 1e-6 {
					continue
				}
				c := l.Corners[corners]
				corners++
				if c.At.Dist(p.Points[i]) > 1e-9 || math.Abs(c.Station-p.Stations[i]) > 1e-9 || math.Abs(c.Turn-turn) > 1e-6 {
					t.Errorf("%s: turns %.3f° at %.2f m, corner says %+v", l.ID, turn, p.Stations[i], c)
				}
				if !slices.ContainsFunc(asked, func(v float64) bool { return math.Abs(math.Abs(turn)-v) < 1e-6 }) {
					t.Errorf("%s: no fitting turns %.3f°", l.ID, turn)
				}
			}
			if corners != len(l.Corners) {
				t.Errorf("%s: %d corners told, %d found", l.ID, len(l.Corners), corners)
			}
		}
	}
}

// Chords leave their arc by less than 2 mm: L²/8R with the circle through three
// vertices.
func TestArcsAreDense(t *testing.T) {
	for seed := range uint64(20) {
		s := simulate.New("curves", seed)
		s.World.Pipes, s.World.Curves, s.World.Cables = 0, 3, 3
		for _, l := range simulate.Invent(s).Lines {
			p := l.Path.Points
			if len(l.Corners) > 0 {
				t.Errorf("%s has corners", l.ID)
			}
			for i := 1; i < len(p)-1; i++ {
				a, b := p[i].Sub(p[i-1]), p[i+1].Sub(p[i])
				turn := math.Abs(math.Atan2(a.Cross(b), a.Dot(b)))
				if miss := min(a.Len(), b.Len()) * turn / 8; miss > 0.0021 { // L²/8R, turn = L/R
					t.Errorf("%s: a chord leaves its arc by %.1f mm", l.ID, 1000*miss)
				}
			}
		}
	}
}

func TestStationsAreLengths(t *testing.T) {
	for _, name := range []string{"rtk-stopgo", "loops-and-parallels", "cables-and-curves"} {
		for _, l := range simulate.Invent(preset(t, name, 4)).Lines {
			var sum float64
			for i := range l.Path.Points {
				if i > 0 {
					sum += l.Path.Points[i].Dist(l.Path.Points[i-1])
				}
				within(t, l.ID+": station, m", l.Path.Stations[i], sum, 1e-6)
				if d := l.Depth[i]; d < 0.25 || d > 4 {
					t.Errorf("%s: depth %.2f m", l.ID, d)
				}
			}
			for s := 0.0; s < l.Path.Length(); s += 0.37 {
				station, offset := l.Path.Nearest(l.Path.At(s))
				if math.Abs(offset) > 1e-6 {
					t.Errorf("%s: its own place at %.2f m is %.2g m off, at %.2f m", l.ID, s, offset, station)
				}
			}
		}
	}
}

func TestLoopsCloseAndPairsKeepTheirDistance(t *testing.T) {
	for seed := range uint64(10) {
		s := simulate.New("loops", seed)
		s.World.Pipes, s.World.Curves, s.World.Cables = 0, 0, 0
		s.World.Loops, s.World.Pairs, s.World.Forks = 2, 1, 1
		d := simulate.Invent(s)
		for _, l := range d.Lines {
			first, last := l.Path.Points[0], l.Path.Points[len(l.Path.Points)-1]
			if l.Closed != (first == last) {
				t.Errorf("%s: closed %v, ends %.3f m apart", l.ID, l.Closed, first.Dist(last))
			}
		}
		pair := d.Lines[2:4]
		for i, q := range pair[1].Path.Points {
			if i == 0 || i == len(pair[1].Path.Points)-1 {
				continue
			}
			if _, off := pair[0].Path.Nearest(q); math.Abs(math.Abs(off)-0.6) > 0.25 { // at a corner the miter is longer
				t.Errorf("pair is %.2f m apart", off)
			}
		}
		main, branch := d.Lines[4], d.Lines[5]
		step := main.Steps[0]
		if got := main.Path.At(step.Station).Dist(branch.Path.Points[0]); got > 1e-6 {
			t.Errorf("branch begins %.3f m from its tee", got)
		}
		before, after := main.CurrentAt(step.Station-1e-6), main.CurrentAt(step.Station+1e-6)
		within(t, "current into the tee, mA", before, after+branch.CurrentAt(0), 0.01*before)
	}
}

// The current falls by its decay in dB, and by the step's factor: 100 mA at
// 0.01 dB/m over 200 m is 79.43 mA.
func TestCurrentDecays(t *testing.T) {
	l := simulate.Line{Current: 100, Decay: 0.01}
	within(t, "after 200 m, mA", l.CurrentAt(200), 79.43, 0.005)
	l.Steps = []simulate.Step{{Station: 150, Factor: 0.5}}
	within(t, "after a step, mA", l.CurrentAt(200), 79.43/2, 0.005)
	within(t, "before it, mA", l.CurrentAt(100), 89.13, 0.005)
}
