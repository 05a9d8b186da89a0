package report

import (
	"html/template"
	"time"

	"tracemap/internal/svg"
	"tracemap/result"
)

// dayline draws the day on an axis of time: what fixes the receiver had, where
// its log has gaps, and when readings were taken, those without a place apart.
func dayline(m *result.Map) template.HTML {
	from, to := m.Meta.From, m.Meta.To
	stretch := func(t time.Time) {
		if t.IsZero() {
			return
		}
		if from.IsZero() || t.Before(from) {
			from = t
		}
		if to.IsZero() || t.After(to) {
			to = t
		}
	}
	for _, f := range m.Fixes {
		stretch(f.From)
		stretch(f.To)
	}
	for i := range m.Readings {
		stretch(m.Readings[i].UTC)
	}
	span := to.Sub(from).Seconds()
	if from.IsZero() || !(span > 0) || span > 40*86400 {
		return ""
	}
	c := svg.New(sheetWidth, 128, "Fixes and readings along the day")
	x := svg.Axis{Low: 0, High: span, From: left + 40, To: right}
	at := func(t time.Time) float64 { return x.At(t.Sub(from).Seconds()) }
	receiver(c, m, at, x)
	for row, placed := range []bool{true, false} {
		y := 38 + 26*float64(row)
		c.Text(x.From-6, y+13, "end", "small", []string{"readings placed", "not placed"}[row])
		c.Add("rect", "x", x.From, "y", y, "width", x.To-x.From, "height", 20.0, "class", "panel")
		for i := range m.Readings {
			if p := &m.Readings[i]; p.OK == placed && !p.UTC.IsZero() {
				class := "tick"
				if !placed {
					class = "aside"
				}
				c.Line(at(p.UTC), y+3, at(p.UTC), y+17, class)
			}
		}
	}
	hours(c, from, to, at, 88)
	c.Text((x.From+x.To)/2, 122, "middle", "", "Time of "+from.UTC().Format("2 January 2006")+", UTC")
	return template.HTML(c.String())
}

// receiver draws the lane of the receiver's log.
func receiver(c *svg.Canvas, m *result.Map, at func(time.Time) float64, x svg.Axis) {
	const y = 8.0
	c.Text(x.From-6, y+13, "end", "small", "receiver's fix")
	c.Add("rect", "x", x.From, "y", y, "width", x.To-x.From, "height", 20.0, "class", "panel")
	for _, f := range m.Fixes {
		lane(c, at(f.From), at(f.To), y, 20, f.Quality)
	}
	if m.Summary == nil {
		return
	}
	for _, g := range m.Summary.GNSS.Gaps {
		from, err1 := time.Parse(time.RFC3339, g.From)
		to, err2 := time.Parse(time.RFC3339, g.To)
		if err1 != nil || err2 != nil {
			continue
		}
		a, b := at(from), at(to)
		c.Add("rect", "x", a, "y", y-2, "width", max(b-a, 2), "height", 24.0, "class", "gap")
		if b-a > 30 {
			c.Text((a+b)/2, y+14, "middle", "small", "gap")
		}
	}
}

// hours writes the axis of time at round minutes or hours.
func hours(c *svg.Canvas, from, to time.Time, at func(time.Time) float64, y float64) {
	step := 24 * time.Hour
	for _, s := range []time.Duration{time.Second, 10 * time.Second, time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour} {
		if to.Sub(from) <= 9*s {
			step = s
			break
		}
	}
	layout := "15:04"
	switch {
	case step < time.Minute:
		layout = "15:04:05"
	case step >= 24*time.Hour:
		layout = "2 Jan"
	}
	for t := from.UTC().Truncate(step); !t.After(to); t = t.Add(step) {
		if t.Before(from) {
			continue
		}
		c.Line(at(t), y, at(t), y+5, "frame")
		c.Text(at(t), y+18, "middle", "small", t.Format(layout))
	}
}
