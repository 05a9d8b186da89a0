package score

import (
	"math"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/lab/simulate"
	"tracemap/nmea"
	"tracemap/remarks"
)

const (
	step       = 0.25 // m between samples along lines
	reach      = 1.0  // m within which a located part covers the true line, or 2 σ if that is more
	cornerArea = 2.0  // m about a corner that belongs to it
	overshoot  = 3.0  // m beyond an end of the true line that it is taken to go on straight
	stepReach  = 6.0  // m along the line within which a step of the current counts as found
)

// Judge scores one day; cl may be nil. The rows of the readings log must be those
// of the truth.
func Judge(t *Truth, res *fuse.Result, cl *clock.Result) *Score {
	j := &judge{truth: t, res: res, here: geodesy.NewLocal(t.Origin)}
	j.score = &Score{Days: 1, ByQuality: map[nmea.Quality]Fit{}}
	owners := j.owners()
	located := map[*Line][]*fuse.Line{}
	for i := range res.Lines {
		l := &res.Lines[i]
		if truth := owners[l.ID]; truth != nil {
			located[truth] = append(located[truth], l)
		}
	}
	raw := j.rawDots()
	for _, truth := range t.Lines {
		j.line(truth, located[truth])
		j.raw(truth, raw[truth])
	}
	j.readings()
	if cl != nil {
		j.score.Clocks = j.clocks(cl)
	}
	return j.score
}

type judge struct {
	truth *Truth
	res   *fuse.Result
	here  *geodesy.Local
	score *Score
}

// row returns the truth of a row of the log; the header is row 1.
func (j *judge) row(p *fuse.Placed) *Row { return &j.truth.Rows[p.Reading.Row-2] }

// owners says which true line each located line is: that of most of its
// readings. Names in the log are not needed for it.
func (j *judge) owners() map[string]*Line {
	votes := map[string]map[*Line]int{}
	best := map[string]*Line{}
	for i := range j.res.Readings {
		p := &j.res.Readings[i]
		r := j.row(p)
		if p.LineID == "" || p.Part == 0 || r.Line == nil {
			continue
		}
		v := votes[p.LineID]
		if v == nil {
			v = map[*Line]int{}
			votes[p.LineID] = v
		}
		v[r.Line]++
		if b := best[p.LineID]; b == nil || v[r.Line] > v[b] {
			best[p.LineID] = r.Line
		}
	}
	return best
}

// bring turns a place of the result's plane into the day's.
func (j *judge) bring(p plane.Pt) plane.Pt { return j.here.Forward(j.res.Plane.Inverse(p)) }

// A spot is a sample of a located line: the middle of a short piece of it.
type spot struct {
	at, half plane.Pt // the piece reaches from at − half to at + half
	sigma    float64
}

// dist is the distance of a place from the piece.
func (s spot) dist(q plane.Pt) float64 {
	t := 0.0
	if l2 := s.half.Dot(s.half); l2 > 0 {
		t = min(max(q.Sub(s.at).Dot(s.half)/l2, -1), 1)
	}
	return q.Dist(s.at.Add(s.half.Mul(t)))
}

// across is the station of the true line nearest to a place, and the place's
// distance from the line, signed; up to overshoot metres beyond an end the
// distance from the end's straight.
func across(l *Line, q plane.Pt) (station, offset float64) {
	station, offset = l.Path.Nearest(q)
	if l.Closed {
		return station, offset
	}
	if length := l.Path.Length(); (station <= 0 || station >= length) && math.Abs(offset) < overshoot {
		offset = l.Path.Along(station).Cross(q.Sub(l.Path.At(station)))
	}
	return station, offset
}

// line scores what was located of one true line.
func (j *judge) line(truth *Line, located []*fuse.Line) {
	var spots []spot
	for _, l := range located {
		var lateral Extent
		for i := range l.Parts {
			spots = append(spots, j.part(truth, &l.Parts[i], &lateral)...)
		}
		if lateral.Length > 0 {
			j.score.Lateral.Add(lateral)
			j.score.Lines = append(j.score.Lines, lateral)
		}
		j.falseSteps(truth, l)
	}
	j.complete(truth, spots)
	for _, c := range truth.Corners {
		if math.Abs(c.Turn) >= 80 && c.Station > truth.Surveyed[0]+cornerArea && c.Station < truth.Surveyed[1]-cornerArea {
			j.corner(truth, c, spots)
		}
	}
	j.steps(truth, located)
}

// part samples a part and adds up its errors.
func (j *judge) part(truth *Line, p *fuse.Part, lateral *Extent) []spot {
	var spots []spot
	if len(p.Vertices) == 1 {
		return []spot{{at: j.bring(p.Vertices[0].At), sigma: p.Vertices[0].Sigma}}
	}
	density := densityOf(p)
	for k := range p.Vertices[1:] {
		a, b := &p.Vertices[k], &p.Vertices[k+1]
		from, to := j.bring(a.At), j.bring(b.At)
		length := from.Dist(to)
		n := max(1, math.Ceil(length/step))
		for i := range int(n) {
			t := (float64(i) + 0.5) / n
			s := spot{at: from.Lerp(to, t), half: to.Sub(from).Mul(0.5 / n), sigma: mix(a.Sigma, b.Sigma, t)}
			spots = append(spots, s)
			station, offset := across(truth, s.at)
			var one Fit
			one.Lateral.Sample(length/n, offset, s.sigma)
			if depth, real := mix(a.Depth, b.Depth, t), truth.Depth(station); !math.IsNaN(depth) {
				one.Depth.Sample(length/n, depth-real, mix(a.SigmaDepth, b.SigmaDepth, t))
				one.Depth.Lean = length / n * (depth - real) / real
			}
			lateral.Add(one.Lateral)
			j.score.Depth.Add(one.Depth)
			j.score.ByDensity[density].Add(one)
			q := weaker(a.Quality, b.Quality)
			sum := j.score.ByQuality[q]
			sum.Add(one)
			j.score.ByQuality[q] = sum
		}
	}
	return spots
}

