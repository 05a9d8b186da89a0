package score_test

import (
	"math"
	"testing"
	"time"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/geodesy"
	"tracemap/internal/lab/score"
	"tracemap/internal/lab/simulate"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.5g, want %.5g ± %g", what, got, want, tolerance)
	}
}

// day has pipes with right angles, some locks, and a clock that is off.
func day() *simulate.Day {
	s := simulate.New("score", 11)
	s.World.Pipes, s.World.Curves, s.World.Cables, s.World.Forks = 3, 0, 0, 1
	s.World.Bends, s.World.Steps = []float64{90}, 0
	s.Locate.Locks = 0.1
	return simulate.Invent(s)
}

// perfect is the result of an estimator that knows the truth, in a plane of its
// own; each vertex may be moved to the left.
func perfect(d *simulate.Day, left, sigma, deeper, sigmaDepth float64) *fuse.Result {
	here := geodesy.NewLocal(d.Scenario.Origin)
	other := d.Scenario.Origin
	other.Lat += 0.001 // 111 m away
	res := &fuse.Result{Plane: geodesy.NewLocal(other)}
	for _, l := range d.Lines {
		part := fuse.Part{Number: 1}
		for i, p := range l.Path.Points {
			// Beyond corners the left changes at once: two vertices.
			for _, s := range []float64{l.Path.Stations[i] - 1e-9, l.Path.Stations[i]} {
				if s < 0 {
					continue
				}
				at := p.Add(l.Path.Along(s).Left().Mul(left))
				part.Vertices = append(part.Vertices, fuse.Vertex{
					At: res.Plane.Forward(here.Inverse(at)), Sigma: sigma,
					Depth: l.Depth[i] + deeper, SigmaDepth: sigmaDepth, Quality: nmea.QualityRTKFixed,
				})
			}
		}
		line := fuse.Line{ID: l.ID, Parts: []fuse.Part{part}}
		for _, s := range l.Steps {
			line.Events = append(line.Events, fuse.Event{
				Kind: remarks.CurrentStep, At: res.Plane.Forward(here.Inverse(l.Path.At(s.Station))),
			})
		}
		res.Lines = append(res.Lines, line)
	}
	for i, r := range d.Readings {
		p := fuse.Placed{Reading: &readings.Reading{Row: i + 2}, OK: true, LineID: r.Line.ID, Part: 1, Used: !r.Lock}
		if r.Lock {
			p.Flags = remarks.NeighbourLock
		}
		res.Readings = append(res.Readings, p)
	}
	return res
}

func truthOf(d *simulate.Day) *clock.Result {
	c := d.Scenario.Clock
	return &clock.Result{
		Offset: c.Offset, Drift: c.Drift, Sigma: 0.1, State: clock.Known, Determined: true,
		Ref: d.Scenario.Start.Add(time.Duration(c.Offset * float64(time.Second))),
	}
}

func TestPerfectResult(t *testing.T) {
	d := day()
	s := score.Judge(score.Simulated(d), perfect(d, 0, 0.02, 0, 0.03), truthOf(d))
	near(t, "coverage", s.Lateral.Coverage(), 1, 0)
	near(t, "RMSE", s.Lateral.RMSE(), 0, 1e-6)
	near(t, "half-width", s.Lateral.MeanHalf(), 1.96*0.02, 1e-9)
	near(t, "depth coverage", s.Depth.Coverage(), 1, 0)
	near(t, "completeness", s.Completeness(), 1, 1e-9)
	near(t, "clock error", s.Clocks[0].Error, 0, 0.001)   // stamps of 0.01 s, rounded
	near(t, "clock's worst", s.Clocks[0].Worst, 0, 0.006) // half of that, and the drift's
	if s.Locks == 0 || s.Known != s.Locks || s.Aside != s.Locks || s.Wronged != 0 || s.WrongedBy != 0 {
		t.Errorf("locks %d, known %d, aside %d, wronged %d and %d", s.Locks, s.Known, s.Aside, s.Wronged, s.WrongedBy)
	}
	if s.Steps != 1 || s.StepsFound != 1 || s.StepsFalse != 0 {
		t.Errorf("steps %d, found %d, false %d", s.Steps, s.StepsFound, s.StepsFalse)
	}
	corners := 0
	length := 0.0
	for _, l := range d.Lines {
		length += l.Path.Length()
		for _, c := range l.Corners {
			if c.Station > l.Surveyed[0]+2 && c.Station < l.Surveyed[1]-2 && math.Abs(c.Turn) >= 80 {
				corners++
			}
		}
	}
	if len(s.Corners) != corners || corners < 3 {
		t.Errorf("%d corners scored, %d there", len(s.Corners), corners)
	}
	near(t, "worst corner", s.Corner(1), 0, 1e-6)
	near(t, "length", s.Lateral.Length, length, 0.1)
	if e := s.ByQuality[nmea.QualityRTKFixed].Lateral; math.Abs(e.Length-s.Lateral.Length) > 1e-6 {
		t.Errorf("by quality %.2f m of %.2f m", e.Length, s.Lateral.Length)
	}
}

