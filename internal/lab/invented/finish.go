package invented

import (
	"math"
	"time"

	"tracemap/fuse"
	"tracemap/fuse/clock"
	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/remarks"
	"tracemap/result"
)

// finish makes room for the row set aside, ties the points to the readings, and
// counts.
func (d *day) finish() {
	m := d.m
	counts := result.ReadingCounts{Total: len(m.Readings) + len(m.Aside), Malformed: len(m.Aside), ByFlag: map[string]int{"bad_row": len(m.Aside)}}
	for i := range m.Readings {
		p := &m.Readings[i]
		if p.Reading.Row >= 5 {
			p.Reading.Row++ // row 5 could not be read
		}
		if p.OK {
			counts.Placed++
		}
		for _, name := range (p.Flags | p.Reading.Flags).Names() {
			counts.ByFlag[name]++
		}
		if p.Reading.Feature != "" {
			point := fuse.Point{Placed: p}
			if p.Reading.Feature != "marker" {
				point.LineID, point.Part = "W-1", 1
			}
			m.Points = append(m.Points, point)
		}
	}
	m.Aside[1].Row++
	counts.Unplaced = counts.Total - counts.Placed
	m.Summary.Readings = counts
	m.Summary.Inputs[1].Rows = counts.Total
	d.clock()
	d.geoid()
	m.Summary.Frame = &result.FrameSummary{Given: true, From: "NAD83(2011)", To: "ITRF2020", Epoch: 2031.3429, Shift: result.Shift{East: 1.0402, North: 1.6391, Up: -0.6281}}
	for _, f := range []struct {
		from, to int // minutes
		q        nmea.Quality
	}{{0, 2, nmea.QualityAutonomous}, {2, 10, nmea.QualityRTKFloat}, {10, 71, nmea.QualityRTKFixed}, {73, 120, nmea.QualityRTKFixed}} {
		m.Fixes = append(m.Fixes, result.FixSpan{From: start.Add(time.Duration(f.from) * time.Minute), To: start.Add(time.Duration(f.to) * time.Minute), Quality: f.q})
	}
	m.Revisit = []result.Revisit{
		{LineID: "W-1", Station: 31, Geo: d.ground(plane.Pt{E: 31, N: 0.6}), Reason: "neighbour lock", Advice: "Locate again from a direct connection.", Worth: 3},
		{LineID: "Gas <main> & Söhne", Station: 12, Geo: d.ground(plane.Pt{E: 8, N: 12.8}), Reason: "depth missing", Advice: "Read the depth.", Worth: 2},
		{LineID: "=1+2 Straße Ø東", Station: 24, Geo: d.ground(plane.Pt{E: 26.5, N: -10.2}), Reason: "branch suspected", Advice: "Search for a branch to either side.", Worth: 1},
	}
}

// geoid lies 55 m above the ellipsoid and rises to the north; the receiver did
// not tell it for one reading.
func (d *day) geoid() {
	m := d.m
	at := func(p plane.Pt) float64 { return 55 + 0.0001*p.N }
	m.Geoid = &result.Geoid{Vertices: map[*fuse.Part][]float64{}}
	for i := range m.Readings {
		m.Geoid.Readings = append(m.Geoid.Readings, at(m.Readings[i].At))
	}
	m.Geoid.Readings[3] = nan
	for i := range m.Lines {
		for j := range m.Lines[i].Parts {
			p := &m.Lines[i].Parts[j]
			for _, v := range p.Vertices {
				m.Geoid.Vertices[p] = append(m.Geoid.Vertices[p], at(v.At))
			}
		}
	}
}

func (d *day) clock() {
	runnerUp := 44.5
	r := &clock.Result{Offset: 37, Drift: 3.2, Ref: start, Sigma: 0.31, Method: "stops+passes", State: clock.Known, Determined: true, RunnerUp: runnerUp}
	for k := -30; k <= 60; k++ {
		t := 7 + float64(k)
		l := math.Log(math.Exp(-(t-37)*(t-37)/2)+math.Exp(-9-(t-44.5)*(t-44.5)/2)+math.Exp(-14)) + 0.2*(scatter(k+200)-1)
		if k == 30 {
			l = 0
		}
		r.Evidence = append(r.Evidence, clock.Candidate{Offset: t, LogLikelihood: min(l, 0)})
	}
	d.m.Clock = r
	d.m.Summary.Clock = result.ClockSummary{Offset: r.Offset, Sigma: r.Sigma, Drift: r.Drift, Method: r.Method, State: r.State.String(), Determined: true, RunnerUp: &runnerUp}
}

