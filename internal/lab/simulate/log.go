package simulate

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
)

// A column of the readings log. Columns whose test is not met are left out.
type column struct {
	name string
	want func(s *Scenario) bool
	cell func(d *Day, r *Reading) string
}

func always(*Scenario) bool { return true }

// number writes a value with decimals; blank when it was not read.
func number(v float64, decimals int) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

// ofLine gives a cell that only readings on a line have.
func ofLine(f func(l *Line) string) func(*Day, *Reading) string {
	return func(_ *Day, r *Reading) string {
		if r.Line == nil {
			return ""
		}
		return f(r.Line)
	}
}

// measured gives a cell that features do not have.
func measured(f func(l *Line) string) func(*Day, *Reading) string {
	return func(_ *Day, r *Reading) string {
		if r.Line == nil || r.Feature != "" {
			return ""
		}
		return f(r.Line)
	}
}

var columns = []column{
	{"time", always, func(d *Day, r *Reading) string { return d.stampText(r) }},
	{"instrument", func(s *Scenario) bool { return s.Second != nil }, func(d *Day, r *Reading) string {
		if d.bySecond(r) {
			return "B"
		}
		return "A"
	}},
	{"line", func(s *Scenario) bool { return !s.Log.NoLine }, ofLine(func(l *Line) string { return l.ID })},
	{"utility", always, ofLine(func(l *Line) string { return l.Utility })},
	{"method", always, measured(func(l *Line) string { return l.Method })},
	{"response", always, measured(func(l *Line) string { return l.Coil.response() })},
	{"frequency_hz", always, measured(func(l *Line) string { return number(l.Frequency, 0) })},
	{"depth_m", always, func(_ *Day, r *Reading) string { return number(r.DepthRead, 3) }},
	{"current_ma", always, func(_ *Day, r *Reading) string { return number(r.CurrentRead, 1) }},
	{"signal_pct", always, func(_ *Day, r *Reading) string { return number(r.Signal, 0) }},
	{"gain_db", always, func(_ *Day, r *Reading) string { return number(r.Gain, 0) }},
	{"compass_deg", always, func(_ *Day, r *Reading) string { return number(r.Compass, 0) }},
	{"null_offset_m", func(s *Scenario) bool { return s.Log.NullOffsets }, func(_ *Day, r *Reading) string { return number(r.NullOffset, 3) }},
	{"bottom_coil", coils, func(_ *Day, r *Reading) string { return number(r.Bottom, 4) }},
	{"top_coil", coils, func(_ *Day, r *Reading) string { return number(r.Top, 4) }},
	{"coil_spacing_m", coils, func(d *Day, r *Reading) string {
		if math.IsNaN(r.Bottom) {
			return ""
		}
		return number(d.Scenario.Locate.CoilSpacing, 2)
	}},
	{"diameter_mm", always, ofLine(func(l *Line) string {
		if l.Diameter == 0 {
			return ""
		}
		return number(1000*l.Diameter, 0)
	})},
	{"feature", always, func(_ *Day, r *Reading) string { return r.Feature }},
	{"measured_depth_m", func(s *Scenario) bool { return s.Work.Potholes > 0 }, func(_ *Day, r *Reading) string { return number(r.Measured, 3) }},
	{"lat", own, func(_ *Day, r *Reading) string { return number(r.Own.Lat, 9) }},
	{"lon", own, func(_ *Day, r *Reading) string { return number(r.Own.Lon, 9) }},
	{"hdop", own, func(_ *Day, r *Reading) string { return number(r.OwnHDOP, 2) }},
	{"fix", own, func(_ *Day, r *Reading) string { return r.OwnFix }},
	{"note", always, func(_ *Day, r *Reading) string { return r.Note }},
}

func coils(s *Scenario) bool { return s.Log.Coils }

func own(s *Scenario) bool { return s.Log.Own != OwnNone }

func (c Coil) response() string {
	switch c {
	case Vertical:
		return "null"
	case Total:
		return "omni"
	case Single:
		return "single"
	}
	return "peak"
}

func (d *Day) stampText(r *Reading) string {
	layout := "2006-01-02T15:04:05.000Z07:00"
	if d.Scenario.Log.Local {
		layout = "2006-01-02 15:04:05.000"
	}
	if d.Scenario.Clock.Step >= 1 {
		layout = layout[:19] + layout[23:]
	}
	return d.Stamp(r).Format(layout)
}

// WriteReadings writes the locator's log: CSV with a header, a row a reading,
// times on the locator's clock.
func (d *Day) WriteReadings(w io.Writer) error {
	out := csv.NewWriter(w)
	var used []column
	var row []string
	for _, c := range columns {
		if c.want(&d.Scenario) {
			used = append(used, c)
			row = append(row, c.name)
		}
	}
	out.Write(row)
	for _, r := range d.Readings {
		for i, c := range used {
			row[i] = c.cell(d, r)
		}
		out.Write(row)
	}
	out.Flush()
	return out.Error()
}
