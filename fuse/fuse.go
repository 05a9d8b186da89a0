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
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"tracemap/fuse/clock"
	"tracemap/fuse/noise"
	"tracemap/fuse/track"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/parallel"
	"tracemap/readings"
	"tracemap/remarks"
)

// Options of Locate. Callers start from DefaultOptions.
type Options struct {
	AntennaHeight  float64 // antenna's phase centre above the ground, m; NaN when nobody measured it
	AntennaForward float64 // antenna ahead of the locator in walking direction, m
	AntennaRight   float64 // antenna right of the locator, m
	MaxGap         float64 // readings further apart are not joined, m
	TimeStep       float64 // to which the readings' times were cut, s; 0 for not
	// Progress, when set, is told parts shaped of parts to be shaped; each is shaped
	// twice. Calls do not overlap.
	Progress func(done, all int)
}

// DefaultOptions are what a day without any word on them is computed with.
func DefaultOptions() Options {
	return Options{AntennaHeight: math.NaN(), MaxGap: 15}
}

// Antenna returns the antenna's height, m, and whether it was assumed.
func (o *Options) Antenna() (height float64, assumed bool) {
	if math.IsNaN(o.AntennaHeight) {
		return AssumedAntennaHeight, true
	}
	return o.AntennaHeight, false
}

// Result is a day's lines and what became of every reading.
type Result struct {
	Lines    []Line
	Points   []Point
	Readings []Placed // one for each reading, in the log's order
	Plane    *geodesy.Local
	Warnings []string
	// Faults are what was to be computed and could not, by a defect of the program. The
	// parts that they name are missing; their readings carry remarks.NotComputed.
	Faults []*parallel.Fault
}

// Locate computes a day's lines. The result is complete or an error; it does not
// depend on the number of processors. Cost grows with the cube of the readings
// on one part, up to a limit, and linearly in the rest.
//
// All parts are shaped twice: in outline, with the table's constants, and then with
// the scales that the outlines' residuals give. Where these are larger than the table's,
// the outlines are drawn anew first.
func Locate(ctx context.Context, tr *track.Track, rs []readings.Reading, cl *clock.Result, opt Options) (_ *Result, err error) {
	defer parallel.Recover("the lines", &err)
	parallel.Trip("the lines")
	packed := pack(place(tr, rs, cl, opt))
	d := &locating{ctx: ctx, tr: tr, opt: opt, packed: packed, ps: packed.ps}
	d.arrange(groupLines(d.ps, opt.MaxGap))
	sc := unitScales()
	first, err := d.outlines(&sc)
	if err == nil && d.joinTwins(first) {
		first, err = d.outlines(&sc)
	}
	for round := 1; err == nil; round++ {
		before := sc
		if sc = measureScales(first); round == mostOutlines || !sc.grown(&before) {
			break
		}
		first, err = d.outlines(&sc)
	}
	if err != nil {
		return nil, err
	}
	sc.depthWhite, sc.depthShared = measureDepthScales(first)
	parts, err := d.parts(&sc, d.potholesOn(first), d.streets(first))
	if err != nil {
		return nil, err
	}
	res := &Result{Readings: packed.log, Plane: tr.Plane, Warnings: d.warnings}
	for k := range d.groups {
		line, err := d.line(k, parts[:len(d.runs[k])])
		if err != nil {
			return nil, fmt.Errorf("fitting line %s: %w", d.groups[k].id, err)
		}
		parts = parts[len(d.runs[k]):]
		if len(line.Parts) > 0 {
			res.Lines = append(res.Lines, line)
		}
		for e := range line.Events {
			if line.Events[e].Kind == remarks.PotholeContradicts {
				res.Warnings = append(res.Warnings, potholeWarning(&line.Events[e]))
			}
		}
	}
	for _, f := range d.faults {
		if f != nil {
			res.Faults = append(res.Faults, f)
			res.Warnings = append(res.Warnings, f.Error()+"; it is missing from the map, its readings are flagged not_computed")
		}
	}
	packed.unpack()
	res.Points = points(packed.log)
	widenRadii(packed.log, tr)
	return res, nil
}

