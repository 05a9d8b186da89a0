package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"

	"tracemap/fuse/clock"
	"tracemap/internal/svg"
	"tracemap/present"
	"tracemap/result"
)

// evidence draws how well each offset of the locator's clock explains the day:
// the whole search on the left, what lies about the best on the right.
func evidence(r *clock.Result) template.HTML {
	if r == nil || len(r.Evidence) < 3 {
		return ""
	}
	var all []clock.Candidate
	for _, e := range r.Evidence {
		if !math.IsNaN(e.LogLikelihood) && !math.IsInf(e.Offset, 0) && !math.IsNaN(e.Offset) {
			all = append(all, e)
		}
	}
	if len(all) < 3 {
		return ""
	}
	low, high := all[0].Offset, all[len(all)-1].Offset
	c := svg.New(sheetWidth, 190, "How well each clock offset explains the day")
	near := 60.0
	if r.Sigma == r.Sigma {
		near = min(max(12*r.Sigma, 20), 600)
	}
	if high-low < 4*near {
		curve(c, all, r, low, high, left, right, "all offsets searched")
		return template.HTML(c.String())
	}
	const middle = (left + right) / 2
	curve(c, all, r, low, high, left, middle-24, "all offsets searched")
	curve(c, all, r, r.Offset-near, r.Offset+near, middle+24, right, "about the best")
	return template.HTML(c.String())
}

// floor is the lowest support drawn: e⁻²⁰ is as good as impossible.
const floor = -20.0

func curve(c *svg.Canvas, all []clock.Candidate, r *clock.Result, low, high, from, to float64, title string) {
	const top, bottom = 22.0, 140.0
	unit, name := 1.0, "s"
	if high-low > 4*3600 {
		unit, name = 3600, "h"
	} else if high-low > 600 {
		unit, name = 60, "min"
	}
	x := svg.Axis{Low: low / unit, High: high / unit, From: from, To: to}
	y := svg.Axis{Low: floor, High: 1, From: bottom, To: top}
	c.Text(from, 13, "start", "h", title)
	c.Add("rect", "x", from, "y", top, "width", to-from, "height", bottom-top, "class", "panel")
	for _, v := range []float64{0, -10, -20} {
		c.Line(from, y.At(v), to, y.At(v), "grid")
		c.Text(from-4, y.At(v)+4, "end", "small", svg.Label(v, 1))
	}
	ticks, step := x.Ticks(6)
	for _, v := range ticks {
		c.Line(x.At(v), bottom, x.At(v), bottom+4, "frame")
		c.Text(x.At(v), bottom+16, "middle", "small", svg.Label(v, step))
	}
	c.Text((from+to)/2, bottom+32, "middle", "small", "locator's clock minus UTC, "+name)
	var points []svg.Point
	for _, e := range all {
		if e.Offset >= low && e.Offset <= high {
			points = append(points, svg.Point{X: x.At(e.Offset / unit), Y: y.At(max(e.LogLikelihood, floor))})
		}
	}
	c.Add("path", "d", svg.Path(points), "class", "fit")
	for _, m := range []struct {
		offset float64
		class  string
		text   string
		line   float64
	}{{r.Offset, "best", "chosen", 0}, {r.RunnerUp, "event", "runner-up", 13}} {
		if px := x.At(m.offset / unit); m.offset >= low && m.offset <= high {
			c.Line(px, top, px, bottom, m.class)
			anchor, dx := "start", 5.0
			if px > to-70 || m.class == "best" && r.RunnerUp > r.Offset && px > from+50 {
				anchor, dx = "end", -5
			}
			c.Text(px+dx, top+42+m.line*1.2, anchor, "small halo", m.text)
		}
	}
}

// clockWords say how the locator's clock was tied to UTC.
func clockWords(r *clock.Result) []string {
	if r == nil {
		return nil
	}
	var out []string
	how := map[string]string{
		"given": "the offset was given", "none": "the locator's clock was trusted as it is",
		"positions": "from positions in the readings log", "marks": "from sync marks",
	}[r.Method]
	if how == "" && r.Method != "" {
		how = "estimated from " + strings.ReplaceAll(r.Method, "+", " and ")
	}
	if len(r.Several) > 0 {
		out = append(out, "The readings were taken on more than one clock. What follows the list is about the first of them:")
		for _, text := range result.ClockList(r) {
			out = append(out, text+".")
		}
	}
	if present.Known(r.Offset) {
		text := fmt.Sprintf("The locator's clock was %s UTC", ahead(r.Offset))
		if present.Known(r.Sigma) {
			text += fmt.Sprintf(", 95 %% within ± %s", seconds(present.Depth95(r.Sigma)))
		}
		if how != "" {
			text += "; " + how
		}
		out = append(out, text+".")
	}
	if r.Drift != 0 && present.Known(r.Drift) {
		out = append(out, fmt.Sprintf("It drifted by %.1f parts per million, %.2f s a day.", r.Drift, math.Abs(r.Drift)*0.0864))
	}
	switch {
	case r.State == clock.Unknown && !r.Determined:
		out = append(out, "More than one offset fits this day. The widths include that.")
	case r.State == clock.Estimated:
		out = append(out, "Only one offset fits this day, but not to the second. The widths include that.")
	case present.Known(r.RunnerUp):
		out = append(out, fmt.Sprintf("The next best offset, %s, explains the day less well.", seconds(r.RunnerUp)))
	}
	if r.Advice != "" {
		out = append(out, sentence(r.Advice))
	}
	return out
}

func ahead(offset float64) string {
	switch {
	case math.Abs(offset) < 0.0005:
		return "equal to"
	case offset > 0:
		return seconds(offset) + " ahead of"
	}
	return seconds(-offset) + " behind"
}

// seconds writes a time span: "0.42 s", "2 min 3.5 s", "1 h 0 min 37 s".
func seconds(s float64) string {
	sign := ""
	if s < 0 {
		sign, s = "−", -s
	}
	switch {
	case s < 10:
		return fmt.Sprintf("%s%.2f s", sign, s)
	case s < 90:
		return fmt.Sprintf("%s%.1f s", sign, s)
	case s < 3600:
		return fmt.Sprintf("%s%.0f min %.1f s", sign, math.Floor(s/60), math.Mod(s, 60))
	}
	d := time.Duration(s * float64(time.Second)).Round(time.Second)
	return fmt.Sprintf("%s%d h %d min %d s", sign, int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60)
}