// Shifted by 10 cm, a width of 9.8 cm holds no truth and one of 11.8 cm all.
func TestShiftedResult(t *testing.T) {
	d := day()
	narrow := score.Judge(score.Simulated(d), perfect(d, 0.1, 0.05, 0.2, 0.1), nil)
	near(t, "RMSE", narrow.Lateral.RMSE(), 0.1, 0.002) // corners are cut and passed
	if c := narrow.Lateral.Coverage(); c > 0.03 {
		t.Errorf("coverage %.3f with 0.098 m about a line 0.1 m off", c)
	}
	near(t, "depth RMSE", narrow.Depth.RMSE(), 0.2, 0.002)
	near(t, "depth coverage", narrow.Depth.Coverage(), 0, 0.01) // 1.96 × 0.1 < 0.2
	wide := score.Judge(score.Simulated(d), perfect(d, 0.1, 0.06, 0.19, 0.1), nil)
	if c := wide.Lateral.Coverage(); c < 0.98 {
		t.Errorf("coverage %.3f with 0.118 m about a line 0.1 m off", c)
	}
	near(t, "sharpness", wide.Lateral.Sharpness(), 0.06/0.1, 0.02)
	near(t, "factor", wide.Lateral.Factor(), 0.1/(1.96*0.06), 0.026) // a step of the histogram
	near(t, "factor of the narrow", narrow.Lateral.Factor(), 0.1/(1.96*0.05), 0.026)
	near(t, "depth coverage", wide.Depth.Coverage(), 1, 0.01)
	both := &score.Score{}
	both.Add(narrow)
	both.Add(wide)
	near(t, "coverage of both", both.Lateral.Coverage(), (narrow.Lateral.Coverage()+wide.Lateral.Coverage())/2, 0.001)
	if both.Days != 2 || len(both.Lines) != 2*len(d.Lines) {
		t.Errorf("%d days, %d lines", both.Days, len(both.Lines))
	}
}

// Half of the first line's part cut away is missing from the completeness.
func TestMissingPart(t *testing.T) {
	d := day()
	res := perfect(d, 0, 0.02, 0, 0.03)
	p := &res.Lines[0].Parts[0]
	p.Vertices = p.Vertices[:len(p.Vertices)/2]
	s := score.Judge(score.Simulated(d), res, nil)
	var all, lost float64
	for i, l := range d.Lines {
		all += l.Surveyed[1] - l.Surveyed[0]
		if i == 0 {
			lost = l.Surveyed[1] - l.Path.Stations[len(l.Path.Stations)/2] - 1 // the reach
		}
	}
	near(t, "completeness", s.Completeness(), 1-lost/all, 0.01)
	res.Lines = res.Lines[1:]
	first := d.Lines[0].Surveyed[1] - d.Lines[0].Surveyed[0]
	near(t, "completeness without the first line", score.Judge(score.Simulated(d), res, nil).Completeness(), 1-first/all, 0.005)
}

// A corner rounded off by a chord from 1 m before to 1 m after it is missed by
// 1/√2 m.
func TestRoundedCorner(t *testing.T) {
	d := day()
	res := perfect(d, 0, 0.02, 0, 0.03)
	here := geodesy.NewLocal(d.Scenario.Origin)
	l := d.Lines[0]
	c := l.Corners[0]
	var vertices []fuse.Vertex
	for _, v := range res.Lines[0].Parts[0].Vertices {
		if here.Forward(res.Plane.Inverse(v.At)).Dist(c.At) > 1 {
			vertices = append(vertices, v)
			continue
		}
		for _, s := range []float64{-1, 1} {
			v.At = res.Plane.Forward(here.Inverse(l.Path.At(c.Station + s)))
			vertices = append(vertices, v)
		}
	}
	// The vertices at the corner itself are doubled: keep −1 and +1 once.
	res.Lines[0].Parts[0].Vertices = once(vertices)
	s := score.Judge(score.Simulated(d), res, nil)
	near(t, "worst corner", s.Corner(1), 1/math.Sqrt2, 0.02)
}

func once(vs []fuse.Vertex) []fuse.Vertex {
	var out []fuse.Vertex
	for _, v := range vs {
		seen := false
		for _, o := range out {
			seen = seen || o.At.Dist(v.At) < 1e-6
		}
		if !seen {
			out = append(out, v)
		}
	}
	return out
}

// A clock an hour off and called determined is confidently wrong.
func TestWrongClock(t *testing.T) {
	d := day()
	cl := truthOf(d)
	cl.Offset += 3600
	s := score.Judge(score.Simulated(d), perfect(d, 0, 0.02, 0, 0.03), cl)
	near(t, "error", s.Clocks[0].Error, -3600, 0.01) // the time found is too early
	if s.ConfidentlyWrong(1) != 1 || s.Clocks[0].Within(3) {
		t.Errorf("%+v", s.Clocks[0])
	}
	cl.State, cl.Determined = clock.Unknown, false
	if s := score.Judge(score.Simulated(d), perfect(d, 0, 0.02, 0, 0.03), cl); s.ConfidentlyWrong(1) != 0 {
		t.Error("an undetermined clock counts as confident")
	}
}

// Joining raw dots is off by the readings' errors: of the order of the
// pin-pointing σ, 7 cm at 1.2 m, enlarged by a tenth of the readings on
// neighbours.
func TestRawDots(t *testing.T) {
	d := day()
	s := score.Judge(score.Simulated(d), perfect(d, 0, 0.02, 0, 0.03), nil)
	if r := s.Raw.RMSE(); r < 0.06 || r > 0.5 {
		t.Errorf("raw RMSE %.3f m", r)
	}
	near(t, "raw length ÷ surveyed", s.Raw.Length/s.Surveyed, 1, 0.15)
}