// A locating is a day under work.
type locating struct {
	ctx    context.Context
	tr     *track.Track
	opt    Options
	packed *packing
	ps     []Placed // packed
	groups []group
	runs   [][][]int         // of each group: its parts' readings, in order along
	done   int               // parts shaped, all rounds together
	faults []*parallel.Fault // of each part; nil where it could be computed
	// warnings are what a person should know of the grouping.
	warnings []string
}

// arrange takes the groups and lays each one's readings in order along its parts.
func (d *locating) arrange(groups []group) {
	d.groups, d.runs, d.faults = groups, nil, nil
	for _, g := range groups {
		d.runs = append(d.runs, splitGaps(d.ps, orderAlong(d.ps, g.members), d.opt.MaxGap))
	}
}

// outlines shapes every part of every group with the given scales, and keeps
// what the scales are measured by; nil stands for a part of readings at one place.
func (d *locating) outlines(sc *scales) ([]*shapedPart, error) {
	out := make([]*shapedPart, d.count())
	err := d.shapeAll(outline, sc, func(k int, _ []int, p *shapedPart) {
		if p != nil {
			p.drop()
		}
		out[k] = p
	})
	return out, err
}

// A finished is a part as it is handed on.
type finished struct {
	part   Part
	events []Event
}

// parts shapes every part of every group with the day's scales and finishes it, with
// the potholes on it and the lines beside it. Of each only the result is kept: a day may
// have thousands.
func (d *locating) parts(sc *scales, holes map[int][]int, streets []*street) ([]finished, error) {
	out := make([]finished, d.count())
	err := d.shapeAll(shape, sc, func(k int, run []int, p *shapedPart) {
		if p != nil {
			p.street = streets[k]
		}
		p.addPotholes(d.ps, holes[k], sc)
		out[k].part, out[k].events = d.part(run, p, sc)
	})
	return out, err
}

// count is the number of parts.
func (d *locating) count() int {
	n := 0
	for _, r := range d.runs {
		n += len(r)
	}
	return n
}

// A shaper fits one part; nil where its readings do not give a line.
type shaper func(ps []Placed, path []int, sc *scales) *shapedPart

// shapeAll shapes every part of every group and tells each with its number. Parts do
// not touch one another, so they are shaped side by side; what is told does not hang
// on the number of processors.
func (d *locating) shapeAll(fit shaper, sc *scales, tell func(k int, run []int, p *shapedPart)) error {
	runs, names := slices.Concat(d.runs...), d.names()
	if d.faults == nil {
		d.faults = make([]*parallel.Fault, len(runs))
	}
	var told sync.Mutex
	sideBySide(len(runs), func(k int) {
		if d.ctx.Err() != nil {
			return
		}
		if d.faults[k] == nil {
			d.faults[k] = fault(parallel.Catch(names[k], func() error {
				var p *shapedPart
				if run := runs[k]; len(run) >= 2 && extent(d.ps, run) > onePlace {
					p = fit(d.ps, run, sc)
				}
				tell(k, runs[k], p)
				return nil
			}))
		}
		if d.opt.Progress != nil {
			told.Lock()
			d.done++
			d.opt.Progress(d.done, max(d.done, 2*len(runs)))
			told.Unlock()
		}
	})
	return d.ctx.Err()
}

// names are what people call the parts.
func (d *locating) names() []string {
	var out []string
	for k, runs := range d.runs {
		for n := range runs {
			out = append(out, fmt.Sprintf("line %s part %d", d.groups[k].id, n+1))
		}
	}
	return out
}

// fault is an error of parallel.Catch whose function returns none.
func fault(err error) *parallel.Fault {
	f, _ := err.(*parallel.Fault)
	return f
}

// sideBySide calls f with 0 … n−1, as many at a time as there are processors.
func sideBySide(n int, f func(k int)) {
	var next atomic.Int64
	wait := parallel.Group{Part: "a part"}
	for range min(runtime.GOMAXPROCS(0), n) {
		wait.Go(func() {
			for k := int(next.Add(1)) - 1; k < n; k = int(next.Add(1)) - 1 {
				f(k)
			}
		})
	}
	wait.Wait()
}

