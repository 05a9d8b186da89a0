package compare

import (
	"math"

	"tracemap/geodesy/plane"
)

// singleStations compares located parts of one reading, which have a place and
// no direction, with the record that runs nearest: of the same name if that is
// within reach, else of a utility that goes with theirs.
func (c *comparison) singleStations() map[int][]Station {
	out := map[int][]Station{}
	var parts []int
	for i := range c.located.parts {
		if len(c.located.parts[i].pts) == 1 {
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
		best, found := plane.Hit{}, false
		var bestRank int
		for _, hit := range index.Near(q.pts[0], c.opt.Search) {
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
		if !found {
			continue
		}
		to := places[best.Line]
		out[to.record] = append(out[to.record], c.singleStation(q, to.record, to.piece, best.Foot))
		c.singles[q.line] = true
	}
	return out
}

func (c *comparison) singleStation(q *part, r, k int, foot plane.Foot) Station {
	rec := &c.record.records[r]
	p := &rec.pieces[k]
	_, dir := p.at(foot.Station)
	half, depth, depth95, outside := q.half[0], q.depth[0], q.depth95[0], q.outside[0]
	x := Station{
		Station: p.from + foot.Station, LineID: q.line, Part: q.number, piece: k,
		Lateral: foot.Offset, Lateral95: math.Hypot(half, p.accuracyOr(c.opt.Accuracy)),
		DepthLocated: depth, DepthAsBuilt: math.NaN(), DepthDiff: math.NaN(), Depth95: math.NaN(),
		at: foot.At, n: dir.Left(), beside: q.pts[0], half: half, fixed: q.fixed,
	}
	c.compareDepth(&x, p, foot.Station, depth95, outside, rec.utility)
	return x
}