// densityOf is the class of a part by its readings a metre.
func densityOf(p *fuse.Part) Density {
	switch perMetre := float64(p.Readings) / p.Length(); {
	case perMetre < 0.3:
		return Sparse
	case perMetre <= 1:
		return Usual
	}
	return Dense
}

func mix(a, b, t float64) float64 { return a + t*(b-a) }

// qualityOrder lists qualities from the best to the weakest.
var qualityOrder = map[nmea.Quality]int{
	nmea.QualityRTKFixed: 0, nmea.QualityRTKFloat: 1, nmea.QualityDGPS: 2, nmea.QualityPPS: 3,
	nmea.QualityAutonomous: 4, nmea.QualityEstimated: 5, nmea.QualityUnknown: 6,
}

func weaker(a, b nmea.Quality) nmea.Quality {
	if qualityOrder[b] > qualityOrder[a] {
		return b
	}
	return a
}

// complete walks along the surveyed stretch of the true line and looks for a
// located spot within reach.
func (j *judge) complete(truth *Line, spots []spot) {
	for s := truth.Surveyed[0] + step/2; s < truth.Surveyed[1]; s += step {
		j.score.Surveyed += step
		at := truth.Path.At(s)
		for _, q := range spots {
			if q.dist(at) <= max(reach, 2*q.sigma) {
				j.score.Covered += step
				break
			}
		}
	}
}

// corner scores the located line about a true corner.
func (j *judge) corner(truth *Line, c simulate.Corner, spots []spot) {
	passed, strayed := math.Inf(1), 0.0
	for _, q := range spots {
		passed = min(passed, q.dist(c.At))
		if q.at.Dist(c.At) <= cornerArea {
			_, off := across(truth, q.at)
			strayed = max(strayed, math.Abs(off))
		}
	}
	if passed > 2*cornerArea {
		return // not located here: a matter of completeness
	}
	j.score.Corners = append(j.score.Corners, max(passed, strayed))
}

// steps counts the true steps that were told.
func (j *judge) steps(truth *Line, located []*fuse.Line) {
	for _, s := range truth.Steps {
		if s < truth.Surveyed[0]+2 || s > truth.Surveyed[1]-2 || len(located) == 0 {
			continue
		}
		j.score.Steps++
		found := false
		for _, l := range located {
			for _, e := range l.Events {
				station, _ := across(truth, j.bring(e.At))
				found = found || e.Kind.Has(remarks.CurrentStep) && math.Abs(station-s) <= stepReach
			}
		}
		if found {
			j.score.StepsFound++
		}
	}
}

// falseSteps counts the steps told of a located line that are not there.
func (j *judge) falseSteps(truth *Line, l *fuse.Line) {
	before := j.score.StepsFalse
	if len(truth.Steps) == 0 {
		j.score.Plain++
		defer func() {
			if j.score.StepsFalse > before {
				j.score.PlainStepped++
			}
		}()
	}
	for _, e := range l.Events {
		if !e.Kind.Has(remarks.CurrentStep) {
			continue
		}
		station, _ := across(truth, j.bring(e.At))
		real := false
		for _, s := range truth.Steps {
			real = real || math.Abs(station-s) <= stepReach
		}
		if !real {
			j.score.StepsFalse++
		}
	}
}

// readings scores what became of the readings.
func (j *judge) readings() {
	s := j.score
	for i := range j.res.Readings {
		p := &j.res.Readings[i]
		r := j.row(p)
		if r.Line == nil || r.Feature != "" || !p.OK {
			continue
		}
		flagged := p.Flags.Has(remarks.NeighbourLock)
		if r.Lock {
			s.Locks++
			if flagged {
				s.Known++
			}
			if !p.Used {
				s.Aside++
			}
			continue
		}
		if flagged {
			s.Wronged++
		}
		if !p.Used {
			s.WrongedBy++
		}
	}
}

// clocks holds each clock found against the truth at every reading that it stamped.
func (j *judge) clocks(cl *clock.Result) []Clock {
	if len(cl.Several) == 0 {
		return []Clock{judgeClock(cl, j.truth.Rows)}
	}
	rows := map[*clock.Result][]Row{}
	for i := range j.res.Readings {
		own := cl.Of(i)
		rows[own] = append(rows[own], *j.row(&j.res.Readings[i]))
	}
	var out []Clock
	for _, own := range cl.Several {
		if own.Result != nil {
			out = append(out, judgeClock(own.Result, rows[own.Result]))
		}
	}
	return out
}

func judgeClock(cl *clock.Result, rows []Row) Clock {
	out := Clock{Sigma: cl.Sigma, Determined: cl.State == clock.Known, Method: cl.Method}
	for _, r := range rows {
		off := cl.UTC(r.Stamp).Sub(r.Time).Seconds()
		out.Error += off / float64(len(rows))
		out.Worst = max(out.Worst, math.Abs(off))
	}
	return out
}

// Receiver adds the jumps that the track tells of a receiver that never jumped.
func (s *Score) Receiver(t *Truth, tr *track.Track) {
	if !t.Steady {
		return
	}
	from, to := tr.Span()
	s.SteadyHours += (to - from) / 3600
	s.JumpsFalse += len(tr.Steps)
}
