package fuse

import (
	"math"
	"slices"
	"sync/atomic"
)

// A crew and its locator measure depths better or worse than the table, in what is
// new at every reading and in what neighbours share alike; beside that the one may
// differ from the other. What all of a line has in common (DepthCommon) shows in no
// residual and stays as the table has it.
const (
	spreadDepth = 0.5  // how far, in ln(σ), a day's depths may lie from the table, one σ. From memory
	spreadParts = 0.35 // and the shared part from the independent one
	depthRounds = 2    // a line's departure from its fall is chosen anew with the scales found
)

// measureDepthScales gives the day's scales of the depths' errors, independent and
// shared, from parts fitted with the table's, as measureScales does for positions.
func measureDepthScales(parts []*shapedPart) (white, shared float64) {
	var set []*profile
	for _, p := range some(parts) {
		if p != nil && p.depth != nil && len(p.depth.y) >= smallestPart {
			set = append(set, p.depth.start(largestPart))
		}
	}
	white, shared = 1, 1
	if len(set) == 0 {
		return white, shared
	}
	for range depthRounds {
		var changed atomic.Bool
		sideBySide(len(set), func(k int) {
			p := set[k]
			best := fitProfile(p.station, p.y, p.noise.scaled(white, shared), depthAmps)
			if best != nil && best.amp != p.amp {
				p.amp = best.amp
				changed.Store(true)
			}
		})
		if white != 1 && !changed.Load() {
			break
		}
		at := patternSearch(2, func(v []float64) float64 {
			l := -0.5*sq(v[0]/spreadDepth) - 0.5*sq(v[1]/spreadParts)
			return l + sumOver(len(set), func(k int) float64 {
				p := *set[k]
				if p.solve(p.noise.scaled(math.Exp(v[0]), math.Exp(v[0]+v[1]))) != nil {
					return -1e9
				}
				return -0.5 * (p.gls.q + p.gls.logDet)
			})
		})
		white, shared = math.Exp(at[0]), math.Exp(at[0]+at[1])
	}
	return white, shared
}

// start is the profile, not fitted, of at most the first n observations.
func (p *profile) start(n int) *profile {
	n = min(n, len(p.y))
	out := *p
	out.station, out.y, out.gls = p.station[:n], p.y[:n], nil
	e := &out.noise
	e.white, e.shared, e.bend, e.common = e.white[:n], e.shared[:n], e.bend[:n], e.common[:n]
	return &out
}

// scaled gives the noise with its white and its shared σ multiplied.
func (e profileNoise) scaled(white, shared float64) profileNoise {
	out := profileNoise{length: e.length, bend: e.bend, common: e.common, white: slices.Clone(e.white), shared: slices.Clone(e.shared)}
	for k := range out.white {
		out.white[k] *= white * white
		out.shared[k] *= shared
	}
	return out
}
