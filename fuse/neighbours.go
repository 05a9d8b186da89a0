package fuse

import (
	"cmp"
	"math"
	"slices"

	"tracemap/geodesy/plane"
)

// A neighbour is another line abreast of a point of a course.
type neighbour struct {
	group  int
	across float64 // m to the left
	depth  float64 // m
	cos    float64 // of the angle between the two
}

// neighbours are those of one point, in the order of their groups.
type neighbours []neighbour

// same reports whether the same lines run beside two points.
func (n neighbours) same(o neighbours) bool {
	return slices.EqualFunc(n, o, func(a, b neighbour) bool { return a.group == b.group })
}

// A surroundings finds the courses near a place.
type surroundings struct {
	courses []*course
	index   *plane.Index
}

func newSurroundings(courses []*course) *surroundings {
	lines := make([]plane.Polyline, len(courses))
	for k, c := range courses {
		if c != nil {
			for i := range c.points {
				lines[k] = append(lines[k], c.points[i].at)
			}
		}
	}
	return &surroundings{courses, plane.NewIndex(lines...)}
}

// beside gives, for each point of a course, the lines that run beside it.
func (s *surroundings) beside(c *course) []neighbours {
	all := make([]neighbours, len(c.points))
	for i := range c.points {
		all[i] = s.abreast(&c.points[i], c.group)
	}
	return c.running(all)
}

// abreast gives the lines within reach of a point that go about the same way, each at
// its nearest place; the nearest mostBeside of them.
func (s *surroundings) abreast(p *coursePoint, own int) neighbours {
	var out neighbours
	for _, h := range s.index.Near(p.at, besideReach*p.depth) {
		o := s.courses[h.Line]
		q := &o.points[min(h.Seg+int(math.Round(h.T)), len(o.points)-1)]
		cos := q.along.Dot(p.along) // which way a line is drawn says nothing of its current
		known := slices.ContainsFunc(out, func(n neighbour) bool { return n.group == o.group })
		away := h.At.Sub(p.at)
		// A line goes on a little beyond its last reading.
		ended := h.Beyond() && math.Abs(away.Dot(q.along)) > p.depth
		if o.group == own || known || ended || math.Abs(cos) < besideCos || len(out) == mostBeside {
			continue
		}
		across := away.Dot(q.along.Left())
		if cos < 0 {
			across = -across
		}
		out = append(out, neighbour{o.group, across, q.depth, math.Abs(cos)})
	}
	slices.SortFunc(out, func(a, b neighbour) int { return cmp.Compare(a.group, b.group) })
	return out
}

// running keeps of the lines abreast of each point those that stay so for some depths:
// the others only come near.
func (c *course) running(all []neighbours) []neighbours {
	out := make([]neighbours, len(all))
	stays := func(i int, n neighbour) bool {
		return i >= 0 && i < len(all) && slices.ContainsFunc(all[i], func(o neighbour) bool {
			return o.group == n.group
		})
	}
	for i := range all {
		most := int(math.Ceil(besideRun * c.points[i].depth / c.step))
		for _, n := range all[i] {
			run := 0
			for k := i - 1; run < most && stays(k, n); k-- {
				run++
			}
			for k := i + 1; run < most && stays(k, n); k++ {
				run++
			}
			if run >= most {
				out[i] = append(out[i], n)
			}
		}
	}
	return out
}
