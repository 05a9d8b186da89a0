package survey

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/remarks"
	"tracemap/result"
)

// A cause is a flag that is worth going back for, with what people call it and
// how much it is worth: what may be another line or a branch nobody located
// weighs most, what only widens the line least.
type cause struct {
	flag   remarks.Set
	reason string
	worth  float64
}

// causes of readings. The worth is our own order, no measurement.
var causes = []cause{
	{remarks.PotholeContradicts, "test hole contradicts the map", 11},
	{remarks.NeighbourLock, "neighbour's lock", 10},
	{remarks.CurrentStep, "branch suspected", 9},
	{remarks.Distorted, "distorted", 8},
	{remarks.PeakNullApart, "distorted", 7},
	{remarks.Gap, "gap", 7},
	{remarks.NoFix, "no fix", 6},
	{remarks.InOutage, "no fix", 6},
	{remarks.GNSSJump, "position jumped", 5},
	{remarks.EstimatedFix, "estimated fix only", 5},
	{remarks.DepthMissing, "depth missing", 4},
	{remarks.DepthPassive, "depth on passive signal", 4},
	{remarks.AutonomousFix, "no corrections", 4},
	{remarks.CodeFix, "no RTK corrections", 3},
	{remarks.FloatFix, "float only", 3},
	{remarks.SinglePoint, "one reading only", 3},
}

// Two places closer than this on one line are one walk, m.
const sameWalk = 5.0

// A stretch of readings with the same cause goes on over this distance, m.
const sameStretch = 15.0

// Revisit lists the places to go back to, the most worth first.
func (d *Day) Revisit() []result.Revisit {
	var all []spot
	for i := range d.Located.Lines {
		line := &d.Located.Lines[i]
		for j := range line.Parts {
			all = append(all, d.partSpots(line, &line.Parts[j])...)
		}
		all = append(all, d.gapSpots(line)...)
		all = append(all, eventSpots(line)...)
	}
	all = append(all, d.unplacedSpots()...)
	return d.merge(all)
}

// A spot is a place with one cause.
type spot struct {
	line    string
	part    int
	station float64
	at      plane.Pt
	geo     geodesy.Geo
	cause   cause
	detail  string // added to the advice
	count   int    // readings behind it
}

// partSpots finds the stretches of a part whose readings share a cause, and
// gives the worst place of each.
func (d *Day) partSpots(line *fuse.Line, part *fuse.Part) []spot {
	on := d.readingsOf(line.ID, part.Number)
	var out []spot
	for _, c := range causes {
		var run []*fuse.Placed
		for _, p := range on {
			if !p.Flags.Has(c.flag) || c.flag == remarks.DepthMissing && !depthUnknown(part, p.Station) {
				continue
			}
			if len(run) > 0 && p.Station-run[len(run)-1].Station > sameStretch {
				out = append(out, worst(line, part, run, c))
				run = nil
			}
			run = append(run, p)
		}
		if len(run) > 0 {
			out = append(out, worst(line, part, run, c))
		}
	}
	return out
}

// readingsOf gives the placed readings of a part by station.
func (d *Day) readingsOf(id string, number int) []*fuse.Placed {
	var out []*fuse.Placed
	for i := range d.Located.Readings {
		if p := &d.Located.Readings[i]; p.OK && p.LineID == id && p.Part == number {
			out = append(out, p)
		}
	}
	slices.SortStableFunc(out, func(a, b *fuse.Placed) int { return cmp.Compare(a.Station, b.Station) })
	return out
}

// depthUnknown reports whether the part has no fitted depth at a station: one
// missing reading among many that were read is not worth a walk.
func depthUnknown(part *fuse.Part, station float64) bool {
	v := part.Vertices
	i, _ := slices.BinarySearchFunc(v, station, func(v fuse.Vertex, s float64) int { return cmp.Compare(v.Station, s) })
	return math.IsNaN(v[min(i, len(v)-1)].Depth) || math.IsNaN(v[max(i-1, 0)].Depth)
}

// worst gives the spot of a stretch: its reading with the largest uncertainty.
func worst(line *fuse.Line, part *fuse.Part, run []*fuse.Placed, c cause) spot {
	at := run[0]
	for _, p := range run {
		if p.Radius > at.Radius {
			at = p
		}
	}
	s := spot{line: line.ID, part: part.Number, station: at.Station, at: at.At, geo: at.Geo, cause: c, count: len(run)}
	if length := run[len(run)-1].Station - run[0].Station; length >= 1 {
		s.detail = fmt.Sprintf("%d readings over %.0f m", len(run), length)
	}
	return s
}

// gapSpots gives the middle between the ends of two parts that follow each
// other on a line.
func (d *Day) gapSpots(line *fuse.Line) []spot {
	var out []spot
	for i := 1; i < len(line.Parts); i++ {
		from, to := lastVertex(&line.Parts[i-1]), &line.Parts[i].Vertices[0]
		mid := from.At.Lerp(to.At, 0.5)
		out = append(out, spot{
			line: line.ID, station: math.NaN(), at: mid, geo: d.Located.Plane.Inverse(mid), cause: causeOf(remarks.Gap), count: 1,
			detail: fmt.Sprintf("%.0f m between parts %d and %d", from.At.Dist(to.At), line.Parts[i-1].Number, line.Parts[i].Number),
		})
	}
	return out
}

