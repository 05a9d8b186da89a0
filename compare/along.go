package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// mostSteps bounds the work that one comparison may cost: 20,000 km in steps of
// a metre.
const mostSteps = 20_000_000

// tooMany refuses a comparison of more steps.
func tooMany() error {
	return &Refusal{Text: fmt.Sprintf("the record and the located lines would be compared at more than %d places", mostSteps),
		ToDo: "cut the record to the site, or compare at fewer places with --every"}
}

// inside returns the stations between which a line runs inside a box, ascending
// and apart. A record may be longer than the earth; what counts is at the site.
func (p *course) inside(area box) [][2]float64 {
	var out [][2]float64
	for i := 1; i < len(p.pts); i++ {
		lo, hi := 0.0, 1.0
		a, d := p.pts[i-1], p.pts[i].Sub(p.pts[i-1])
		// Liang and Barsky, ACM Trans. Graph. 3 (1984): each side cuts off a share.
		for _, s := range [4][2]float64{{-d.E, a.E - area.lo.E}, {d.E, area.hi.E - a.E}, {-d.N, a.N - area.lo.N}, {d.N, area.hi.N - a.N}} {
			switch {
			case s[0] == 0 && s[1] < 0:
				hi = -1
			case s[0] < 0:
				lo = max(lo, s[1]/s[0])
			case s[0] > 0:
				hi = min(hi, s[1]/s[0])
			}
		}
		if lo <= hi {
			length := p.sta[i] - p.sta[i-1]
			out = append(out, [2]float64{p.sta[i-1] + lo*length, p.sta[i-1] + hi*length})
		}
	}
	return merge(out)
}

// merge joins ranges that touch, in ascending order.
func merge(ranges [][2]float64) [][2]float64 {
	slices.SortFunc(ranges, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	var out [][2]float64
	for _, r := range ranges {
		if n := len(out); n > 0 && r[0] <= out[n-1][1]+1e-9 {
			out[n-1][1] = max(out[n-1][1], r[1])
		} else {
			out = append(out, r)
		}
	}
	return out
}

// total is the length of ranges.
func total(ranges [][2]float64) float64 {
	var sum float64
	for _, r := range ranges {
		sum += r[1] - r[0]
	}
	return sum
}

// steps calls a function with the stations 0, step, 2·step, … and the length
// itself, as plane.Every has them, that lie in the ranges, and with those before
// and after each.
func steps(length, step float64, ranges [][2]float64, each func(before, s, after float64)) {
	n := max(1, math.Round(length/step))
	at := func(i float64) float64 {
		switch {
		case i <= 0:
			return 0
		case i >= n:
			return length
		}
		return i * step
	}
	next := 0.0
	for _, r := range ranges {
		for i := max(next, math.Ceil(r[0]/step-1e-9)); i < n && at(i) <= r[1]+1e-9; i++ {
			each(at(i-1), at(i), at(i+1))
			next = i + 1
		}
		if r[1] >= length-1e-9 && next <= n {
			each(at(n-1), length, length)
			next = n + 1
		}
	}
}

// places gives points along a stretch of a record inside an area, two metres
// apart, and how many there would be with those outside.
func (r *record) places(from, to float64, area box) (points []plane.Pt, all float64) {
	const step = 2
	for k := range r.pieces {
		p := &r.pieces[k]
		length := p.length()
		lo, hi := max(from-p.from, 0), min(to-p.from, length)
		if hi < lo {
			continue
		}
		all += max(1, math.Round((hi-lo)/step))
		var ranges [][2]float64
		for _, x := range p.inside(area) {
			if a, b := max(x[0], lo), min(x[1], hi); a <= b {
				ranges = append(ranges, [2]float64{a - lo, b - lo})
			}
		}
		steps(hi-lo, step, ranges, func(_, s, _ float64) {
			at, _ := p.at(lo + s)
			points = append(points, at)
		})
	}
	return points, all
}
