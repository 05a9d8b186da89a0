package fuse

import (
	"math"

	"tracemap/flags"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// A pothole is a place where the line was dug free and its depth seen, to the
// same centre as the locator's.
type pothole struct {
	placed  int // index of the placed reading
	station float64
	depth   float64 // seen, m
	before  float64 // fitted without the potholes, m; NaN without depths
}

// potholeReach, m, is how far beside a part a pothole may lie and belong to it:
// a hole's own width, beside what both positions are worth.
const potholeReach = 1.0

// addPotholes gives each pothole to the part it lies on – of the line it names, if
// it names one – and fits the depths of those parts anew: what was seen ties down
// what all of the locator's readings there have in common.
func (d *locating) addPotholes(shaped []*shapedPart, sc *scales) {
	changed := map[*shapedPart]bool{}
	for i := range d.ps {
		r := d.ps[i].Reading
		if !d.ps[i].OK || r.Feature != "pothole" || !(r.MeasuredDepth > 0) || r.Flags.Has(flags.SetAsideByHand) {
			continue
		}
		part, station := d.partUnder(i, shaped)
		if part == nil {
			continue
		}
		before := math.NaN()
		if part.depth != nil {
			before, _ = part.depth.at(station)
		}
		part.potholes = append(part.potholes, pothole{i, station, r.MeasuredDepth, before})
		changed[part] = true
	}
	for _, p := range shaped {
		if changed[p] {
			p.profiles(d.ps, sc)
		}
	}
}

// partUnder finds the part that a placed reading lies on, and where.
func (d *locating) partUnder(i int, shaped []*shapedPart) (*shapedPart, float64) {
	var best *shapedPart
	var at float64
	reach := potholeReach + 2*math.Sqrt(d.ps[i].SlowE+d.ps[i].SlowN+d.ps[i].QuickVar)
	name := nameKey(d.ps[i].Reading.Line)
	n := 0
	for k, g := range d.groups {
		for range d.runs[k] {
			p := shaped[n]
			n++
			if p == nil || name != "" && nameKey(g.id) != name {
				continue
			}
			if station, off := p.nearest(d.ps[i].At); math.Abs(off) < reach {
				best, at, reach = p, station, math.Abs(off)
			}
		}
	}
	return best, at
}

// nearest gives the station of the part nearest to q and how far q lies from it,
// positive to the left.
func (p *shapedPart) nearest(q plane.Pt) (station, off float64) {
	k, local, off := p.foot(q)
	return p.base[k] + local - p.ends[k][0], off
}

// checks reports the potholes as events: what was seen against what had been
// fitted without them.
func (p *shapedPart) checks(ps []Placed, plan *geodesy.Local) []Event {
	var out []Event
	for _, h := range p.potholes {
		at := p.pointAt(h.station)
		out = append(out, Event{
			Kind: flags.PotholeUsed, Station: h.station, At: at, Geo: plan.Inverse(at),
			Before: h.before, After: h.depth,
		})
		ps[h.placed].Station = h.station
		ps[h.placed].Flags |= flags.PotholeUsed
	}
	return out
}
