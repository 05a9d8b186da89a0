// Package fuse makes lines with a true uncertainty width out of a track and a
// locator's readings: readings are placed, grouped into lines, put in order
// along them, and fitted with straights, corners and curves; depth and current
// are fitted along the same stations.
//
// The width is the standard deviation of the generalised least-squares fit
// under one error model for all readings of a part: errors that are independent
// shrink with their number, errors that readings share – the slow part of GNSS
// in time, distortion of the field along the line, the clock – do not, or only
// as far as the readings lie apart. Nothing is added by hand but what no reading
// can show: how far a laid line leaves its straights, the radius of a bend.
package fuse

import (
	"context"
	"fmt"
	"math"
	"slices"

	"tracemap/flags"
	"tracemap/fuse/clock"
	"tracemap/fuse/noise"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/readings"
)

// Options of Locate. Callers start from DefaultOptions.
type Options struct {
	AntennaHeight  float64 // antenna's phase centre above the ground, m
	HeightAssumed  bool    // nobody measured it
	AntennaForward float64 // antenna ahead of the locator in walking direction, m
	AntennaRight   float64 // antenna right of the locator, m
	MaxGap         float64 // readings further apart are not joined, m
	// Progress, when set, is told lines done of lines in all.
	Progress func(done, all int)
}

// DefaultOptions are what a day without any word on them is computed with.
func DefaultOptions() Options {
	return Options{AntennaHeight: 2.0, HeightAssumed: true, MaxGap: 15}
}

// Result is a day's lines and what became of every reading.
type Result struct {
	Lines    []Line
	Points   []Point
	Readings []Placed // one for each reading, in the log's order
	Plane    *geodesy.Local
	Warnings []string
}

// Locate computes a day's lines. The result is complete or an error; it does not
// depend on the number of processors. Cost grows with the cube of the readings
// on one part, up to a limit, and linearly in the rest.
func Locate(ctx context.Context, tr *track.Track, rs []readings.Reading, cl *clock.Result, opt Options) (*Result, error) {
	ps := place(tr, rs, cl, opt)
	groups := groupLines(ps, opt.MaxGap)
	sc := unitScales()
	res := &Result{Readings: ps, Plane: tr.Plane}
	for done, g := range groups {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		line, err := locateLine(ps, g, tr, cl, &sc, opt)
		if err != nil {
			return nil, fmt.Errorf("fitting line %s: %w", g.id, err)
		}
		res.Lines = append(res.Lines, line)
		if opt.Progress != nil {
			opt.Progress(done+1, len(groups))
		}
	}
	res.Points = points(ps)
	return res, nil
}

func locateLine(ps []Placed, g group, tr *track.Track, cl *clock.Result, sc *scales, opt Options) (Line, error) {
	var line Line
	describe(&line, ps, g)
	order := orderAlong(ps, g.members)
	runs := splitGaps(ps, order, opt.MaxGap)
	for n, run := range runs {
		part, events := locatePart(ps, run, tr.Plane, sc, opt)
		widenForClock(ps, run, &part, tr, cl)
		part.Number = n + 1
		if len(runs) > 1 {
			markGaps(&part, n > 0, n < len(runs)-1)
		}
		if err := corridor(&part); err != nil {
			return line, err
		}
		for k := range events {
			events[k].LineID, events[k].Part = line.ID, part.Number
		}
		line.Events = append(line.Events, events...)
		for _, i := range run {
			ps[i].LineID, ps[i].Part = line.ID, part.Number
			ps[i].Flags |= line.Flags
		}
		part.Flags |= line.Flags
		line.Parts = append(line.Parts, part)
	}
	return line, nil
}

func locatePart(ps []Placed, run []int, plan *geodesy.Local, sc *scales, opt Options) (Part, []Event) {
	if len(run) >= 2 {
		if shaped := shape(ps, run, sc); shaped != nil && spread2(ps, run) > 0.05 {
			part, events := assemble(ps, shaped, plan, opt)
			if len(run) == 2 {
				part.Flags |= flags.TwoPoints
			}
			return part, events
		}
	}
	return single(ps, run, plan, sc), nil
}

// spread2 is the largest distance of a reading of the run from its first, m.
func spread2(ps []Placed, run []int) float64 {
	var d float64
	for _, i := range run {
		d = max(d, ps[i].At.Dist(ps[run[0]].At))
	}
	return d
}

// single makes a part of readings at one place: a point with a width.
func single(ps []Placed, run []int, plan *geodesy.Local, sc *scales) Part {
	depth := typicalDepth(ps, run)
	s := samplesOf(ps, run, depth, sc)
	var at plane.Pt
	var sigma, h, current float64
	for k, i := range run {
		p := &ps[i]
		at = at.Add(p.At.Mul(1 / float64(len(run))))
		h += p.Geo.H / float64(len(run))
		current += p.Reading.Current / float64(len(run))
		p.Used, p.Station, p.Offset = true, 0, 0
		p.Radius = math.Sqrt(s[k].white + sq(s[k].shared) + max(s[k].slow[0], s[k].slow[1]) + s[k].shift.Dot(s[k].shift))
		sigma = max(sigma, p.Radius)
	}
	v := Vertex{At: at, Sigma: sigma, Depth: depth, SigmaDepth: math.NaN(), Current: current, Flags: ps[run[0]].Flags & weakFixes}
	v.Ground = plan.Inverse(at)
	v.Ground.H, v.SigmaH = h, ps[run[0]].SigmaH
	v.Quality = ps[run[0]].Quality
	if math.IsNaN(depth) {
		v.Flags |= flags.DepthMissing
	} else {
		v.SigmaDepth = math.Hypot(noise.DepthSigma(ps[run[0]].Reading, depth), noise.DepthCommon*depth)
	}
	return Part{
		Vertices: []Vertex{v}, Readings: len(run), From: ps[run[0]].UTC, To: ps[run[len(run)-1]].UTC,
		Flags: v.Flags | flags.SinglePoint,
	}
}

func markGaps(p *Part, before, after bool) {
	n := len(p.Vertices)
	if before {
		p.Vertices[0].Flags |= flags.Gap
	}
	if after {
		p.Vertices[n-1].Flags |= flags.Gap
	}
	p.Flags |= flags.Gap
}

// corridor lays the 95 % width about the part.
func corridor(p *Part) error {
	line := make([]plane.Pt, len(p.Vertices))
	half := make([]float64, len(p.Vertices))
	for k, v := range p.Vertices {
		line[k], half[k] = v.At, noise.K95*v.Sigma
	}
	var err error
	p.Corridor, err = plane.Corridor(line, half)
	return err
}

// points lists the readings that stand for themselves.
func points(ps []Placed) []Point {
	var out []Point
	for i := range ps {
		p := &ps[i]
		if !p.OK || p.Reading.OnLine() {
			continue
		}
		p.Used = true
		pin := noise.PinSigma(p.Reading, p.Reading.BestDepth())
		p.Radius = math.Sqrt(p.QuickVar + max(p.SlowE, p.SlowN) + sq(pin))
		out = append(out, Point{Placed: p, LineID: p.Reading.Line})
	}
	return slices.Clip(out)
}
