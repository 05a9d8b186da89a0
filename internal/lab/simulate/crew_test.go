package simulate_test

import (
	"math"
	"slices"
	"testing"

	"tracemap/internal/lab/simulate"
)

// speed is how fast the locator moved about a time, over half a second.
func speed(tr *simulate.Track, t float64) float64 {
	return tr.At(t+0.25).Dist(tr.At(t-0.25)) / 0.5
}

func trackOf(t *testing.T, d *simulate.Day, at float64) *simulate.Track {
	t.Helper()
	for i := range d.Tracks {
		if tr := &d.Tracks[i]; at >= tr.Start && at <= tr.End() {
			return tr
		}
	}
	t.Fatalf("no track at %.1f s", at)
	return nil
}

func preset(t *testing.T, name string, seed uint64) simulate.Scenario {
	t.Helper()
	p, ok := simulate.Named(name)
	if !ok {
		t.Fatalf("no preset %q", name)
	}
	return p.Scenario(seed)
}

func TestStopAndGoReadsStandingStill(t *testing.T) {
	d := simulate.Invent(preset(t, "rtk-stopgo", 5))
	var moving stats
	for _, r := range d.Readings {
		tr := trackOf(t, d, r.Time)
		if got := tr.At(r.Time); got.Dist(r.At) > 1e-9 {
			t.Errorf("reading at %.1f s: says it was %.3f m from the track", r.Time, got.Dist(r.At))
		}
		moving.add(speed(tr, r.Time))
		// The operator faces along the line, not the way of the sweep.
		along := r.Line.Path.Along(r.Station)
		face := float64(tr.Heading[int((r.Time-tr.Start)*10)])
		if turned := math.Remainder(face-math.Atan2(along.E, along.N)*180/math.Pi, 180); math.Abs(turned) > 25 {
			t.Errorf("reading %.1f m along %s: faces %.0f° off the line", r.Station, r.Line.ID, turned)
		}
	}
	// Sway is 7 mm in a second; a stop may begin 0.2 s before.
	if moving.mean() > 0.08 {
		t.Errorf("readings are taken at %.2f m/s on average", moving.mean())
	}
	// It must not be still all the time: between readings the locator travels.
	travelled := 0.0
	for i := range d.Readings[1:] {
		travelled += d.Readings[i].At.Dist(d.Readings[i+1].At)
	}
	if travelled < 300 {
		t.Errorf("travelled only %.0f m", travelled)
	}
}

// Before a stop the locator is swept across the line: it is then beside the
// line by decimetres.
func TestSweepThrowsAside(t *testing.T) {
	d := simulate.Invent(preset(t, "rtk-stopgo", 6))
	var aside stats
	for _, r := range d.Readings {
		if r.Feature != "" {
			continue
		}
		tr, left := trackOf(t, d, r.Time), r.Line.Path.Along(r.Station).Left()
		widest := 0.0
		for back := 0.5; back < 8; back += 0.1 {
			widest = max(widest, math.Abs(tr.At(r.Time-back).Sub(r.At).Dot(left)))
		}
		aside.add(widest)
	}
	if aside.mean() < 0.3 || aside.mean() > 2 {
		t.Errorf("swept %.2f m aside on average, asked for 0.3–0.6 m", aside.mean())
	}
}

func TestWalkingNeverStops(t *testing.T) {
	d := simulate.Invent(preset(t, "walk-no-evidence", 4))
	if len(d.Readings) < 50 {
		t.Fatalf("%d readings", len(d.Readings))
	}
	for _, r := range d.Readings {
		tr := trackOf(t, d, r.Time)
		if v := speed(tr, r.Time); v < 0.2 || v > 2 {
			t.Errorf("reading %.1f m along %s: %.2f m/s", r.Station, r.Line.ID, v)
		}
		station, _ := r.Line.Path.Nearest(r.At)
		if math.Abs(station-r.Station) > 0.6 && !r.Lock { // a lock may be round a corner
			t.Errorf("reading said to be %.2f m along %s was taken at %.2f m", r.Station, r.Line.ID, station)
		}
	}
}

// Every line is walked twice, the second time the other way: some minutes,
// some hours later.
func TestReturnPasses(t *testing.T) {
	d := simulate.Invent(preset(t, "rtk-return", 2))
	soon, late := 0, 0
	for _, l := range d.Lines {
		var first, second []*simulate.Reading
		for _, r := range d.Readings {
			if r.Line == l && r.Pass == 0 {
				first = append(first, r)
			} else if r.Line == l {
				second = append(second, r)
			}
		}
		up := func(rs []*simulate.Reading) bool { return rs[len(rs)-1].Station > rs[0].Station }
		if up(first) == up(second) {
			t.Errorf("%s: both passes go the same way", l.ID)
		}
		if apart := second[0].Time - first[len(first)-1].Time; apart < 600 {
			soon++
		} else if apart > 3600 {
			late++
		}
	}
	if soon == 0 || late == 0 || soon+late != len(d.Lines) {
		t.Errorf("of %d lines %d were walked again within ten minutes, %d after an hour", len(d.Lines), soon, late)
	}
}

