package compare

import (
	"fmt"
	"html/template"
	"math"

	"tracemap/internal/svg"
	"tracemap/present"
)

// shiftView says what was found of a displacement common to all.
func (r *Result) shiftView(u unit) *shiftView {
	s := &r.Shift
	v := &shiftView{Sure: s.Significant, Causes: s.Causes}
	switch {
	case s.Significant:
		v.Sentence = fmt.Sprintf("%s In the middle that is %s east and %s north, with a σ of %s: %d of %d lines are explained by that alone. This is how a mix-up of coordinate systems looks, not how pipes move.",
			s.words(u), u.signed(s.East), u.signed(s.North), u.small(s.Sigma), s.Agreeing, s.Pairs)
		if s.Across {
			v.Sentence += " The lines run one way only: a displacement along them would not show."
		}
		v.CauseHead = "What has this size and direction here"
		v.Picture = template.HTML(s.picture(u))
	default:
		v.Sentence = s.words(u)
	}
	return v
}

// picture draws the displacement as an arrow from the record, with its 95 %
// circle, on a grid whose step is a round length.
func (s *Shift) picture(u unit) string {
	const size = 200.0
	factor, symbol := present.Units{Imperial: u.imperial}.Scale()
	reach := (s.size() + 2.448*s.Sigma) * factor * 1.15
	step := svg.Step(reach, 3)
	scale := (size/2 - 16) / max(reach, step)
	c := svg.New(size, size, "The common displacement")
	mid := size / 2
	for k := step; k <= reach; k += step {
		c.Add("circle", "cx", mid, "cy", mid, "r", k*scale, "class", "grid")
		c.Text(mid+3, mid-k*scale-2, "start", "small halo", svg.Label(k, step)+" "+symbol)
	}
	c.Line(mid, 8, mid, size-8, "grid")
	c.Line(8, mid, size-8, mid, "grid")
	x, y := mid+s.East*factor*scale, mid-s.North*factor*scale
	c.Add("circle", "cx", x, "cy", y, "r", 2.448*s.Sigma*factor*scale, "class", "circle95")
	c.Line(mid, mid, x, y, "arrow")
	a := math.Atan2(y-mid, x-mid)
	head := func(turn, length float64) svg.Point {
		return svg.Point{X: x - length*math.Cos(a+turn), Y: y - length*math.Sin(a+turn)}
	}
	c.Add("path", "d", svg.Path([]svg.Point{{X: x, Y: y}, head(0.45, 11), head(-0.45, 11)})+"Z", "class", "north")
	c.Text(mid+4, 14, "start", "small strong halo", "N")
	return c.String()
}
