package compare

import (
	"cmp"
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// shortPart, m: the direction of a part not longer than that is not worth much;
// without a partner that runs its way it is taken for points.
const shortPart = 2.0

// pointGap, m, is how far apart points may be for the record between them to
// count as located.
const pointGap = 15.0

// singleStations compares located points – parts of one reading, sondes, and
// parts too short to have a direction – with the record that runs nearest: of the
// same name if that is within reach, else of a utility that goes with theirs.
func (c *comparison) singleStations() map[int][]Station {
	out := map[int][]Station{}
	var parts []int
	for i := range c.located.parts {
		if q := &c.located.parts[i]; len(q.pts) == 1 || q.length() < shortPart && c.matchedOf(i) == 0 {
			parts = append(parts, i)
		}
	}
	if len(parts) == 0 {
		return out
	}
	type place struct{ record, piece int }
	var places []place
	var lines []plane.Polyline
	for i := range c.record.records {
		for k := range c.record.records[i].pieces {
			places = append(places, place{i, k})
			lines = append(lines, c.record.records[i].pieces[k].pts)
		}
	}
	index := plane.NewIndex(lines...)
	for _, i := range parts {
		q := &c.located.parts[i]
		for v := range q.pts {
			best, found := plane.Hit{}, false
			bestRank := 0
			for _, hit := range index.Near(q.pts[v], c.opt.Search) {
				rec := &c.record.records[places[hit.Line].record]
				rank := kinship(rec.utility, q.utility)
				if rank > 0 && fold(rec.id) == fold(q.line) {
					rank = 3
				}
				if rank == 0 || hit.Beyond() || found && rank <= bestRank {
					continue
				}
				best, bestRank, found = hit, rank, true
			}
			if found {
				to := places[best.Line]
				out[to.record] = append(out[to.record], c.singleStation(i, v, to.record, to.piece, best.Foot))
				c.singles[q.line] = true
			}
		}
	}
	for r := range out {
		weigh(out[r])
	}
	return out
}

// weigh sorts the points of a record by station and gives each the length of the
// record that it stands for.
func weigh(points []Station) {
	slices.SortStableFunc(points, func(a, b Station) int { return cmp.Compare(a.Station, b.Station) })
	for i := 1; i < len(points); i++ {
		a, b := &points[i-1], &points[i]
		if d := b.Station - a.Station; d <= pointGap && a.piece == b.piece {
			a.Weight, b.Weight = a.Weight+d/2, b.Weight+d/2
		}
	}
}

// singleStation compares a vertex of a located part with a place of a record.
func (c *comparison) singleStation(part, v, r, k int, foot plane.Foot) Station {
	q := &c.located.parts[part]
	rec := &c.record.records[r]
	p := &rec.pieces[k]
	_, dir := p.at(foot.Station)
	half, depth, depth95, outside := q.half[v], q.depth[v], q.depth95[v], q.outside[v]
	x := Station{
		Station: p.from + foot.Station, LineID: q.line, Part: q.number, piece: k,
		Lateral: foot.Offset, Lateral95: math.Hypot(half, p.accuracyOr(c.opt.Accuracy)),
		DepthLocated: depth, DepthAsBuilt: math.NaN(), DepthDiff: math.NaN(), Depth95: math.NaN(),
		at: foot.At, n: dir.Left(), beside: q.pts[v], half: half, fixed: q.fixed, accuracy: p.accuracyOr(c.opt.Accuracy), part: part,
	}
	c.compareDepth(&x, p, foot.Station, depth95, outside, rec.utility)
	return x
}
