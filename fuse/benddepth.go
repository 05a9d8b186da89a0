package fuse

import "math"

// Beside a bend the field of one leg is missing in part, and two coils read the depth
// shallow, never deep. By how much follows from the law of Biot and Savart, so a depth
// is corrected for it; half of the correction stays in its σ, because fittings turn
// over some length and the soil carries part of the current on. What lies behind an end
// of the located line nobody knows: there the depth stays as read, and all of it is σ.

const (
	coilsApart = 0.4 // m, of a locator's two coils. Common practice, no source
	// bendPlace, m, is how well a bend's place along the line is known: beside it an
	// average of what the places around it read.
	bendPlace = 0.15
	bendDoubt = 0.5 // share of a bend's effect that stays in the σ
	endDoubt  = 0.7 // σ at an end as a share of what it does if nothing lies behind it
	mostBend  = 0.4 // largest share that a depth is corrected by: beyond it nothing is read
	// sharpestCos is the cosine of the sharpest turn that is corrected for, 120°.
	sharpestCos = -0.5
)

// shallowBefore is the share of the depth by which two coils read it shallow over a
// straight leg at a distance before its end, from which the line goes on turned by an
// angle with the given cosine. The fields across the first leg of the two half-endless
// legs, with R the distance from their meeting point, in units of µ0·I/4π:
//
//	B = (1 + x/R)/h + cos·h·(1 − cos·x/R)/(h² + x²·sin²)
//
// (Biot–Savart integrated along each leg: Griffiths, Introduction to Electrodynamics,
// example 5.5, with one end at infinity.)
func shallowBefore(x, depth, cos float64) float64 {
	field := func(h float64) float64 {
		r := math.Hypot(x, h)
		return (1+x/r)/h + cos*h*(1-cos*x/r)/(h*h+x*x*(1-cos*cos))
	}
	bottom, top := field(depth), field(depth+coilsApart)
	return min(max(1-coilsApart*top/(bottom-top)/depth, 0), mostBend)
}

// shallowBeside is by what share of it a depth at a station reads shallow because of
// the bends within the part, and doubt is one σ of that, with the part's ends, as a
// share of the depth too.
func shallowBeside(bends []bend, station, depth float64) (share, doubt float64) {
	depth = max(depth, 0.2)
	for _, b := range bends {
		x := math.Hypot(station-b.station, bendPlace)
		if x > farBend*depth {
			continue
		}
		if b.end {
			doubt = max(doubt, endDoubt*shallowBefore(x, depth, 0))
			continue
		}
		share += shallowBefore(x, depth, max(math.Cos(b.turn), sharpestCos))
	}
	share = min(share, mostBend)
	return share, math.Hypot(doubt, bendDoubt*share)
}

// farBend, in depths: a bend farther off does less than 1 %.
const farBend = 9
