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

// potholesOn tells which potholes lie on which part, by the parts' outlines: on one of
// the line that a pothole names, if it names one.
func (d *locating) potholesOn(outlines []*shapedPart) map[int][]int {
	on := map[int][]int{}
	for i := range d.ps {
		r := d.ps[i].Reading
		if !d.ps[i].OK || r.Feature != "pothole" || !(r.MeasuredDepth > 0) || r.Flags.Has(flags.SetAsideByHand) {
			continue
		}
		if k := d.partUnder(i, outlines); k >= 0 {
			on[k] = append(on[k], i)
		}
	}
	return on
}

// partUnder finds the part that a placed reading lies on; −1 when none does.
func (d *locating) partUnder(i int, outlines []*shapedPart) int {
	best := -1
	reach := potholeReach + 2*math.Sqrt(d.ps[i].SlowE+d.ps[i].SlowN+d.ps[i].QuickVar)
	name := nameKey(d.ps[i].Reading.Line)
	n := 0
	for k, g := range d.groups {
		for range d.runs[k] {
			p := outlines[n]
			n++
			if p == nil || name != "" && nameKey(g.id) != name {
				continue
			}
			if _, off := p.nearest(d.ps[i].At); math.Abs(off) < reach {
				best, reach = n-1, math.Abs(off)
			}
		}
	}
	return best
}

// addPotholes fits the part's depths anew with the potholes on it: what was seen ties
// down what all of the locator's readings there have in common.
func (p *shapedPart) addPotholes(ps []Placed, holes []int, sc *scales) {
	if p == nil || len(holes) == 0 {
		return
	}
	for _, i := range holes {
		station, _ := p.nearest(ps[i].At)
		before := math.NaN()
		if p.depth != nil {
			before, _ = p.depth.at(station)
		}
		p.potholes = append(p.potholes, pothole{i, station, ps[i].Reading.MeasuredDepth, before})
	}
	p.profiles(ps, sc)
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