func lastVertex(p *fuse.Part) *fuse.Vertex { return &p.Vertices[len(p.Vertices)-1] }

func causeOf(f remarks.Set) cause {
	i := slices.IndexFunc(causes, func(c cause) bool { return c.flag == f })
	return causes[i]
}

// eventSpots gives the places of a line's events that are worth a walk.
func eventSpots(line *fuse.Line) []spot {
	var out []spot
	for _, e := range line.Events {
		if i := slices.IndexFunc(causes, func(c cause) bool { return c.flag == e.Kind }); i >= 0 {
			out = append(out, spot{line: line.ID, part: e.Part, station: e.Station, at: e.At, geo: e.Geo, cause: causes[i], detail: e.Text, count: 1})
		}
	}
	return out
}

// unplacedSpots gives, for readings without a place, that of the reading placed
// nearest in time before or after, when it is near: the crew had not gone far.
func (d *Day) unplacedSpots() []spot {
	const near = 120 // s; a crew walks some 150 m in that time
	var placed []*fuse.Placed
	for i := range d.Located.Readings {
		if p := &d.Located.Readings[i]; p.OK && !p.UTC.IsZero() {
			placed = append(placed, p)
		}
	}
	slices.SortStableFunc(placed, func(a, b *fuse.Placed) int { return a.UTC.Compare(b.UTC) })
	var out []spot
	for i := range d.Located.Readings {
		p := &d.Located.Readings[i]
		if p.OK || p.UTC.IsZero() || !p.Flags.Any(remarks.NoFix|remarks.InOutage) || p.Flags.Has(remarks.SetAsideByHand) {
			continue
		}
		q, gap := nearestInTime(placed, p.UTC)
		if q == nil || gap > near {
			continue
		}
		out = append(out, spot{
			line: p.Reading.Line, station: math.NaN(), at: q.At, geo: q.Geo, cause: causeOf(remarks.NoFix), count: 1,
			detail: fmt.Sprintf("%s line %d was taken %.0f s from here", p.Reading.File, p.Reading.Row, gap),
		})
	}
	return out
}

// nearestInTime gives the one of placed, sorted by time, that is nearest to t,
// and how far off it is, s.
func nearestInTime(placed []*fuse.Placed, t time.Time) (*fuse.Placed, float64) {
	i, _ := slices.BinarySearchFunc(placed, t, func(p *fuse.Placed, t time.Time) int { return p.UTC.Compare(t) })
	var best *fuse.Placed
	gap := math.Inf(1)
	for _, q := range placed[max(i-1, 0):min(i+1, len(placed))] {
		if g := math.Abs(q.UTC.Sub(t).Seconds()); g < gap {
			best, gap = q, g
		}
	}
	return best, gap
}

// merge makes one place of those that are one walk, and sorts by worth.
func (d *Day) merge(all []spot) []result.Revisit {
	slices.SortStableFunc(all, func(a, b spot) int { return cmp.Compare(b.cause.worth, a.cause.worth) })
	out := []result.Revisit{}
	for _, g := range walksOf(all) {
		out = append(out, revisitOf(g))
	}
	slices.SortStableFunc(out, func(a, b result.Revisit) int {
		return cmp.Or(cmp.Compare(b.Worth, a.Worth), cmp.Compare(a.LineID, b.LineID), cmp.Compare(a.Station, b.Station))
	})
	return out
}

// walksOf groups spots: each goes to the first group of its line whose first spot is
// near. Groups are looked up by squares as wide as near is, for a town has many.
func walksOf(all []spot) [][]spot {
	type square struct {
		line string
		x, y float64
	}
	var groups [][]spot
	at := map[square][]int{}
	for _, s := range all {
		here := square{s.line, math.Floor(s.at.E / sameWalk), math.Floor(s.at.N / sameWalk)}
		first := len(groups)
		for _, x := range []float64{here.x - 1, here.x, here.x + 1} {
			for _, y := range []float64{here.y - 1, here.y, here.y + 1} {
				for _, i := range at[square{s.line, x, y}] {
					if i < first && groups[i][0].at.Dist(s.at) <= sameWalk {
						first = i
					}
				}
			}
		}
		if first < len(groups) {
			groups[first] = append(groups[first], s)
			continue
		}
		at[here] = append(at[here], first)
		groups = append(groups, []spot{s})
	}
	return groups
}

// revisitOf describes one place with all its causes, the most worth first.
func revisitOf(g []spot) result.Revisit {
	r := result.Revisit{LineID: g[0].line, Part: g[0].part, Station: g[0].station, Geo: g[0].geo}
	var reasons, advice []string
	for _, s := range g {
		if !slices.Contains(reasons, s.cause.reason) {
			reasons = append(reasons, s.cause.reason)
			// A long stretch is worth more than a place, but never outweighs a worse cause.
			r.Worth += s.cause.worth + math.Min(1, float64(s.count)/20)
		}
		text := adviceOf(s.cause.flag)
		if s.detail != "" {
			text += " (" + s.detail + ")"
		}
		if !slices.Contains(advice, text) {
			advice = append(advice, text)
		}
	}
	r.Reason = strings.Join(reasons, "; ")
	r.Advice = strings.Join(advice[:min(len(advice), 3)], " ")
	return r
}

func adviceOf(f remarks.Set) string {
	for _, row := range remarks.Table {
		if row.Flag == f {
			return row.Revisit
		}
	}
	return ""
}