// along gives the place and the values at a station.
func along(vs []fuse.Vertex, s float64) (plane.Pt, fuse.Vertex) {
	for i := 1; i < len(vs); i++ {
		if a, b := vs[i-1], vs[i]; s <= b.Station {
			t := (s - a.Station) / (b.Station - a.Station)
			mix := func(x, y float64) float64 { return x + t*(y-x) }
			v := a
			v.Depth, v.Sigma, v.SigmaDepth, v.Current = mix(a.Depth, b.Depth), mix(a.Sigma, b.Sigma), mix(a.SigmaDepth, b.SigmaDepth), mix(a.Current, b.Current)
			return a.At.Lerp(b.At, t), v
		}
	}
	return vs[len(vs)-1].At, vs[len(vs)-1]
}

// outline draws the 95 % corridor of a part that bends gently or squarely: both
// sides with mitred corners; a disc about a single reading; two rings about a
// closed line.
func outline(vs []fuse.Vertex, closed bool) [][]plane.Pt {
	if len(vs) == 1 {
		var disc []plane.Pt
		for i := 0; i <= 32; i++ {
			a := 2 * math.Pi * float64(i%32) / 32
			disc = append(disc, vs[0].At.Add(plane.Pt{E: math.Cos(a), N: math.Sin(a)}.Mul(1.96*vs[0].Sigma)))
		}
		return [][]plane.Pt{disc}
	}
	var left, right []plane.Pt
	last := len(vs) - 1
	for i := range vs {
		before, at, after := max(i-1, 0), i, min(i+1, last)
		if closed { // the last vertex is the first one again
			before, at, after = (i+last-1)%last, i%last, (i+1)%last
		}
		corner := mitre(vs, before, at, after).Mul(1.96 * vs[i].Sigma)
		left, right = append(left, vs[i].At.Add(corner)), append(right, vs[i].At.Sub(corner))
	}
	if closed { // drawn counter-clockwise: right is outside
		return [][]plane.Pt{right, reversed(left)}
	}
	ring := append(append([]plane.Pt{}, right...), reversed(left)...)
	return [][]plane.Pt{append(ring, ring[0])}
}

// mitre is the vector to the left corner at vertex i per metre of half-width.
func mitre(vs []fuse.Vertex, before, i, after int) plane.Pt {
	in, out := vs[i].At.Sub(vs[before].At).Unit(), vs[after].At.Sub(vs[i].At).Unit()
	if before == i {
		in = out
	}
	if after == i {
		out = in
	}
	middle := in.Add(out).Unit().Left()
	return middle.Mul(1 / middle.Dot(in.Left()))
}

func reversed(ps []plane.Pt) []plane.Pt {
	out := make([]plane.Pt, len(ps))
	for i, p := range ps {
		out[len(ps)-1-i] = p
	}
	return out
}

// Bad holds every number that is missing or odd, on one line with two vertices.
func Bad() *result.Map {
	m := Empty(Atlantic)
	d := &day{m: m, row: 1}
	vs := d.vertices([]plane.Pt{{E: 0, N: 0}, {E: 5, N: 0}}, func(float64) (float64, float64, float64, float64) { return nan, 0.1, math.Inf(1), nan })
	for i := range vs {
		vs[i].Ground.H, vs[i].SigmaH = nan, nan
	}
	m.Lines = []fuse.Line{{ID: "", Frequency: nan, Parts: []fuse.Part{d.part(1, vs, false)}, Flags: remarks.TwoPoints}}
	r := blank(2)
	m.Readings = []fuse.Placed{{Reading: r, OK: true, Geo: geodesy.Geo{Lat: 45, Lon: -27, H: nan}, Radius: nan, Station: nan, Offset: nan}}
	m.Clock = &clock.Result{Offset: nan, Sigma: math.Inf(1), RunnerUp: nan, Method: "none", Advice: "Note the locator's clock against UTC."}
	m.Summary.Clock = result.ClockSummary{Offset: nan, Sigma: math.Inf(1), RunnerUp: &m.Clock.RunnerUp}
	m.Meta = result.Meta{}
	return m
}
