// Package invented makes maps by hand for the tests of the writers: lines with
// a bend, in parts, closed to a ring; points, events, readings without a place,
// rows that could not be read. Nothing here comes from a real site: the default
// place lies in the Atlantic.
package invented

import (
	"fmt"
	"math"
	"time"

	"tracemap/fuse"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
	"tracemap/result"
)

// Atlantic is the place of an ordinary invented day.
var Atlantic = geodesy.Geo{Lat: 45.25, Lon: -27.5, H: 62}

var (
	start = time.Date(2031, 5, 6, 7, 30, 0, 0, time.UTC)
	nan   = math.NaN()
)

// A day in the making.
type day struct {
	m   *result.Map
	row int
}

// Day is a map of four lines about an origin.
func Day(origin geodesy.Geo) *result.Map {
	d := &day{m: Empty(origin), row: 1}
	d.water()
	d.gas()
	d.electric()
	d.ring()
	d.points()
	d.lost()
	d.finish()
	return d.m
}

// Empty is a map with nothing on it.
func Empty(origin geodesy.Geo) *result.Map {
	return &result.Map{
		Meta: result.Meta{
			Tool: "tracemap 0.0.0", Title: "Invented day", Job: "J-17 <north yard> & more", Operator: "Ågot Example",
			Instrument: "invented locator 1", Note: `said "twice", then left`, Frame: "ITRF2020", Scheme: "none",
			Source: "rover.nmea, readings.csv", From: start, To: start.Add(2 * time.Hour),
		},
		Place: geodesy.NewLocal(origin),
		Summary: &result.Summary{
			Tool: "tracemap 0.0.0",
			Inputs: []result.Input{
				{File: "rover.nmea", SHA256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08", Kind: "nmea", Rows: 28800},
				{File: "readings.csv", SHA256: "60303ae22b998861bce3b28f33eec1be758a213c86c93c076dbe9f558c11c752", Kind: "readings", Rows: 0},
			},
			GNSS: result.GNSS{
				Sentences: map[string]int{"GGA": 7200, "RMC": 7200, "GST": 7200, "GSA": 7200}, BadChecksum: 3, Malformed: 1, Epochs: 7100,
				From: "2031-05-06T07:30:00Z", To: "2031-05-06T09:30:00Z",
				Fix:  map[string]int{"rtk_fixed": 6400, "rtk_float": 580, "autonomous": 120},
				Gaps: []result.GapSummary{{From: "2031-05-06T08:41:10Z", To: "2031-05-06T08:42:50Z", Seconds: 100}},
			},
			Warnings: []string{"antenna height not given: 2.0 m assumed"},
		},
	}
}

func (d *day) water() {
	vs := d.vertices([]plane.Pt{{E: 0, N: 0}, {E: 21, N: 0.4}, {E: 42, N: 0.8}, {E: 41.6, N: 16}, {E: 41.2, N: 34}},
		func(s float64) (depth, sigma, sigmaDepth, current float64) {
			return 1.25 + 0.15*math.Sin(s/14), 0.055 + 0.02*math.Sin(s/9)*math.Sin(s/9), 0.045 + 0.012*s/76, 92 * math.Exp(-s/300)
		})
	vs[2].Flags |= remarks.CornerInferred
	for i := range vs {
		vs[i].Diameter = 0.168
	}
	line := fuse.Line{ID: "W-1", Utility: "water", Method: readings.Direct, Frequency: 8192, Parts: []fuse.Part{d.part(1, vs, false)}}
	d.follow(&line, 0, 2.2)
	d.m.Lines = append(d.m.Lines, line)
}

func (d *day) gas() {
	vs := d.vertices([]plane.Pt{{E: -4, N: 12}, {E: 12, N: 13}, {E: 25, N: 12}},
		func(s float64) (depth, sigma, sigmaDepth, current float64) {
			return nan, 0.16, nan, 24 * math.Exp(-s/90)
		})
	for i := range vs {
		vs[i].Quality = nmea.QualityRTKFloat
		vs[i].Flags |= remarks.FloatFix | remarks.DepthMissing
	}
	alone := d.vertices([]plane.Pt{{E: 52, N: 11}}, func(float64) (float64, float64, float64, float64) { return 0.9, 0.2, 0.06, 19 })
	line := fuse.Line{ID: "Gas <main> & Söhne", Utility: "gas", Method: readings.Induction, Frequency: 32768,
		Parts: []fuse.Part{d.part(1, vs, false), d.part(2, alone, false)}, Flags: remarks.Gap}
	line.Parts[0].Flags |= remarks.DepthMissing
	line.Parts[1].Flags |= remarks.SinglePoint
	d.follow(&line, 0, 3)
	d.follow(&line, 1, 3)
	d.m.Lines = append(d.m.Lines, line)
}

func (d *day) electric() {
	vs := d.vertices([]plane.Pt{{E: 3, N: -8}, {E: 12, N: -7}, {E: 22, N: -8.5}, {E: 31, N: -12}, {E: 45, N: -20}},
		func(s float64) (depth, sigma, sigmaDepth, current float64) {
			c := 60.0
			if s > 24 {
				c = 38
			}
			return 0.75 + 0.004*s, 0.06 + 0.25*math.Exp(-(s-30)*(s-30)/40), 0.03, c
		})
	vs[3].Flags |= remarks.Distorted
	line := fuse.Line{ID: "=1+2 Straße Ø東", Utility: "electric", Method: readings.Direct, Frequency: 640, Parts: []fuse.Part{d.part(1, vs, false)}}
	line.Events = []fuse.Event{
		{Kind: remarks.CurrentStep, LineID: line.ID, Part: 1, Station: 24, At: plane.Pt{E: 26.5, N: -10.2}, Geo: d.m.Place.Inverse(plane.Pt{E: 26.5, N: -10.2}), Before: 60, After: 38, Text: "current falls from 60 to 38 mA"},
		{Kind: remarks.Distorted, LineID: line.ID, Part: 1, Station: 30, At: plane.Pt{E: 31, N: -12}, Geo: d.m.Place.Inverse(plane.Pt{E: 31, N: -12}), Before: nan, After: nan, Text: "readings scatter"},
	}
	d.follow(&line, 0, 1.8)
	d.m.Lines = append(d.m.Lines, line)
}

// ring is a line closed to itself: its corridor has a hole.
func (d *day) ring() {
	var pts []plane.Pt
	for i := 0; i <= 24; i++ {
		a := 2 * math.Pi * float64(i%24) / 24
		pts = append(pts, plane.Pt{E: 70 + 9*math.Cos(a), N: 8 + 9*math.Sin(a)})
	}
	vs := d.vertices(pts, func(s float64) (depth, sigma, sigmaDepth, current float64) { return 0.6, 0.09, 0.05, 11 })
	line := fuse.Line{ID: "ring", Utility: "communications", Method: readings.Passive, Frequency: 50, Parts: []fuse.Part{d.part(1, vs, true)}}
	d.follow(&line, 0, 4)
	d.m.Lines = append(d.m.Lines, line)
}

// vertices makes a part's vertices on a sloping ground.
func (d *day) vertices(pts []plane.Pt, at func(s float64) (depth, sigma, sigmaDepth, current float64)) []fuse.Vertex {
	var out []fuse.Vertex
	station := 0.0
	for i, p := range pts {
		if i > 0 {
			station += p.Dist(pts[i-1])
		}
		v := fuse.Vertex{Station: station, At: p, Ground: d.ground(p), SigmaH: 0.02, Diameter: nan, Quality: nmea.QualityRTKFixed}
		v.Depth, v.Sigma, v.SigmaDepth, v.Current = at(station)
		out = append(out, v)
	}
	return out
}

// ground is the surface: a plane that rises to the east.
func (d *day) ground(p plane.Pt) geodesy.Geo {
	g := d.m.Place.Inverse(p)
	g.H = d.m.Place.Origin().H + 0.02*p.E
	return g
}

func (d *day) part(number int, vs []fuse.Vertex, closed bool) fuse.Part {
	p := fuse.Part{Number: number, Vertices: vs, From: start.Add(time.Duration(d.row) * 20 * time.Second)}
	p.Corridor = [][][]plane.Pt{outline(vs, closed)}
	return p
}

// follow lays readings along a part, a step apart, with a scatter that repeats.
func (d *day) follow(line *fuse.Line, part int, step float64) {
	p := &line.Parts[part]
	for s, k := 0.0, 0; s <= p.Length(); s, k = s+step, k+1 {
		at, v := along(p.Vertices, s)
		off := v.Sigma * 0.9 * scatter(d.row)
		r := d.reading(line)
		r.Depth = v.Depth + v.SigmaDepth*scatter(d.row+57)
		r.Current = v.Current * (1 + 0.03*scatter(d.row+91))
		placed := fuse.Placed{Reading: r, OK: true, At: at, Quality: v.Quality, LineID: line.ID, Part: p.Number, Station: s, Offset: off, Used: true, Radius: v.Sigma * 1.1}
		placed.UTC = r.Time.Add(-37 * time.Second)
		if k == 7 {
			placed.Used, placed.Flags = false, remarks.NeighbourLock
			placed.Offset, placed.At, r.Depth = off+0.55, at.Add(plane.Pt{N: 0.55}), r.Depth*1.5
		}
		placed.Geo = d.ground(placed.At)
		d.m.Readings = append(d.m.Readings, placed)
		p.Readings++
		p.To = placed.UTC
	}
}

// scatter is a repeatable number with about the spread of a normal one.
func scatter(k int) float64 {
	x := math.Sin(float64(k)*12.9898) * 43758.5453
	y := math.Sin(float64(k)*78.233) * 12543.123
	return (x - math.Floor(x) + y - math.Floor(y) - 1) * 2.4
}

func (d *day) reading(line *fuse.Line) *readings.Reading {
	d.row++
	r := blank(d.row)
	r.Time = start.Add(time.Duration(d.row)*20*time.Second + 37*time.Second)
	r.Line, r.Utility, r.Method, r.Response, r.Frequency = line.ID, line.Utility, line.Method, readings.Peak, line.Frequency
	return r
}

func blank(row int) *readings.Reading {
	return &readings.Reading{File: "readings.csv", Row: row, Frequency: nan, Depth: nan, Current: nan, Signal: nan, Gain: nan, Compass: nan,
		NullOffset: nan, BottomCoil: nan, TopCoil: nan, CoilSpacing: nan, CoilDepth: nan, CoilCurrent: nan, Diameter: nan, MeasuredDepth: nan,
		Lat: nan, Lon: nan, HDOP: nan}
}

func (d *day) points() {
	for i, f := range []string{"valve", "pothole", "marker"} {
		r := d.reading(&d.m.Lines[0])
		r.Feature, r.Note = f, fmt.Sprintf("number %d, \"quoted\"\nsecond line", i+1)
		if f == "pothole" {
			r.MeasuredDepth = 1.31
		}
		at := plane.Pt{E: 8 + 12*float64(i), N: 0.2 * float64(i)}
		p := fuse.Placed{Reading: r, OK: true, UTC: r.Time.Add(-37 * time.Second), At: at, Geo: d.ground(at), Quality: nmea.QualityRTKFixed, Radius: 0.03, Station: at.E, Offset: -0.02}
		if f == "marker" { // stands alone
			p.At = plane.Pt{E: 60, N: -15}
			p.Geo, p.Station, p.Offset = d.ground(p.At), nan, nan
		}
		d.m.Readings = append(d.m.Readings, p)
	}
}

// lost adds what has no place, and what could not be read.
func (d *day) lost() {
	for i, f := range []remarks.Set{remarks.NoFix, remarks.OutsideLog, remarks.TimeMissing} {
		r := d.reading(&d.m.Lines[i])
		p := fuse.Placed{Reading: r, UTC: r.Time.Add(-37 * time.Second), LineID: r.Line, Flags: f, Station: nan, Offset: nan, Radius: nan}
		p.Geo = geodesy.Geo{Lat: nan, Lon: nan, H: nan}
		if f == remarks.TimeMissing {
			r.Time, p.UTC, r.Flags, p.Flags = time.Time{}, time.Time{}, remarks.TimeMissing, 0
		}
		d.m.Readings = append(d.m.Readings, p)
	}
	d.m.Aside = []readings.SetAside{
		{File: "readings.csv", Row: 5, Column: "depth_m", Found: "1..2", Reason: "not a number"},
		{File: "readings.csv", Row: d.row + 1, Reason: "3 fields where the header has 9"},
	}
}
