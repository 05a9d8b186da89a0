package fuse

import (
	"math"

	"tracemap/remarks"
)

// Distorted stretches: where the readings of a few metres together lie further off
// the line than their own σ allows, or where peak and null lie apart, the field is
// not that of one conductor.
const (
	distortedWindow = 5   // readings
	distortedExcess = 2.8 // mean square of offsets in units of their variance
)

// widenDistorted enlarges σ over stretches whose readings scatter more than they
// should, by as much as they do, and flags them.
func (p *shapedPart) widenDistorted(ps []Placed, v []Vertex) {
	f := p.fit
	half := distortedWindow / 2
	own := f.own()
	for k := half; k+half < len(own); k++ {
		var z, e2 float64
		apart, unrest := 0, 0
		for _, m := range own[k-half : k+half+1] {
			s := &f.samples[m]
			z += sq(f.offset[m]) / (s.white + sq(s.shared) + s.unrest + sq(s.across(f.normal[m])))
			e2 += sq(f.offset[m])
			if ps[s.i].Flags.Has(remarks.PeakNullApart) {
				apart++
			}
			if s.unrest > 0 {
				unrest++
			}
		}
		from, to := f.station[own[k-half]], f.station[own[k+half]]
		excess := z/distortedWindow > distortedExcess
		if !excess && apart <= half && unrest <= half {
			continue
		}
		for i := range v {
			if v[i].Station < min(from, to)-1 || v[i].Station > max(from, to)+1 {
				continue
			}
			if v[i].Flags |= remarks.Distorted; excess {
				v[i].Sigma = math.Hypot(v[i].Sigma, math.Sqrt(e2/distortedWindow))
			}
		}
	}
}