// line puts group k together from its parts.
func (d *locating) line(k int, parts []finished) (Line, error) {
	g, runs := d.groups[k], d.runs[k]
	var line Line
	describe(&line, d.packed.log, group{g.id, d.packed.members(g.members), g.byPlace})
	for n, run := range runs {
		part, events := parts[n].part, parts[n].events
		if len(part.Vertices) == 0 { // a fault kept it from being computed
			for _, i := range run {
				d.ps[i].LineID, d.ps[i].Used = line.ID, false
				d.ps[i].Flags |= remarks.NotComputed
			}
			continue
		}
		part.Number = n + 1
		d.packed.count(run, &part)
		if len(runs) > 1 {
			markGaps(&part, n > 0, n < len(runs)-1)
		}
		if err := corridor(&part); err != nil {
			return line, err
		}
		for e := range events {
			events[e].LineID, events[e].Part = line.ID, part.Number
		}
		line.Events = append(line.Events, events...)
		for _, i := range run {
			d.ps[i].LineID, d.ps[i].Part = line.ID, part.Number
			d.ps[i].Flags |= line.Flags
		}
		part.Flags |= line.Flags
		line.Parts = append(line.Parts, part)
	}
	return line, nil
}

func (d *locating) part(run []int, p *shapedPart, sc *scales) (Part, []Event) {
	var part Part
	var events []Event
	if p == nil {
		part = single(d.ps, run, d.tr.Plane, sc)
		widenPoint(d.ps, run, &part, d.tr)
	} else {
		p.slid = newSlid(d.ps, p, d.tr, d.opt.MaxGap)
		part, events = assemble(d.ps, p, d.tr.Plane, d.opt)
		if len(run) == 2 {
			part.Flags |= remarks.TwoPoints
		}
	}
	return part, events
}

// onePlace, m: readings within it make a point, not a line.
const onePlace = 0.05

// extent is the largest distance of a reading of the run from its first, m.
func extent(ps []Placed, run []int) float64 {
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
		p.Radius = math.Sqrt(s[k].white + sq(s[k].shared) + worseAxis(s[k].slow, s[k].shift))
		sigma = max(sigma, p.Radius)
	}
	v := Vertex{At: at, Sigma: sigma, Depth: depth, SigmaDepth: math.NaN(), Current: current, Diameter: typicalDiameter(ps, run), Flags: ps[run[0]].Flags & weakFixes}
	v.Ground = plan.Inverse(at)
	v.Ground.H, v.SigmaH = h, ps[run[0]].SigmaH
	v.Quality = ps[run[0]].Quality
	if math.IsNaN(depth) {
		v.Flags |= remarks.DepthMissing
	} else {
		v.SigmaDepth = math.Hypot(noise.DepthSigma(ps[run[0]].Reading, depth), noise.DepthCommon*depth)
	}
	return Part{
		Vertices: []Vertex{v}, Readings: len(run), From: ps[run[0]].UTC, To: ps[run[len(run)-1]].UTC,
		Flags: v.Flags | remarks.SinglePoint,
	}
}

func markGaps(p *Part, before, after bool) {
	n := len(p.Vertices)
	if before {
		p.Vertices[0].Flags |= remarks.Gap
	}
	if after {
		p.Vertices[n-1].Flags |= remarks.Gap
	}
	p.Flags |= remarks.Gap
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
		if !p.OK || p.Reading.OnLine() || p.Flags.Has(remarks.SetAsideByHand) {
			continue
		}
		p.Used = true
		pin := noise.PinSigma(p.Reading, p.Reading.BestDepth())
		p.Radius = math.Sqrt(p.QuickVar + sq(pin) + worseAxis([3]float64{p.SlowE, p.SlowN, p.SlowEN}, p.ClockShift))
		out = append(out, Point{Placed: p, LineID: p.Reading.Line})
	}
	return slices.Clip(out)
}