func TestSessionsOnThreeDays(t *testing.T) {
	d := simulate.Invent(preset(t, "several-passes-days-apart", 2))
	if len(d.Tracks) != 3 {
		t.Fatalf("%d sessions, want 3", len(d.Tracks))
	}
	for i := 1; i < 3; i++ {
		if gap := d.Tracks[i].Start - d.Tracks[i-1].End(); gap < 10*3600 {
			t.Errorf("session %d begins %.1f h after the one before", i+1, gap/3600)
		}
	}
	if !slices.IsSortedFunc(d.Readings, func(a, b *simulate.Reading) int {
		return int(math.Copysign(1, a.Time-b.Time))
	}) {
		t.Error("readings are not in order of time")
	}
}

// The stamp is UTC + offset + drift, to the clock's resolution.
func TestStamps(t *testing.T) {
	s := simulate.New("clock", 9)
	s.Clock = simulate.Clock{Offset: -7200 + 3.25, Drift: 40, Step: 0.01}
	d := simulate.Invent(s)
	for _, r := range d.Readings {
		got := d.Stamp(r).Sub(s.Start).Seconds()
		want := r.Time - 7200 + 3.25 + 40e-6*r.Time
		within(t, "stamp, s", got, want, 0.0051)
	}
	s.Clock.Step, s.Clock.Cut = 1, true
	d = simulate.Invent(s)
	var late stats
	for _, r := range d.Readings {
		late.add(r.Time + s.Clock.Offset + 40e-6*r.Time - d.Stamp(r).Sub(s.Start).Seconds())
	}
	within(t, "cut stamps are early by, s", late.mean(), 0.5, 0.1)
}

// Faults last and weigh as asked.
func TestSpells(t *testing.T) {
	s := preset(t, "rtk-false-fix", 3)
	s.GNSS.Outages = simulate.Spells{Count: 2, Length: simulate.Range{20, 200}}
	s.GNSS.Jumps = simulate.Spells{Count: 3, Length: simulate.Range{2, 8}}
	d := simulate.Invent(s)
	inside := func(f simulate.Fault, at float64) *simulate.Spell {
		for i := range d.Spells {
			if sp := &d.Spells[i]; sp.Fault == f && at >= sp.From && at <= sp.To {
				return sp
			}
		}
		return nil
	}
	for e := range d.Epochs() {
		out, wrong, jump := inside(simulate.Outage, e.Time), inside(simulate.FalseFix, e.Time), inside(simulate.Jump, e.Time)
		if e.Logged == (out != nil) {
			t.Fatalf("at %.1f s: logged %v, outage %v", e.Time, e.Logged, out)
		}
		size := math.Hypot(e.Error[0], e.Error[1])
		switch {
		case jump != nil:
			if size < 0.9 {
				t.Errorf("jump of only %.2f m", size)
			}
		case wrong != nil:
			if size < 0.1 || size > 1.8 || e.Quality != 4 {
				t.Errorf("false fix %.2f m off with quality %d", size, e.Quality)
			}
		case size > 0.15:
			t.Errorf("%.1f s: %.2f m off though nothing ails", e.Time, size)
		}
	}
	for _, sp := range d.Spells {
		length := sp.To - sp.From
		limits := map[simulate.Fault][2]float64{simulate.Outage: {20, 200}, simulate.FalseFix: {60, 300}, simulate.Jump: {2, 8}}[sp.Fault]
		if length < limits[0] || length > limits[1] {
			t.Errorf("%v of %.1f s", sp.Fault, length)
		}
	}
}

// A lever arm turns with the operator: the antenna is 0.35 m ahead and 0.2 m to
// the left of the locator.
func TestLeverArmTurns(t *testing.T) {
	s := preset(t, "rtk-lever-arm", 1)
	s.Mount.Tilt = 0
	d := simulate.Invent(s)
	want := math.Hypot(s.Mount.Forward, s.Mount.Right)
	seen := map[int]bool{}
	for e := range d.Epochs() {
		arm := e.Antenna.Sub(d.Tracks[0].At(e.Time))
		within(t, "arm, m", arm.Len(), want, 1e-6)
		seen[int(math.Floor(math.Atan2(arm.E, arm.N)*4/math.Pi))] = true
	}
	if len(seen) < 6 {
		t.Errorf("the arm pointed into %d of 8 directions only", len(seen))
	}
}
