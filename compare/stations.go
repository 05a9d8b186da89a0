package compare

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/present"
)

// A Station is a place along a record with what lies beside it.
type Station struct {
	Station   float64     // along the record, m
	At        geodesy.Geo // on the record
	Beside    geodesy.Geo // on the located line, square to the record
	LineID    string
	Part      int
	Lateral   float64 // m, positive left of the record's drawn direction
	Lateral95 float64
	// Depths to the utility's centre, m; NaN where not known.
	DepthLocated, DepthAsBuilt float64
	DepthDiff, Depth95         float64 // located minus as-built
	LateralVerdict             Verdict
	DepthVerdict               Verdict
	Weight                     float64 // length of the record that it stands for, m

	at, n, beside plane.Pt
	half          float64 // the located line's own share of Lateral95
	fixed         bool    // the located line rests on RTK fixed
	accuracy      float64 // 95 %, lateral, of the record
	depthAccuracy float64 // 95 %, of the record's depth
	piece, part   int

	line, chain int     // that it belongs to; see Line
	along       float64 // station along the chain, m
	turned      bool    // the record is drawn against the line there
	lateralOff  bool    // the line differs there
	depthOff    bool
	pair, nth   int // where the station is kept
}

// Verdict is that on the place: lateral and depth together.
func (s *Station) Verdict() Verdict { return worst(s.LateralVerdict, s.DepthVerdict) }

// stations goes along a record and compares it with its partners.
func (c *comparison) stations(r int) []Station {
	rec := &c.record.records[r]
	var out []Station
	for k := range rec.pieces {
		p := &rec.pieces[k]
		var here []*span
		var ranges [][2]float64
		for _, i := range c.spansOf[r] {
			sp := &c.match.spans[i]
			if !c.chosen[i] || sp.chain != p.chain {
				continue
			}
			if from, to := p.within(sp.s0-c.slack(), sp.s1+c.slack()); from <= to {
				here, ranges = append(here, sp), append(ranges, [2]float64{from, to})
			}
		}
		if len(here) == 0 {
			continue
		}
		steps(p.length(), c.opt.Every, merge(ranges), func(before, s, after float64) {
			if x, ok := c.station(rec, p, here, s); ok {
				x.Weight, x.piece = (after-before)/2, k
				out = append(out, x)
			}
		})
	}
	return out
}

// slack, m, is how far beyond a span, which is known to a step, stations are
// tried.
func (c *comparison) slack() float64 { return max(2*c.opt.Every, 2) }

// station compares one place of a piece with the partner whose span holds it;
// where two do, with the nearer.
func (c *comparison) station(rec *record, p *piece, here []*span, s float64) (Station, bool) {
	at, dir := p.at(s)
	slack := c.slack()
	best, found := beside{lateral: math.Inf(1)}, (*span)(nil)
	for _, sp := range here {
		if a := p.along(s); a < sp.s0-slack || a > sp.s1+slack {
			continue
		}
		q := &c.located.parts[sp.part]
		if x, ok := q.abreast(at, dir, c.opt.Search, sp.t0-slack-c.opt.Search, sp.t1+slack+c.opt.Search); ok && math.Abs(x.lateral) < math.Abs(best.lateral) {
			best, found = x, sp
		}
	}
	if found == nil {
		return Station{}, false
	}
	q := &c.located.parts[found.part]
	across, depth, depth95, outside := q.at(best.station)
	// The width is measured across the located line, the difference across the
	// record: where the one turns before the other, the same width reaches farther.
	half := across / best.cos
	n := dir.Left()
	x := Station{
		Station: p.from + s, LineID: q.line, Part: q.number,
		Lateral: best.lateral, Lateral95: math.Hypot(half, p.accuracyOr(c.opt.Accuracy)),
		DepthLocated: depth, DepthAsBuilt: math.NaN(), DepthDiff: math.NaN(), Depth95: math.NaN(),
		at: at, n: n, beside: at.Add(n.Mul(best.lateral)), half: half, fixed: q.fixed, accuracy: p.accuracyOr(c.opt.Accuracy), part: found.part,
	}
	c.compareDepth(&x, p, s, depth95+q.depthSpread(best.station, across, depth), outside, rec.utility)
	return x, true
}

// compareDepth completes a station: the depths' difference, and both verdicts.
func (c *comparison) compareDepth(x *Station, p *piece, s, depth95, outside float64, utility string) {
	x.At, x.Beside = c.site.local.Inverse(x.at), c.site.local.Inverse(x.beside)
	centre, bound := p.depthAt(s, outside, utility)
	x.DepthAsBuilt, x.depthAccuracy = centre, math.NaN()
	if present.Known(centre) && present.Known(x.DepthLocated) {
		x.DepthDiff = x.DepthLocated - centre
		x.depthAccuracy = p.depthAccuracyOr(c.opt.DepthAccuracy)
		// A diameter that is not known is no random error: its bound adds whole.
		x.Depth95 = math.Hypot(depth95, x.depthAccuracy) + bound
	}
	x.LateralVerdict = judge(x.Lateral, x.Lateral95, c.opt.Tolerance)
	x.DepthVerdict = judge(x.DepthDiff, x.Depth95, c.opt.depthTolerance())
	if x.DepthVerdict == Differs && x.half > c.opt.Search {
		x.DepthVerdict = Inconclusive // it is not sure that this is the line
	}
}

// depthSpread is by how much the depth of a part changes within its own
// half-width of a station: a line that may lie so far aside may lie as far along.
func (q *part) depthSpread(s, half, depth float64) float64 {
	most := 0.0
	look := func(v float64) {
		if d := math.Abs(v - depth); present.Known(d) {
			most = max(most, d)
		}
	}
	look(interpolate(q.sta, q.depth, s-half))
	look(interpolate(q.sta, q.depth, s+half))
	for i := sort.SearchFloat64s(q.sta, s-half); i < len(q.sta) && q.sta[i] <= s+half; i++ {
		look(q.depth[i])
	}
	return most
}

// A Stretch is a stretch of a record, stations in metres.
type Stretch struct {
	From, To     float64
	Reason, Text string
}

// gaps lists the stretches of a record without a partner that are longer than
// two steps, and gives the length with one.
func (c *comparison) gaps(r int, stations []Station) (out []Stretch, matched float64) {
	rec := &c.record.records[r]
	for k := range rec.pieces {
		p := &rec.pieces[k]
		at, end, any := p.from, p.from+p.length(), false
		for i := range stations {
			x := &stations[i]
			if x.piece != k {
				continue
			}
			matched += x.Weight
			if x.Station-at > 2.5*c.opt.Every {
				out = append(out, Stretch{From: at, To: x.Station})
			}
			at, any = x.Station, true
		}
		if end-at > 2.5*c.opt.Every || !any {
			out = append(out, Stretch{From: at, To: end})
		}
	}
	return out, matched
}

// partners lists the located lines of stations, each once, in order of name.
func partners(stations []Station) []string {
	var out []string
	for i := range stations {
		out = append(out, stations[i].LineID)
	}
	slices.SortFunc(out, cmp.Compare)
	return slices.Compact(out)
}
