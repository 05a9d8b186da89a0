package fuse

import (
	"fmt"
	"math"
	"slices"

	"tracemap/fuse/noise"
)

// Two crews may give one line two names. Lines of one utility that lie on one
// another over most of the shorter one's readings, in plan and in depth, as
// closely as the positions can tell, are one line; it keeps the name with more
// readings. Where positions are too poor to tell a line from one in the same
// trench, where depths are not known, or where one lies to the same side of the
// other all along, nothing is joined: a name that was given to tell two lines apart
// must not get lost.
const (
	twinShare    = 0.8  // of the shorter one's readings
	fewestTwins  = 4    // readings
	widestTwin   = 0.3  // m: with a larger tolerance, parallels would pass
	twinSigmas   = 2.5  // of a reading's position
	twinsInDepth = 0.15 // share of the depth by which the medians may differ
	twinsAside   = 2.0  // σ of the mean distance to one side
)

// joinTwins puts such lines together and reports whether there were any.
func (d *locating) joinTwins(shaped []*shapedPart) bool {
	parts := make([][]*shapedPart, len(d.groups))
	n := 0
	for k := range d.groups {
		parts[k] = shaped[n : n+len(d.runs[k])]
		n += len(d.runs[k])
	}
	order := make([]int, len(d.groups))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return len(d.groups[b].members) - len(d.groups[a].members) })
	into := map[int]int{}
	for i, a := range order {
		if _, gone := into[a]; gone {
			continue
		}
		for _, b := range order[i+1:] {
			if _, gone := into[b]; !gone && d.twins(a, b, parts[a]) {
				into[b] = a
				d.warnings = append(d.warnings, fmt.Sprintf("lines %s and %s lie on one another: taken as one line, %s",
					d.groups[a].id, d.groups[b].id, d.groups[a].id))
			}
		}
	}
	if len(into) == 0 {
		return false
	}
	var groups []group
	for k, g := range d.groups {
		if _, gone := into[k]; gone {
			continue
		}
		for b, a := range into {
			if a == k {
				g.members = append(slices.Clone(g.members), d.groups[b].members...)
			}
		}
		slices.Sort(g.members)
		groups = append(groups, g)
	}
	d.arrange(groups)
	return true
}

// twins reports whether line b lies on line a, whose parts are given.
func (d *locating) twins(a, b int, parts []*shapedPart) bool {
	ma, mb := d.groups[a].members, d.groups[b].members
	if len(mb) < fewestTwins || d.ps[ma[0]].Reading.Utility != d.ps[mb[0]].Reading.Utility {
		return false
	}
	da, db := typicalDepth(d.ps, ma), typicalDepth(d.ps, mb)
	if !(math.Abs(da-db) <= twinsInDepth*math.Max(da, db)) {
		return false
	}
	on := 0
	var aside, common float64 // sum of the signed distances; variance that the readings share
	for _, i := range mb {
		p := &d.ps[i]
		pin := noise.PinSigma(p.Reading, db)
		tolerance := twinSigmas * math.Sqrt(p.QuickVar+max(p.SlowE, p.SlowN)+pin*pin)
		if tolerance > widestTwin {
			return false
		}
		for _, part := range parts {
			if part == nil {
				continue
			}
			if _, off := part.nearest(p.At); math.Abs(off) < tolerance {
				on++
				aside += off
				common = max(common, max(p.SlowE, p.SlowN)+noise.PinShared*pin*pin)
				break
			}
		}
	}
	if float64(on) < twinShare*float64(len(mb)) {
		return false
	}
	return math.Abs(aside)/float64(on) < twinsAside*math.Sqrt(2*common) // of both lines
}
